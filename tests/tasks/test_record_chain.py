"""Target, table, strips and verdict through simulated film, paper and scanner."""

from dataclasses import replace

import numpy as np
import pytest

from negcurve.files.readings_csv import write_readings
from negcurve.files.solution_json import write_solution
from negcurve.response.solving import solve
from negcurve.simulation.setups import demo_set_up
from negcurve.tasks.read import read_scan
from negcurve.tasks.record import AddOptions, add
from negcurve.tasks.record_strip import strip
from negcurve.tasks.simulated import print_file, scan_to_file
from negcurve.tasks.target import make_target


def printed(folder, set_up, name, *, seed):
    """Print and scan a file of the folder, and read the scan."""
    sheet = print_file(set_up, folder / f"{name}.tif", border_mm=8, seed=seed)
    scan = folder / f"{name}-{seed}.tif"
    scan_to_file(set_up, sheet, scan, seed=seed)
    return read_scan(scan, target=folder / f"{name}.tif")


@pytest.mark.slow
def test_strips_of_a_dimmer_lamp_are_told_as_exposure(tmp_path):
    set_up = demo_set_up()
    make_target(tmp_path / "target.tif", sheet="4x5in", margin="6mm", levels=21)
    solution = solve([printed(tmp_path, set_up, "target", seed=1)])
    write_solution(solution, tmp_path / "t.json")
    make_target(tmp_path / "strip.tif", strip=True, table=tmp_path / "t.json")
    folder = tmp_path / "record"
    add(AddOptions(folder=folder, table=tmp_path / "t.json", name="demo"))
    dim = replace(set_up.darkroom, black_share=0.93)
    for seed, lamp in ((2, set_up), (3, set_up), (4, replace(set_up, darkroom=dim))):
        path = tmp_path / f"s{seed}.csv"
        write_readings(printed(tmp_path, lamp, "strip", seed=seed), path)
        result = strip(folder, path, "demo")
        if seed < 4:
            assert result.judgement.kind == "in control"
            np.testing.assert_allclose(result.deviation.parts, 0, atol=0.08)
    assert result.judgement.kind == "exposure"
    assert result.judgement.amount < -0.1
    assert "an ageing lamp" in " ".join(result.judgement.causes)
