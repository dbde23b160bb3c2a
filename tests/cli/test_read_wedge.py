"""`negcurve read --wedge` as a user types it."""

import json

import pytest
import tifffile

from negcurve.errors import InvalidValueError
from negcurve.files.layout_json import write_layout
from tests.cli.running import runner
from tests.reading.prints import small_layout
from tests.reading.wedges import UNEVEN, beside, scanned

run = runner("read")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("wedge")
    layout = small_layout()
    light, made, _ = beside(layout, UNEVEN, ppi=150, noise=0.001, lid=0.6)
    tifffile.imwrite(
        folder / "scan.tif",
        scanned(light, made, curve=lambda c: 0.9 * c + 0.005).codes.squeeze(),
        resolution=(150, 150),
        resolutionunit="INCH",
        metadata=None,
    )
    rows = [f"{step},{each}" for step, each in enumerate(UNEVEN, start=1)]
    (folder / "wedge.csv").write_text("\n".join(["step,density", *rows]))
    write_layout(layout, folder / "t.layout.json")
    return folder


def test_a_person_is_told_how_well_it_fits(folder, tmp_path):
    scan, wedge = str(folder / "scan.tif"), str(folder / "wedge.csv")
    done = run(scan, "-o", str(tmp_path / "r.csv"), "--wedge", wedge)
    assert done.exit_code == 0
    (line,) = [each for each in done.stdout.splitlines() if "wedge.csv: 9 st" in each]
    assert line.startswith("wedge.csv: 9 steps, D 0.05 to 1.70, fit to 0.00")
    assert "D rms" in line
    assert "absolute, typical standard error" in done.stdout
    assert "warning" not in done.stderr


def test_a_machine_gets_residuals(folder, tmp_path):
    scan, wedge = str(folder / "scan.tif"), str(folder / "wedge.csv")
    done = run(scan, "-o", str(tmp_path / "r.csv"), "--wedge", wedge, "--json")
    result = json.loads(done.stdout)["result"]
    assert result["density_zero"] == "absolute"
    told = result["scans"][0]["wedge"]
    assert told["density"] == UNEVEN.tolist()
    assert len(told["residual"]) == 9
    assert told["residual_rms"] <= told["residual_largest"] < 0.01
    assert told["steps_clipped"] == 0


@pytest.mark.parametrize("text", ["12,30,40", "a,b,c,d", "1;2;3;4"])
def test_what_is_no_box(folder, tmp_path, text):
    scan, wedge = str(folder / "scan.tif"), str(folder / "wedge.csv")
    with pytest.raises(InvalidValueError, match=r"--wedge-box: .* is not a box"):
        run(scan, "-o", str(tmp_path / "r"), "--wedge", wedge, "--wedge-box", text)
