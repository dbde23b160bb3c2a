"""A step tablet in a target's window, through simulated darkroom and scanner."""

from contextlib import closing

import numpy as np
import pytest

from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.files.layout_json import read_layout
from negcurve.files.pictures import open_picture
from negcurve.files.readings_csv import read_readings
from negcurve.files.tiff import GreyTiffWriter
from negcurve.response.solving import solve
from negcurve.simulation.setups import demo_set_up
from negcurve.tasks.read import read
from negcurve.tasks.read_options import ReadOptions
from negcurve.tasks.read_tablet import tablet_named
from negcurve.tasks.simulated import print_file, scan_to_file
from negcurve.tasks.target import TargetOptions, target

TABLET = 0.05 + 0.1 * np.arange(31)
PITCH_MM = 4.1


def lay_tablet(codes, layout, film, *, ppi):
    """Draw what the tablet holds back as ink of that density; the file is mirrored."""
    level = np.linspace(1, 0, 65536)
    printing = film.density(level) - film.density(1.0)
    box = layout.tablet_window
    for step, density in enumerate(TABLET):
        ink = float(np.interp(density, printing, level))
        left = box.left_mm + 6 + step * PITCH_MM
        top = box.top_mm + 6
        a, b = (round(v * ppi / 25.4) for v in (top, top + 15))
        c, d = (round(v * ppi / 25.4) for v in (left, left + PITCH_MM))
        width = codes.shape[1]
        codes[a:b, width - d : width - c] = round(65535 * ink)


@pytest.fixture(scope="module")
def print_with_tablet(tmp_path_factory):
    folder = tmp_path_factory.mktemp("tablet")
    path = folder / "target.tif"
    target(TargetOptions(output=path, sheet="8x10in", ppi=120))
    layout = read_layout(path)
    with closing(open_picture(path)) as source:
        codes = source.rows(0, source.height)[..., 0].copy()
    set_up = demo_set_up()
    lay_tablet(codes, layout, set_up.darkroom.film, ppi=120)
    negative = folder / "laid.tif"
    with GreyTiffWriter(
        negative,
        width=codes.shape[1],
        height=codes.shape[0],
        resolution_ppi=120,
        description="negcurve negative",
    ) as writer:
        writer.write(codes)
    sheet = print_file(set_up, negative, border_mm=8, seed=3)
    scan_to_file(set_up, sheet, folder / "scan.tif", seed=4)
    return folder, set_up.darkroom


def test_steps_are_read_kept_and_tell_film_from_paper(print_with_tablet):
    folder, darkroom = print_with_tablet
    options = ReadOptions(
        inputs=[folder / "scan.tif"],
        target=folder / "target.tif",
        output=folder / "r.csv",
        overlay=folder / "check.png",
        tablet="31x0.10",
        overwrite=True,
    )
    read(options)
    readings = read_readings(folder / "r.csv")
    assert readings.on_tablet.sum() == 31
    assert readings.patch[-1] == "tablet 31"
    np.testing.assert_allclose(readings.tablet_density[-31:], TABLET)
    solution = solve([readings])
    level = np.linspace(solution.film.measured_from, 1, 60)
    film = darkroom.film
    true = film.density(level) - film.density(1.0)
    off = solution.film.density(level) - true
    assert np.sqrt(np.mean(off**2)) < 0.06
    whole = np.sqrt(
        np.mean((off / np.hypot(solution.film.standard_error(level), 0.02)) ** 2)
    )
    assert whole < 2.5


def test_a_tablet_that_was_not_named_is_offered_only(print_with_tablet):
    folder, _ = print_with_tablet
    options = ReadOptions(inputs=[folder / "scan.tif"], target=folder / "target.tif")
    result = read(options)
    assert not result.readings.on_tablet.any()
    said = [each for each in result.findings if "step tablet" in each.what]
    assert len(said) == 1
    assert "--tablet" in said[0].fix


def test_a_list_of_steps_needs_the_tablet_named(tmp_path):
    path = tmp_path / "strip.csv"
    rows = [f"{step},{1.4 - 0.04 * step}" for step in range(1, 32)]
    path.write_text("\n".join(["step,density", *rows]))
    with pytest.raises(ReadingsError, match="which tablet is not said"):
        read(ReadOptions(inputs=[path]))
    found = read(ReadOptions(inputs=[path], tablet="31x0.1", film_over=False)).readings
    np.testing.assert_allclose(found.tablet_density, TABLET)
    assert not found.tablet_over_film


@pytest.mark.parametrize(
    ("name", "steps", "last"),
    [("21x0.15", 21, 3.05), ("31", 31, 3.05), ("11X.2", 11, 2.05)],
)
def test_tablets_are_named_by_steps_and_increment(name, steps, last):
    tablet = tablet_named(name)
    assert tablet.steps == steps
    np.testing.assert_allclose(tablet.density[-1], last)
    assert tablet.nominal


@pytest.mark.parametrize("name", ["31x", "500x0.1", "31x0.9", "nothing.csv"])
def test_what_is_no_tablet_is_refused(name):
    with pytest.raises(InvalidValueError, match=r"31x0\.10"):
        tablet_named(name)
