"""A step tablet in the window: drawn here by numpy alone, found and read."""

import numpy as np
import pytest
from scipy import ndimage

from negcurve.errors import ReadingsError
from negcurve.reading.geometry import Geometry
from negcurve.reading.tablet_steps import find_tablet, offer, read_tablet
from negcurve.target.layout import Box
from tests.reading.prints import ArraySource, GammaEncoding

WINDOW = Box(left_mm=10.0, top_mm=8.0, width_mm=144.0, height_mm=28.0)
LINEAR = GammaEncoding(1.0)


def printed(tablet_density):
    """A paper's density for what a tablet holds back."""
    return 0.08 + 1.35 / (1 + np.exp(-4.5 * (0.95 - tablet_density)))


def window_scan(
    tablet,
    *,
    pitch=4.0,
    breadth=14.0,
    start=9.0,
    across=14.0,
    tilt=0.0,
    turned=False,
    labels=False,
    lines=False,
    upright=False,
    noise=0.02,
    px_per_mm=10.0,
    seed=1,
):
    """Scan of a window with a tablet; its clear end is at the left unless turned."""
    rng = np.random.default_rng(seed)
    size = (int(44 * px_per_mm), int(164 * px_per_mm))
    y, x = (np.indices(size) + 0.5) / px_per_mm
    x, y = x - WINDOW.left_mm, y - WINDOW.top_mm
    angle = np.radians(tilt)
    middle = start + pitch * len(tablet) / 2
    u = (x - middle) * np.cos(angle) + (y - across) * np.sin(angle)
    v = -(x - middle) * np.sin(angle) + (y - across) * np.cos(angle)
    u = (-u if turned else u) + pitch * len(tablet) / 2
    step = np.floor(u / pitch).astype(int)
    inside = (u >= 0) & (step < len(tablet)) & (np.abs(v) < breadth / 2)
    film = np.where(inside, np.asarray(tablet)[np.clip(step, 0, len(tablet) - 1)], 0.0)
    if labels:
        place = u / pitch - step
        label = inside & (np.abs(place - 0.5) < 0.25) & (v > 0.25 * breadth)
        film = np.where(label, 3.0, film)
    if lines:
        film = np.where(
            inside & (np.abs(u - pitch * np.rint(u / pitch)) < 0.15), 3.0, film
        )
    density = printed(ndimage.gaussian_filter(film, 0.15 * px_per_mm))
    grain = ndimage.gaussian_filter(rng.normal(size=size), 1.0)
    density = density + noise * grain / grain.std()
    matrix = np.diag([px_per_mm, px_per_mm, 1.0])
    if upright:
        density = density.T
    codes = np.rint(np.minimum(10**-density, 1) * 65535).astype(np.uint16)[:, :, None]
    size_mm = (44.0, 164.0) if upright else (164.0, 44.0)
    geometry = Geometry(matrix=matrix, size_mm=size_mm)
    return ArraySource(codes), geometry


def turned_window():
    return Box(
        left_mm=WINDOW.top_mm,
        top_mm=WINDOW.left_mm,
        width_mm=WINDOW.height_mm,
        height_mm=WINDOW.width_mm,
    )


def steps(count, increment):
    return 0.05 + increment * np.arange(count)


CASES = {
    "plain": {},
    "turned": {"turned": True},
    "askew": {"tilt": 2.5, "start": 8.0},
    "askew the other way, turned": {"tilt": -2.0, "turned": True},
    "labels": {"labels": True},
    "lines between": {"lines": True},
    "narrow, low": {"breadth": 9.0, "across": 20.0},
    "nearly as broad as the window": {"breadth": 25.5},
    "coarse scan": {"px_per_mm": 6.0},
    "grainy": {"noise": 0.035},
    "upright": {"upright": True},
    "at the right": {"start": 18.0},
}


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize(("count", "increment"), [(31, 0.10), (21, 0.15)])
def test_steps_are_found_and_read(case, count, increment):
    tablet = steps(count, increment)
    pitch = 4.0 if count == 31 else 5.9
    options = {"pitch": pitch, **CASES[case]}
    source, geometry = window_scan(tablet, **options)
    window = turned_window() if CASES[case].get("upright") else WINDOW
    found = find_tablet(source, LINEAR, geometry, window, steps=count)
    assert found is not None
    np.testing.assert_allclose(found.pitch_mm, pitch, atol=0.06)
    readings, boxes = read_tablet(source, LINEAR, geometry, found, tablet)
    assert len(boxes) == count
    assert readings.patch[0] == "tablet 1"
    np.testing.assert_array_equal(readings.tablet_density, tablet)
    np.testing.assert_array_equal(readings.negative_level, 1.0)
    np.testing.assert_allclose(readings.density, printed(tablet), atol=0.02)


def test_black_window_holds_no_tablet():
    source, geometry = window_scan([0.0])
    assert find_tablet(source, LINEAR, geometry, WINDOW) is None


def test_a_stain_and_a_wedge_without_steps_are_no_tablet():
    source, geometry = window_scan([3.0], pitch=9.0)
    assert find_tablet(source, LINEAR, geometry, WINDOW) is None
    smooth = np.linspace(0.05, 3.05, 1240)
    source, geometry = window_scan(smooth, pitch=0.1)
    assert find_tablet(source, LINEAR, geometry, WINDOW) is None


def test_a_tablet_with_more_steps_than_there_is_room_for_is_refused():
    source, geometry = window_scan(steps(21, 0.15), pitch=5.9)
    found = find_tablet(source, LINEAR, geometry, WINDOW)
    with pytest.raises(ReadingsError, match=r"room for 2\d steps 5\.9 mm long"):
        read_tablet(source, LINEAR, geometry, found, steps(31, 0.10))


def test_a_covered_dense_end_is_refused_not_numbered():
    tablet = steps(31, 0.10)
    source, geometry = window_scan(tablet)
    # Opaque tape over the dense end and 1.6 mm beyond it prints white.
    right = int((WINDOW.left_mm + 9 + 31 * 4 + 1.6) * 10)
    source.codes[:, right - 60 : right] = round(10**-0.08 * 65535)
    found = find_tablet(source, LINEAR, geometry, WINDOW)
    with pytest.raises(ReadingsError, match="dense end"):
        read_tablet(source, LINEAR, geometry, found, tablet)


def test_the_offer_names_the_option_and_claims_no_reading():
    source, geometry = window_scan(steps(31, 0.10))
    finding = offer(find_tablet(source, LINEAR, geometry, WINDOW), source)
    assert finding.severity == "note"
    assert "not read" in finding.what
    assert "--tablet" in finding.fix
