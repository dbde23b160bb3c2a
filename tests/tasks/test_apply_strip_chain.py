"""From a negative with its strip to the record's verdict, by the commands a user types.

A picture is applied with `--edge-strip`, printed and scanned in the simulated darkroom,
read, checked and put on record; then the lamp grows dim.
"""

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from typer.testing import CliRunner

from negcurve.cli import app
from negcurve.files.solution_json import write_solution
from negcurve.simulation.setups import SetUp, demo_set_up
from negcurve.tasks.simulated import print_file, scan_to_file
from tests.negative.pictures import scene
from tests.tasks.test_apply import write_picture
from tests.tasks.test_apply_strip import solution_of

PRINTS = (("first", 2, False), ("second", 3, False), ("dim", 4, True))
"""Name, seed of coating, dust and noise, and whether the lamp has grown dim."""


FINE = ("accept", "in control")


def typed(*words: str) -> dict[str, Any]:
    """Run a command within the process; return its result."""
    outcome = CliRunner().invoke(app, [*words, "--json"])
    if outcome.exception and not isinstance(outcome.exception, SystemExit):
        raise outcome.exception
    assert outcome.exit_code == 0, outcome.stderr
    result: dict[str, Any] = json.loads(outcome.stdout)["result"]
    return result


@pytest.mark.slow
def test_a_dim_lamp_shows_in_the_strips_of_pictures(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("NEGCURVE_RECORD", "record")
    set_up = demo_set_up()
    write_solution(solution_of(set_up), tmp_path / "t.json")
    dim = replace(set_up, darkroom=replace(set_up.darkroom, black_share=0.93))
    write_picture(tmp_path / "p.tif", scene(200, 300, 1))
    typed("record", "add", "t.json", "--name", "spring")
    for name, seed, is_dim in PRINTS:
        lamp = dim if is_dim else set_up
        given = ("--record", "spring", "--width", "150mm", "--edge-strip")
        made = typed("apply", "p.tif", "-o", f"{name}.tif", *given)
        sheet = print_file(lamp, f"{name}.tif", border_mm=4, seed=seed)
        scan_to_file(lamp, sheet, f"{name}-scan.tif", seed=seed)
        found = typed("read", f"{name}-scan.tif", "-o", f"{name}.csv")
        assert (found["target"], found["patches"]) == (made["strip"], 14)
        checked = typed("check", f"{name}.csv", "--table", "t.json")
        kept = typed("record", "strip", f"{name}.csv", "--record", "spring")
        expected = ("look for a cause", "exposure") if is_dim else FINE
        assert (checked["verdict"], kept["judgement"]["kind"]) == expected
        assert checked["real"] is is_dim
        # Unevenness of coating and lamp, from print to print: 0.05 D in this set-up.
        change = kept["deviation"]["exposure"] - middle_change(set_up, lamp)
        assert abs(change) < 0.05


def middle_change(set_up: SetUp, other: SetUp) -> float:
    """By how much mid-tones of another darkroom's prints differ, without noise. [D]."""
    level = np.linspace(0, 1, 201)
    before, after = (each.darkroom.density(level) for each in (set_up, other))
    middle = (before > 0.5) & (before < 0.9)
    return float(np.mean((after - before)[middle]))
