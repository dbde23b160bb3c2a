"""Negatives and second targets in a coloured ink."""

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import tifffile

from negcurve.encoding import SRGB_GREY
from negcurve.errors import InvalidValueError
from negcurve.files.layout_json import read_layout
from negcurve.files.solution_json import write_solution
from negcurve.negative.ink_sink import InkColour
from negcurve.negative.tones import code_map
from negcurve.target.ink import Ink
from negcurve.tasks.apply import apply_table
from negcurve.tasks.target import make_target
from tests.negative.pictures import Sheet, scene
from tests.negative.test_tally import solution
from tests.tasks.test_apply import PATH, solved, whats, write_picture

INK = np.array([20, 110, 0])
COLOURED = {**PATH, "mode": "rgb", "ink": "20,110,0"}


@pytest.fixture
def picture(tmp_path: Path) -> Path:
    return write_picture(tmp_path / "picture.tif", scene(120, 90, 1))


def wanted_colours() -> np.ndarray:
    """RGB of every pixel by the definition, from unrounded levels; mirrored."""
    codes = code_map(SRGB_GREY, solution().table)[scene(120, 90, 1)[..., 0]]
    level = codes[:, ::-1, np.newaxis] / 65535
    return 1 - (1 - level) * (1 - INK / 255)


def test_the_negative_inherits_the_ink_of_the_target(
    picture: Path, tmp_path: Path
) -> None:
    output = tmp_path / "n.tif"
    result = apply_table(picture, output, table=solved(printer_path=COLOURED))
    with tifffile.TiffFile(output) as file:
        page = file.pages[0]
        codes = page.asarray()
        assert page.photometric == tifffile.PHOTOMETRIC.RGB
        assert "ink 20,110,0" in page.description
    assert codes.shape == (120, 90, 3)
    np.testing.assert_allclose(codes, 65535 * wanted_colours(), atol=0.51)
    assert result.ink == "20,110,0"
    assert "ink:" not in whats(result)


def test_8_bits_are_dithered_in_each_channel(picture: Path, tmp_path: Path) -> None:
    output = tmp_path / "n.tif"
    path = {**COLOURED, "bits": "8"}
    apply_table(picture, output, table=solved(printer_path=path))
    codes = tifffile.imread(output)
    assert codes.dtype == np.uint8
    off = codes - 255 * wanted_colours()
    assert np.abs(off).max() < 1
    # Without dither a flat area is off by the same rounding everywhere.
    assert np.abs(off.mean(axis=(0, 1))).max() < 0.03


def test_dither_keeps_the_mean_of_a_flat_tone_in_any_strips() -> None:
    ink = Ink(red=20, green=110, blue=0)
    rows = np.full((256, 256), 30001, np.uint16)
    sheets = []
    for cuts in ([256], [100, 156]):
        sheet = Sheet()
        sink = InkColour(sheet, ink, width=256, bits=8)
        start = 0
        for each in cuts:
            sink.write(rows[start : start + each])
            start += each
        sheets.append(sheet.codes)
    np.testing.assert_array_equal(sheets[0], sheets[1])
    exact = 255 * (1 - (1 - 30001 / 65535) * (1 - INK / 255))
    np.testing.assert_allclose(sheets[0].mean(axis=(0, 1)), exact, atol=0.01)


def test_another_ink_is_warned_about(picture: Path, tmp_path: Path) -> None:
    result = apply_table(picture, tmp_path / "n.tif", table=solved(), ink="20,110,0")
    assert "ink: is 20,110,0 in the negative and was 0,0,0 in the target" in (
        whats(result)
    )
    kept = solved(printer_path=COLOURED)
    back = apply_table(picture, tmp_path / "b.tif", table=kept, ink="0,0,0")
    assert "ink: is 0,0,0 in the negative and was 20,110,0" in whats(back)
    codes = tifffile.imread(tmp_path / "b.tif")
    assert codes.shape == (120, 90, 3)
    assert np.ptp(codes, axis=2).max() == 0


def test_no_ink_and_no_colour_are_refused(picture: Path, tmp_path: Path) -> None:
    for ink, says in (("255,255,255", "no ink at all"), ("blue", "no.* colour of ink")):
        with pytest.raises(InvalidValueError, match=says):
            apply_table(picture, tmp_path / "n.tif", table=solved(), ink=ink)
    assert not (tmp_path / "n.tif").exists()


@pytest.mark.parametrize("bits", ["8", "16"])
def test_border_and_strip_are_drawn_in_the_ink(bits: str, tmp_path: Path) -> None:
    # 141 mm, so that the strip has room below it.
    wide = write_picture(tmp_path / "wide.tif", scene(60, 1000, 1))
    output = tmp_path / "n.tif"
    kept = solved(printer_path={**COLOURED, "bits": bits, "ppi": "180"})
    result = apply_table(
        wide, output, table=kept, border="8mm", surround="ink", edge_strip=True
    )
    codes = tifffile.imread(output)
    full = 1 - INK / 255
    share = 1 - codes / np.iinfo(codes.dtype).max
    level = share / full
    # Every pixel lies on the line from clear film to the ink.
    rounding = 1.01 / np.iinfo(codes.dtype).max / full.min()
    assert np.ptp(level, axis=2).max() < 2 * rounding
    assert result.strip is not None
    assert result.strip.printer_path["ink"] == "20,110,0"
    assert level.max() == pytest.approx(1, abs=rounding)


def test_a_second_target_keeps_ink_and_mode(tmp_path: Path) -> None:
    write_solution(solved(printer_path=COLOURED), tmp_path / "t.json")
    output = tmp_path / "second.tif"
    made = make_target(
        output, table=tmp_path / "t.json", levels=11, ppi=90, sheet="4x5in"
    )
    assert made.layout.mode == "rgb"
    assert made.layout.printer_path["ink"] == "20,110,0"
    assert read_layout(output) == made.layout
    codes = tifffile.imread(output)
    share = (1 - codes / 65535) / (1 - INK / 255)
    assert np.ptp(share, axis=2).max() < 4 / 65535
    other = make_target(
        tmp_path / "o.tif",
        table=tmp_path / "t.json",
        levels=11,
        ppi=90,
        sheet="4x5in",
        ink="0,0,0",
    )
    assert "ink: is 0,0,0 here and was 20,110,0" in "\n".join(map(str, other.findings))


def test_a_sheet_of_mixtures_is_made(tmp_path: Path) -> None:
    output = tmp_path / "m.tif"
    made = make_target(output, mixtures=True, ppi=90)
    assert made.layout.has_mixtures
    assert made.layout.levels == 48
    assert read_layout(output) == made.layout
    codes = tifffile.imread(output)[:, ::-1]
    for patch in made.layout.patches[:9]:
        x, y = (int(each * 90 / 25.4) for each in patch.box.center)
        assert patch.ink is not None
        np.testing.assert_array_equal(codes[y, x], 257 * np.array(patch.ink.codes))


@pytest.mark.parametrize(
    ("options", "says"),
    [
        ({"mixtures": True, "ink": "0,96,32"}, "neither a table nor an ink"),
        ({"mixtures": True, "repeats": 1}, "mixtures printed once"),
        ({"mixtures": True, "levels": 8}, "8 mixtures are not possible"),
        ({"mixtures": True, "mode": "grey"}, "grey cannot hold coloured ink"),
        ({"ink": "0,96,32", "mode": "grey"}, "grey cannot hold coloured ink"),
        ({"ink": "0,96"}, "'0,96' is not a colour of ink"),
    ],
)
def test_what_makes_no_sense_is_refused(
    options: dict[str, object], says: str, tmp_path: Path
) -> None:
    with pytest.raises(InvalidValueError, match=says):
        make_target(tmp_path / "t.tif", **options)
    assert not list(tmp_path.iterdir())


def test_the_commands_take_an_ink(picture: Path, tmp_path: Path) -> None:
    def run(*words: str) -> subprocess.CompletedProcess[str]:
        code = "from negcurve.cli import main; main()"
        return subprocess.run(
            [sys.executable, "-c", code, *words],
            capture_output=True,
            text=True,
            check=True,
            cwd=tmp_path,
        )

    write_solution(solved(), tmp_path / "t.json")
    words = ("apply", "picture.tif", "-o", "n.tif", "--table", "t.json")
    said = run(*words, "--ink", "20,110,0")
    assert "16 bits RGB, full ink 20,110,0, mirrored" in said.stdout
    assert "warning: ink: is 20,110,0" in said.stderr
    target = ("target", "m.tif", "--mixtures", "--ppi", "90", "--levels", "20")
    plain = json.loads(run(*target, "--json").stdout)["result"]
    assert len(plain["mixtures"]) == 40
    assert plain["printer_path"]["mode"] == "rgb"
    shown = run("target", "t.tif", "--ink", "0,96,32", "--ppi", "90").stdout
    assert "16-bit RGB, full ink 0,96,32, mirrored" in shown
