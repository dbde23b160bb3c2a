import numpy as np
import pytest

from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.files.layout_json import ready_made_layouts
from negcurve.files.readings_csv import write_readings
from negcurve.files.tiff import GreyTiffWriter
from negcurve.readings import Readings
from negcurve.tasks.evenness import EvennessOptions, evenness
from tests.report.samples import placed_readings

W, H = 250.0, 200.0


def field(x, y):
    """A band as of a dead row, 60 mm above, and a little tilt."""
    return -0.13 / (1 + ((x - 170) / 60) ** 2) + 0.02 * (y / H - 0.5)


def even_sheet(path, *, seed=1, turned=False, sheet="a"):
    x, y = (
        each.ravel()
        for each in np.meshgrid(np.linspace(8, W - 8, 15), np.linspace(8, H - 8, 11))
    )
    light = field(W - x, H - y) if turned else field(x, y)
    noise = np.random.default_rng(seed).normal(0, 0.015, len(x))
    readings = Readings(
        negative_level=np.full(len(x), 0.55),
        density=0.75 + light + noise,
        x_mm=x,
        y_mm=y,
        sheet=sheet,
    )
    write_readings(readings, path)
    return path


def bands(result):
    return [each for each in result.study.causes if each.mark == "band"]


def test_two_readings_files_name_the_row(tmp_path):
    paths = [
        even_sheet(tmp_path / "a.csv"),
        even_sheet(tmp_path / "b.csv", seed=2, turned=True, sheet="b"),
    ]
    result = evenness(EvennessOptions(sheets=paths, plot=tmp_path / "map.png"))
    band = bands(result)[0]
    assert band.origin == "lamp"
    assert band.shape.center_mm[0] == pytest.approx(170, abs=12)
    assert result.study.sheets[0].width_mm == pytest.approx(W)
    assert (tmp_path / "map.png").exists()
    assert any("row of lamps" in each.what for each in result.findings)


def scan(path, *, resolution=40):
    """An evenly exposed sheet on white paper, as a linear 16-bit scan."""
    px = resolution / 25.4
    rows, columns = round(H * px), round(W * px)
    y, x = np.mgrid[0:rows, 0:columns] / px
    density = 0.75 + field(x, y)
    density += np.random.default_rng(3).normal(0, 0.01, density.shape)
    whole = np.full((rows + 40, columns + 40), 0.06)
    whole[20:-20, 20:-20] = density
    codes = np.rint(65535 * 10**-whole).astype(np.uint16)
    with GreyTiffWriter(
        path,
        width=codes.shape[1],
        height=codes.shape[0],
        resolution_ppi=resolution,
        description="a scan",
    ) as writer:
        writer.write(codes)
    return path


def test_a_scan_of_an_even_sheet_shows_the_same(tmp_path):
    result = evenness(EvennessOptions(sheets=[scan(tmp_path / "grey.tif")], gamma=1.0))
    band = bands(result)[0]
    assert band.shape.center_mm[0] == pytest.approx(170, abs=15)
    assert result.study.sheets[0].width_mm == pytest.approx(W, abs=6)
    assert -band.size == pytest.approx(0.13, rel=0.35)


def test_an_untagged_scan_of_16_bits_is_asked_about(tmp_path):
    path = scan(tmp_path / "grey.tif")
    with pytest.raises(ReadingsError, match="16 bits and no profile"):
        evenness(EvennessOptions(sheets=[path]))
    with pytest.raises(InvalidValueError, match="both given"):
        evenness(EvennessOptions(sheets=[path], gamma=1.0, profile=path))


def test_a_target_is_solved_by_itself(tmp_path):
    path = tmp_path / "r.csv"
    write_readings(placed_readings(), path)
    result = evenness(EvennessOptions(sheets=[path]))
    assert result.study.lamp_tilt is not None
    assert result.study.spread < 0.1


def test_the_size_of_a_ready_made_target_is_known(tmp_path):
    layout = ready_made_layouts()[0]
    path = tmp_path / "r.csv"
    write_readings(placed_readings().replaced(target=layout.identity_text), path)
    result = evenness(EvennessOptions(sheets=[path]))
    sheet = result.study.sheets[0]
    assert (sheet.width_mm, sheet.height_mm) == (layout.width_mm, layout.height_mm)


def test_the_size_is_taken_as_told_or_guessed_and_said(tmp_path):
    path = tmp_path / "r.csv"
    write_readings(placed_readings(), path)
    told = evenness(EvennessOptions(sheets=[path], sheet_size="8x10in"))
    assert told.study.sheets[0].height_mm == 254.0
    guessed = evenness(EvennessOptions(sheets=[path]))
    assert guessed.study.sheets[0].height_mm == pytest.approx(250)
    assert any("size is not known" in each.what for each in guessed.findings)


def test_readings_without_places_are_refused(tmp_path):
    path = tmp_path / "r.csv"
    level = np.linspace(0, 1, 20)
    write_readings(Readings(negative_level=level, density=level + 0.1), path)
    with pytest.raises(ReadingsError, match="have no places"):
        evenness(EvennessOptions(sheets=[path]))


def test_a_scan_without_an_even_area_is_refused(tmp_path):
    path = tmp_path / "noise.tif"
    density = np.random.default_rng(1).uniform(0, 2, (20, 20))
    blocks = np.repeat(np.repeat(density, 20, axis=0), 20, axis=1)
    codes = np.rint(65535 * 10**-blocks).astype(np.uint16)
    with GreyTiffWriter(
        path, width=400, height=400, resolution_ppi=50, description="noise"
    ) as writer:
        writer.write(codes)
    with pytest.raises(ReadingsError, match="shows no large even area"):
        evenness(EvennessOptions(sheets=[path], gamma=1.0))


def test_three_sheets_are_refused(tmp_path):
    with pytest.raises(InvalidValueError, match="3 files named"):
        evenness(EvennessOptions(sheets=["a", "b", "c"]))
