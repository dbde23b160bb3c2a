import json

import numpy as np
import pytest
import tifffile
from typer.testing import CliRunner

from negcurve.cli import app
from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.files.layout_json import write_layout
from negcurve.files.readings_csv import read_readings
from tests.reading.prints import scan_of, small_layout


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("read")
    layout = small_layout()
    source, _ = scan_of(layout, ppi=150, mirrored=True)
    tifffile.imwrite(
        folder / "scan.tif",
        source.codes[:, :, 0],
        resolution=(150, 150),
        resolutionunit="INCH",
        metadata=None,
    )
    write_layout(layout, folder / "t.layout.json")
    return folder


def run(*arguments):
    return CliRunner().invoke(app, ["read", *map(str, arguments)])


def test_a_person_is_told_what_was_read(folder, tmp_path):
    csv, png = tmp_path / "r.csv", tmp_path / "o.png"
    done = run(
        folder / "scan.tif", "-o", csv, "--gamma", "1.0", "--overlay", png, "--numbers"
    )
    assert done.exit_code == 0
    identity = small_layout().identity_text
    lines = done.stdout.splitlines()
    assert lines[0] == f"scan.tif: 54 patches read of target {identity}"
    assert lines[1].startswith("4 of 4 marks, turned ")
    assert "reads mirrored, 150 pixels per inch" in lines[1]
    assert lines[2].startswith("density 0.08 to 1.40, from the scanner's white")
    assert lines[3] == "no patch flagged"
    assert "warning: scan.tif: the print reads mirrored." in done.stderr
    assert csv.exists()
    assert png.exists()


def test_a_machine_gets_json(folder, tmp_path):
    done = run(
        folder / "scan.tif", "-o", tmp_path / "r.csv", "--gamma", "1.0", "--json"
    )
    said = json.loads(done.stdout)
    assert said["schema"] == "negcurve/read/1"
    result = said["result"]
    assert result["patches"] == 54
    assert result["d_max"] == pytest.approx(1.4, abs=0.01)
    (scan,) = result["scans"]
    assert scan["mirrored"] is True
    assert sorted(scan["marks_px"]) == ["0", "1", "2", "3"]
    assert said["findings"][0]["what"] == "the print reads mirrored"


def test_marks_may_be_pointed_at(folder, tmp_path):
    first = run(folder / "scan.tif", "-o", tmp_path / "a.csv", "--gamma", "1", "--json")
    marks = json.loads(first.stdout)["result"]["scans"][0]["marks_px"].values()
    corners = [word for x, y in marks for word in ("--corner", f"{x:.0f},{y:.0f}")]
    done = run(folder / "scan.tif", "-o", tmp_path / "b.csv", "--gamma", "1", *corners)
    assert done.exit_code == 0
    first, second = (
        read_readings(tmp_path / name).density for name in ("a.csv", "b.csv")
    )
    np.testing.assert_allclose(first, second, atol=0.001)


def test_a_scan_without_a_target_ends_with_a_readings_error(folder, tmp_path):
    blank = tmp_path / "blank.tif"
    tifffile.imwrite(blank, np.full((300, 300), 60000, np.uint16), metadata=None)
    done = run(blank, "-o", tmp_path / "r.csv", "--gamma", "1")
    assert isinstance(done.exception, ReadingsError)
    assert done.exception.exit_code == 4


@pytest.mark.parametrize("text", ["12", "a,b", "1,2,3"])
def test_a_corner_that_is_no_place(folder, tmp_path, text):
    done = run(folder / "scan.tif", "-o", tmp_path / "r.csv", "--corner", text)
    assert isinstance(done.exception, InvalidValueError)
    assert str(done.exception) == (
        f"--corner: {text!r} is not a place\nWrite it as X,Y: 310,295."
    )


def test_an_unknown_print_state(folder, tmp_path):
    done = run(folder / "scan.tif", "-o", tmp_path / "r.csv", "--print-state", "damp")
    assert str(done.exception) == "--print-state: 'damp' is not known\nUse dry or wet."


def test_help_begins_with_examples():
    done = run("--help")
    assert done.exit_code == 0
    assert "negcurve read scan.tif -o r.csv --target target.tif" in done.stdout
    for option in ("--profile", "--gamma", "--overlay", "--corner", "--hours-dry"):
        assert option in done.stdout
