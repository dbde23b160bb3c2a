"""Negatives with a strip: printed, scanned, read and checked as a user would."""

import shutil
from contextlib import closing

import numpy as np
import pytest
import tifffile

import negcurve
from negcurve.errors import FileError, InvalidValueError, RecordError
from negcurve.files.layout_json import read_layout, sidecar_path
from negcurve.files.pictures import open_picture
from negcurve.files.readings_csv import write_readings
from negcurve.files.solution_json import write_solution
from negcurve.record.strips import check_strip, strip_deviation
from negcurve.simulation.setups import demo_set_up
from negcurve.target.drawing import draw
from negcurve.tasks.apply import apply_table
from negcurve.tasks.check import CheckOptions, check
from negcurve.tasks.read import read
from negcurve.tasks.read_options import ReadOptions
from negcurve.tasks.simulated import print_file, scan_to_file
from negcurve.tasks.target import make_target
from tests.negative.pictures import scene
from tests.tasks.test_apply import PATH, solved, write_picture

PPI = 240


def solution_of(set_up):
    """The table of a darkroom, without noise."""
    level = np.linspace(0, 1, 41)
    readings = negcurve.Readings(
        negative_level=level,
        density=set_up.darkroom.density(level),
        density_kind="luminance",
        density_zero="scanner",
        printer_path={**PATH, "ppi": str(PPI)},
    )
    return negcurve.solve([readings])


@pytest.fixture(scope="module")
def work(tmp_path_factory):
    """A solution of the simulated darkroom and a negative with a strip."""
    folder = tmp_path_factory.mktemp("strip")
    set_up = demo_set_up()
    solution = solution_of(set_up)
    write_solution(solution, folder / "t.json")
    picture = write_picture(folder / "picture.tif", scene(300, 400, 1))
    result = apply_table(
        picture, folder / "neg.tif", table=solution, width="150mm", edge_strip=True
    )
    sheet = print_file(set_up, folder / "neg.tif", border_mm=4, seed=5)
    scan_to_file(set_up, sheet, folder / "scan.tif", seed=6)
    return folder, solution, result


def test_a_print_is_a_check_without_another_sheet(work):
    folder, solution, result = work
    print_read = read(ReadOptions(inputs=[folder / "scan.tif"])).readings
    assert print_read.target == result.strip.identity_text
    assert print_read.table == solution.table.identity
    tones = print_read.image_tone[np.isfinite(print_read.image_tone)]
    np.testing.assert_allclose(np.sort(tones), np.arange(11) / 10)
    truth = demo_set_up().darkroom.density(print_read.negative_level)
    # Uneven coating and lamp are part of the print: 0.05 D is their size here.
    np.testing.assert_allclose(print_read.density, truth, atol=0.06)
    write_readings(print_read, folder / "r.csv")
    judged = check(CheckOptions(readings=[folder / "r.csv"], table=folder / "t.json"))
    assert judged.check.verdict == "accept"
    assert judged.check.rms < 2.5
    assert any("tones could be compared" in each.what for each in judged.findings)


def test_an_under_exposed_print_shows_in_check_and_strip(work):
    _, solution, result = work
    level = np.array([patch.negative_level for patch in result.strip.patches])
    good = solution.response.density(level)
    middle = np.exp(-(((good - 0.7) / 0.4) ** 2))
    prints = [
        negcurve.Readings(
            negative_level=level,
            density=density,
            density_kind="luminance",
            density_zero="scanner",
            table=solution.table.identity,
        )
        for density in (good, good - 0.2 * middle)
    ]
    for each in prints:
        check_strip(each, solution, "spring")
    fine, light = (strip_deviation(each, solution) for each in prints)
    assert np.abs(fine.parts).max() < 0.01
    assert light.parts[0] < -0.05
    wrong = prints[0].replaced(table="00000000")
    with pytest.raises(RecordError, match="table 00000000"):
        check_strip(wrong, solution, "spring")


def test_strip_stands_below_the_picture_mirrored_with_it(work):
    folder, _, result = work
    with closing(open_picture(folder / "neg.tif")) as source:
        codes = source.rows(0, source.height)[..., 0]
    strip = result.strip
    width, height = strip.size_px
    assert codes.shape[0] == (
        result.size.height_px + result.border_px + result.bottom_px
    )
    top = codes.shape[0] - height
    left = (codes.shape[1] - width) // 2
    np.testing.assert_array_equal(codes[top:, left : left + width], draw(strip))
    assert (codes[top:, :left] == 65535).all()
    first = strip.patches[0]
    assert strip.mirrored
    x, y = (round(each * PPI / 25.4) for each in first.box.center)
    seen = codes[top + y, left + width - x]
    assert seen == round(first.negative_level * 65535)


def test_layout_is_beside_and_inside_the_negative(work, tmp_path):
    folder, _, result = work
    assert result.layout_file == sidecar_path(folder / "neg.tif")
    assert read_layout(result.layout_file) == result.strip
    alone = shutil.copy(folder / "neg.tif", tmp_path / "neg.tif")
    assert read_layout(alone) == result.strip
    with tifffile.TiffFile(alone) as file:
        assert file.pages[0].description.startswith("negcurve negative, table")
    scan = shutil.copy(folder / "scan.tif", tmp_path / "scan.tif")
    named = read(ReadOptions(inputs=[scan], target=alone)).readings
    assert named.target == result.strip.identity_text


def test_a_narrow_picture_is_refused_with_what_would_do(work, tmp_path):
    folder, solution, _ = work
    options = {"table": solution, "edge_strip": True}
    output = tmp_path / "n.tif"
    with pytest.raises(InvalidValueError) as caught:
        apply_table(folder / "picture.tif", output, width="100mm", **options)
    assert "Print the picture 124 mm wide or wider, or give --border 18mm" in str(
        caught.value
    )
    assert list(tmp_path.iterdir()) == []
    apply_table(folder / "picture.tif", output, width="124mm", **options)
    result = apply_table(
        folder / "picture.tif",
        output,
        width="100mm",
        border="18mm",
        overwrite=True,
        **options,
    )
    assert result.bottom_px == round(23 / 25.4 * PPI)


def test_a_sheet_to_fit_leaves_room_for_the_strip(work, tmp_path):
    folder, solution, _ = work
    result = apply_table(
        folder / "picture.tif",
        tmp_path / "n.tif",
        table=solution,
        fit="8x10in",
        edge_strip=True,
    )
    mm = 25.4 / PPI
    size = result.size
    assert size.width_mm + 2 * result.border_px * mm <= 254 - 24 + 0.2
    height = size.height_mm + (result.border_px + result.bottom_px) * mm
    assert height == pytest.approx(203.2 - 24, abs=0.3)


@pytest.mark.parametrize("options", [{"bits": 8}, {"surround": "ink"}, {"ppi": 300}])
def test_strip_in_other_kinds_of_negatives(work, tmp_path, options):
    folder, solution, _ = work
    output = tmp_path / "n.tif"
    result = apply_table(
        folder / "picture.tif",
        output,
        table=solution,
        width="130mm",
        edge_strip=True,
        **options,
    )
    codes = tifffile.imread(output)
    width, height = result.strip.size_px
    left = (codes.shape[1] - width) // 2
    np.testing.assert_array_equal(
        codes[-height:, left : left + width], draw(result.strip)
    )


def test_resolution_is_a_whole_number_and_layouts_are_not_overwritten(work, tmp_path):
    folder, solution, _ = work
    options = {"table": solution, "width": "150mm", "edge_strip": True}
    with pytest.raises(InvalidValueError, match="no whole number"):
        apply_table(folder / "picture.tif", tmp_path / "n.tif", ppi=288.5, **options)
    (tmp_path / "n.layout.json").write_text("mine")
    with pytest.raises(FileError, match=r"n\.layout\.json"):
        apply_table(folder / "picture.tif", tmp_path / "n.tif", **options)
    assert (tmp_path / "n.layout.json").read_text() == "mine"


def test_without_a_strip_nothing_changes(work, tmp_path):
    folder, solution, _ = work
    result = apply_table(
        folder / "picture.tif", tmp_path / "n.tif", table=solution, border="5mm"
    )
    assert result.strip is None
    assert result.layout_file is None
    assert result.bottom_px == result.border_px
    assert not (tmp_path / "n.layout.json").exists()


def test_a_strip_as_a_target_of_its_own_is_that_of_the_negative(work, tmp_path):
    _, solution, result = work
    made = make_target(tmp_path / "s.tif", strip=True, table=solution)
    assert made.layout == result.strip
    assert read_layout(tmp_path / "s.tif") == result.strip
    set_up = demo_set_up()
    sheet = print_file(set_up, tmp_path / "s.tif", border_mm=8, seed=2)
    scan_to_file(set_up, sheet, tmp_path / "scan.tif", seed=3)
    print_read = read(ReadOptions(inputs=[tmp_path / "scan.tif"])).readings
    assert len(print_read) == 14
    truth = set_up.darkroom.density(print_read.negative_level)
    np.testing.assert_allclose(print_read.density, truth, atol=0.06)
    with pytest.raises(InvalidValueError, match="a strip has its own size"):
        make_target(tmp_path / "x.tif", strip=True, sheet="A4")
    plain = make_target(tmp_path / "p.tif", strip=True)
    assert plain.layout.table == ""
    assert len({patch.negative_level for patch in plain.layout.patches}) == 14


def test_bare_tables_serve_too(work, tmp_path):
    folder, _, result = work
    made = apply_table(
        folder / "picture.tif",
        tmp_path / "n.tif",
        table=solved().table,
        width="150mm",
        ppi=PPI,
        edge_strip=True,
    )
    assert made.strip.table == solved().table.identity
    assert made.strip.identity != result.strip.identity
