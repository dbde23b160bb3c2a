import json
import re
import shlex
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import tifffile
from PIL import Image

import negcurve
from negcurve.errors import FileError, InvalidValueError
from negcurve.files.layout_json import read_layout, ready_made_layouts
from negcurve.files.pictures import open_picture
from negcurve.files.solution_json import write_solution
from negcurve.response.aim import Aim
from negcurve.response.ends import Ends
from negcurve.response.response import Response
from negcurve.response.solution import Solution
from negcurve.response.table import LookupTable
from negcurve.target.drawing import draw
from negcurve.target.layout import Layout
from negcurve.tasks import target as task
from negcurve.tasks.target import make_target

ROOT = Path(__file__).parents[2]
READY_MADE = Path(task.__file__).parents[1] / "target" / "ready_made"
SMALL = {"sheet": "4x5in", "levels": 11, "ppi": 100}


def table() -> LookupTable:
    tone = np.linspace(0, 1, 33)
    return LookupTable(tone_nodes=tone, level_nodes=0.95 - 0.9 * tone**0.6)


def solution(**path: str) -> Solution:
    """An invented paper whose density rises straight with level."""
    nodes = np.array([0.0, 1.0])
    density = np.array([0.1, 1.5])
    return Solution(
        table=table(),
        response=Response(
            level_nodes=nodes, density_nodes=density, error_nodes=np.zeros(2)
        ),
        aim=Aim(name="density", tone_nodes=nodes, density_nodes=density[::-1]),
        ends=Ends(
            d_min=0.1,
            d_max=1.5,
            black_density=1.43,
            white_density=0.17,
            black_share=0.98,
            black_level=0.95,
            white_level=0.05,
        ),
        printer_path=path,
    )


def test_file_layout_and_preview(tmp_path: Path) -> None:
    """The file as two other readers see it: tifffile and Pillow."""
    path, shown = tmp_path / "t.tif", tmp_path / "t.png"
    result = make_target(path, preview=shown, **SMALL)
    with tifffile.TiffFile(path) as opened:
        page = opened.pages.first
        assert page.tags["XResolution"].value == (100, 1)
        assert page.tags["YResolution"].value == (100, 1)
        assert page.tags["ResolutionUnit"].value == 2  # inch
        assert page.tags["BitsPerSample"].value == 16
        assert page.tags["PhotometricInterpretation"].value == 1  # 0 is black
        said = page.tags["ImageDescription"].value
        codes = page.asarray()
    np.testing.assert_array_equal(codes, draw(result.layout))
    assert said.startswith(f"negcurve target {result.layout.identity_text}\n")
    assert said.isascii()
    with Image.open(path) as opened:
        assert opened.size == (400, 500)
        assert opened.info["dpi"] == (100, 100)
    assert read_layout(path) == result.layout
    assert read_layout(tmp_path / "t.layout.json") == result.layout
    with Image.open(shown) as opened:
        assert opened.mode == "L"
    with open_picture(shown) as opened:
        assert opened.description.startswith("negcurve target")
    assert (result.output, result.preview) == (path, shown)
    assert result.findings == ()


def test_it_is_in_the_public_interface() -> None:
    assert negcurve.make_target is make_target
    assert "make_target" in dir(negcurve)


def test_same_options_same_bytes(tmp_path: Path) -> None:
    for name in ("a.tif", "b.tif"):
        make_target(tmp_path / name, **SMALL)
    for suffix in (".tif", ".layout.json"):
        first, again = ((tmp_path / f"{n}{suffix}").read_bytes() for n in "ab")
        assert first == again


@pytest.mark.parametrize("name", ["t.tif", "t.layout.json", "t.png"])
def test_nothing_is_overwritten_unasked(tmp_path: Path, name: str) -> None:
    (tmp_path / name).write_text("mine")
    options = {**SMALL, "preview": tmp_path / "t.png"}
    with pytest.raises(FileError, match="exists already"):
        make_target(tmp_path / "t.tif", **options)
    assert [each.name for each in tmp_path.iterdir()] == [name]
    assert (tmp_path / name).read_text() == "mine"
    make_target(tmp_path / "t.tif", overwrite=True, **options)
    assert read_layout(tmp_path / "t.tif").levels == 11


def test_too_small_a_sheet_leaves_nothing(tmp_path: Path) -> None:
    with pytest.raises(InvalidValueError, match="levels would"):
        make_target(tmp_path / "t.tif", sheet="4x5in", levels=101)
    assert list(tmp_path.iterdir()) == []


def test_names_must_say_what_the_files_are(tmp_path: Path) -> None:
    with pytest.raises(FileError) as caught:
        make_target("target.png", **SMALL)
    assert str(caught.value) == (
        "target.png: is a name that ends in .png, but a TIFF would be written\n"
        "Give it a name that ends in .tif."
    )
    with pytest.raises(FileError, match=r"ends in \.png"):
        make_target(tmp_path / "t.tif", preview="p.tif", **SMALL)
    with pytest.raises(FileError, match="does not exist"):
        make_target(tmp_path / "none" / "t.tif", **SMALL)


def test_mode_bits_and_compression(tmp_path: Path) -> None:
    grey = make_target(tmp_path / "g.tif", **SMALL)
    rgb = make_target(
        tmp_path / "c.tif", mode="rgb", bits=8, compression="none", **SMALL
    )
    codes = tifffile.imread(tmp_path / "c.tif")
    assert codes.shape == (500, 400, 3)
    assert codes.dtype == np.uint8
    for channel in range(3):
        np.testing.assert_array_equal(codes[..., channel], draw(rgb.layout))
    assert rgb.layout.printer_path == {
        "mode": "rgb",
        "bits": "8",
        "ppi": "100",
        "profile": "none",
    }
    assert rgb.layout.identity != grey.layout.identity


def test_margin_patch_and_mirror(tmp_path: Path) -> None:
    result = make_target(
        tmp_path / "t.tif", ppi=100, margin="0.5in", patch="9 mm", mirrored=False
    )
    assert result.layout.margin_mm == 12.7
    assert not result.layout.mirrored
    assert {patch.box.width_mm for patch in result.layout.patches} == {9}
    with pytest.raises(InvalidValueError, match="margin: '12' is not a length"):
        make_target(tmp_path / "u.tif", margin="12")


def test_through_a_table(tmp_path: Path) -> None:
    given = table()
    result = make_target(tmp_path / "t.tif", table=given, **SMALL)
    layout = read_layout(tmp_path / "t.tif")
    assert layout.table == given.identity
    tones = sorted({patch.image_tone for patch in layout.patches})
    np.testing.assert_allclose(tones, np.linspace(0, 1, 11), atol=1e-6)
    for patch in layout.patches:
        expected = given.negative_level(patch.image_tone)
        assert patch.negative_level == pytest.approx(float(expected), abs=2e-6)
    assert max(abs(each) for each in result.correlations.values()) < 0.1


def test_second_round_goes_down_the_first_ones_path(tmp_path: Path) -> None:
    first = solution(mode="rgb", bits="8", ppi="120", profile="none")
    kept = tmp_path / "table.json"
    write_solution(first, kept)
    for number, given in enumerate((first, kept)):
        result = make_target(
            tmp_path / f"{number}.tif", table=given, sheet="4x5in", levels=11
        )
        assert result.layout.printer_path == first.printer_path
        assert result.layout.table == first.table.identity
        assert result.findings == ()
    assert tifffile.imread(tmp_path / "0.tif").shape == (600, 480, 3)


def test_another_path_than_the_first_is_warned_of(tmp_path: Path) -> None:
    first = solution(mode="grey", bits="16", ppi="120", profile="none")
    result = make_target(tmp_path / "t.tif", table=first, bits=16, **SMALL)
    (finding,) = result.findings
    assert str(finding) == (
        "warning: ppi: is 100 here and was 120 in the target of the table, so the "
        "printer may lay down other ink than the table was made for. "
        "Leave the option out to print the first target's way."
    )
    assert result.layout.resolution_ppi == 100


def test_the_table_is_never_written_to(tmp_path: Path) -> None:
    kept = tmp_path / "t.layout.json"
    write_solution(solution(), kept)
    with pytest.raises(FileError, match="is an input of this command"):
        make_target(tmp_path / "t.tif", table=kept, overwrite=True, **SMALL)


def test_too_few_patches_to_scatter_well(tmp_path: Path) -> None:
    result = make_target(
        tmp_path / "t.tif", sheet="4x5in", levels=3, repeats=1, ppi=100
    )
    (finding,) = result.findings
    assert finding.severity == "warning"
    assert finding.what.startswith("level goes along with ")
    assert finding.fix == "Use more levels or repeats, or another --seed."


def test_layout_stands_before_the_target(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A target without its layout cannot be read, so the layout is written first."""

    class DiskFullError(OSError):
        pass

    def fail(*_: object, **__: object) -> None:
        raise DiskFullError

    monkeypatch.setattr(task.Drawing, "rows", fail)
    with pytest.raises((DiskFullError, FileError)):
        make_target(tmp_path / "t.tif", **SMALL)
    assert [each.name for each in tmp_path.iterdir()] == ["t.layout.json"]


def test_progress_is_told(tmp_path: Path) -> None:
    told: list[float] = []
    make_target(
        tmp_path / "t.tif", progress=lambda _, share: told.append(share), **SMALL
    )
    assert told == sorted(told)
    assert told[-1] == 1


@pytest.mark.parametrize("layout", ready_made_layouts(), ids=lambda each: each.sheet)
def test_ready_made_targets_are_made_again(layout: Layout, tmp_path: Path) -> None:
    """Same layout, same pixels; the commands are those of targets/README.md."""
    name = layout.sheet.lower()
    commands = re.findall(
        rf"negcurve target (targets/{name}.tif.*)",
        (ROOT / "targets/README.md").read_text(),
    )
    words = shlex.split(commands[0].replace("targets/", f"{tmp_path}/"))
    options = dict(zip(words[1::2], words[2::2], strict=True))
    result = make_target(
        words[0],
        sheet=options.get("--sheet", "8x10in"),
        levels=int(options.get("--levels", 51)),
        preview=options["--preview"],
    )
    assert result.layout == layout
    made = tifffile.imread(tmp_path / f"{name}.tif")
    for folder in (ROOT / "targets", READY_MADE):
        np.testing.assert_array_equal(tifffile.imread(folder / f"{name}.tif"), made)
        assert read_layout(folder / f"{name}.tif") == layout
        kept = json.loads((folder / f"{name}.layout.json").read_text())
        assert kept == json.loads((tmp_path / f"{name}.layout.json").read_text())
    with (
        Image.open(tmp_path / f"{name}.png") as shown,
        Image.open(ROOT / "targets" / f"{name}.png") as ready,
    ):
        np.testing.assert_array_equal(np.asarray(shown), np.asarray(ready))


def test_ready_made_targets_are_small_and_complete() -> None:
    for folder, kinds in ((ROOT / "targets", 3), (READY_MADE, 2)):
        files = [each for each in folder.iterdir() if each.name != "README.md"]
        assert len(files) == 3 * kinds
        assert max(each.stat().st_size for each in files) < 300_000


@pytest.mark.parametrize("sheet", ["8x10in", "A4", "4x5in"])
def test_ready_made_targets_keep_what_was_promised(sheet: str) -> None:
    (layout,) = (each for each in ready_made_layouts() if each.sheet == sheet)
    assert layout.mirrored
    assert layout.table == ""
    levels = {patch.negative_level for patch in layout.patches}
    assert {0, 1} <= levels
    assert replace(layout, seed=layout.seed + 1).identity != layout.identity
