"""`read` with a step wedge in the scan, from files."""

import numpy as np
import pytest
import tifffile
from PIL import Image

import negcurve
from negcurve.errors import FileError, InvalidValueError, ReadingsError
from negcurve.files.layout_json import write_layout
from negcurve.plots.overlay import MARK, READ
from negcurve.tasks.read import read
from negcurve.tasks.read_options import ReadOptions
from negcurve.tasks.read_wedge import wedge_list
from tests.reading.prints import small_layout
from tests.reading.wedges import UNEVEN, beside, scanned

LAYOUT = small_layout()
PPI = 150


def write_list(path, density):
    rows = [f"{step},{each:g}" for step, each in enumerate(density, start=1)]
    path.write_text("\n".join(["step,density", *rows, ""]))
    return path


def write_scan(path, codes):
    tifffile.imwrite(
        path,
        codes.squeeze(),
        resolution=(PPI, PPI),
        resolutionunit="INCH",
        metadata=None,
    )


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A folder with untagged 16-bit scans of one print and a wedge, and its list."""
    folder = tmp_path_factory.mktemp("wedge")
    write_layout(LAYOUT, folder / "t.layout.json")
    write_list(folder / "wedge.csv", UNEVEN[::-1])  # from the dark end
    light, made, laid = beside(LAYOUT, UNEVEN, ppi=PPI, noise=0.001)
    for name, curve in (
        ("a.tif", lambda c: 0.9 * c),
        ("b.tif", lambda c: (c + 0.004) ** 0.5),
    ):
        write_scan(folder / name, scanned(light, made, curve=curve).codes)
    plain = light.copy()
    plain[:, round((LAYOUT.width_mm + 20) * made.px_per_mm) :] = 0.9
    write_scan(folder / "none.tif", scanned(plain, made).codes)
    return folder, made, laid


def options(folder, *names, **changes):
    usual = {"target": folder / "t.layout.json", "wedge": folder / "wedge.csv"}
    return ReadOptions(inputs=[folder / name for name in names], **{**usual, **changes})


def test_an_untagged_scan_needs_no_gamma(made, tmp_path):
    folder, printed, _ = made
    png = tmp_path / "check.png"
    result = read(options(folder, "a.tif", output=tmp_path / "r.csv", overlay=png))
    readings = negcurve.read_readings(tmp_path / "r.csv")
    assert readings.density_zero == "absolute"
    off = readings.density - printed.density_of(readings.negative_level)
    assert np.sqrt(np.mean(off**2)) < 0.008
    (wedge,) = result.wedges
    np.testing.assert_array_equal(wedge.density, UNEVEN)
    assert wedge.rms <= wedge.largest < 0.01
    # The picture reaches to the wedge, whose cells are outlined.
    with Image.open(png) as shown:
        page = np.asarray(shown.convert("RGB")).astype(int)
    rows, columns = page.shape[:2]
    right = page[: rows - 80, int(0.8 * columns) :]
    for colour in (READ, MARK):
        assert (np.abs(right - np.array(colour)).max(axis=2) < 12).sum() > 800


def test_scans_with_other_curves_agree(made, tmp_path):
    """The wedge lies in each; their means are of one zero."""
    folder, printed, _ = made
    result = read(options(folder, "a.tif", "b.tif"))
    assert len(result.wedges) == 2
    off = result.readings.density - printed.density_of(result.readings.negative_level)
    assert np.sqrt(np.mean(off**2)) < 0.008
    with pytest.raises(ReadingsError, match=r"none.tif: no strip of 9 even steps"):
        read(options(folder, "a.tif", "none.tif"))


def test_the_public_function_takes_a_box(made):
    folder, printed, laid = made
    corners = laid.corners_mm * printed.px_per_mm
    low, size = corners.min(axis=0), np.ptp(corners, axis=0)
    box = (low[0] + 5, low[1] - 8, size[0] - 4, size[1] + 12)
    asked = {"target": folder / "t.layout.json", "wedge": folder / "wedge.csv"}
    readings = negcurve.read_scan(folder / "a.tif", wedge_box=box, **asked)
    assert readings.density_zero == "absolute"
    with pytest.raises(ReadingsError, match="the box holds no strip of 9 even steps"):
        negcurve.read_scan(folder / "a.tif", wedge_box=(30, 30, 300, 90), **asked)


def test_one_channel_is_absolute_as_well(made):
    folder, printed, laid = made
    light = np.repeat(printed.reflectance[:, :, None], 3, axis=2)
    for channel in range(3):
        laid.lay(light[:, :, channel], printed.px_per_mm, printed.rng)
    curves = [lambda c: c, lambda c: 0.8 * c + 0.01, lambda c: 0.9 * c**0.9]
    channels = [
        scanned(light[:, :, n], printed, curve=curve).codes
        for n, curve in enumerate(curves)
    ]
    write_scan(folder / "rgb.tif", np.concatenate(channels, axis=2))
    readings = read(options(folder, "rgb.tif", channel="green")).readings
    assert (readings.density_kind, readings.density_zero) == ("green", "absolute")
    off = readings.density - printed.density_of(readings.negative_level)
    assert np.sqrt(np.mean(off**2)) < 0.01


@pytest.mark.parametrize(
    ("density", "said"),
    [
        ([0.1, 0.5, 0.9], "has 3 steps, 5 are needed at least"),
        (
            [0.05, 0.3, 0.2, 0.5, 0.9],
            r"step 3 \(D 0.2\) is not darker than step 2 \(D 0.3\) before it",
        ),
        (
            [1.5, 1.1, 0.7, 0.7, 0.1],
            r"step 4 \(D 0.7\) is not lighter than step 3 \(D 0.7\) before it",
        ),
    ],
)
def test_lists_that_are_none(tmp_path, density, said):
    with pytest.raises(ReadingsError, match=said):
        wedge_list(write_list(tmp_path / "w.csv", density))


def test_options_that_do_not_go_together(made, tmp_path):
    folder, _, _ = made
    with pytest.raises(FileError, match="does not exist"):
        read(options(folder, "a.tif", wedge=tmp_path / "no.csv"))
    with pytest.raises(InvalidValueError, match="but not which wedge it is"):
        read(options(folder, "a.tif", wedge=None, wedge_box=(1, 2, 30, 40)))
    with pytest.raises(InvalidValueError, match="one scan is meant, 2 are given"):
        read(options(folder, "a.tif", "b.tif", wedge_box=(1, 2, 30, 40)))
    with pytest.raises(InvalidValueError, match="but a list of densities is read"):
        read(options(folder, "a.tif", "wedge.csv"))
    with pytest.raises(FileError, match=r"wedge.csv"):
        read(options(folder, "a.tif", output=folder / "wedge.csv", overwrite=True))
