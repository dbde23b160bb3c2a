import dataclasses

import numpy as np
import pytest
from numpy.testing import assert_allclose

from negcurve.errors import InvalidValueError
from negcurve.simulation.paper import ImageColour
from negcurve.simulation.scanner import Scanner
from negcurve.simulation.scanner_encoding import ScannerEncoding
from negcurve.simulation.wedge import LaidWedge, ReflectionWedge

WEDGE = ReflectionWedge(density=(0.1, 0.5, 1.0, 1.5), step_mm=8, width_mm=12)
PPI = 127.0  # 5 pixels to a millimetre
SIZE_MM = (80.0, 100.0)

CLEAN = Scanner(
    name="clean",
    encoding=ScannerEncoding(name="raw", gamma=1.0),
    resolution_ppi=PPI,
    skew_deg=0.0,
    keystone=0.0,
    stretch=0.0,
    flare=0.0,
    unevenness=0.0,
    read_noise=0.0,
    shot_noise=0.0,
    dust_count=0,
    hair_count=0,
)


def scanned(laid, *, colour=None, **changes):
    sheet = np.full((500, 400), 0.3, np.float32)
    scanner = dataclasses.replace(CLEAN, **changes)
    scan = scanner.scan(
        sheet,
        resolution_ppi=PPI,
        colour=colour or ImageColour(),
        wedge=laid,
        seed=1,
    )
    return scan.codes / 65535, scanner


def step_places(laid, size_mm=SIZE_MM):
    """Middles of the steps on the print, found without the code's own mapping."""
    wedge = laid.wedge
    along = (np.arange(len(wedge.density)) + 0.5) * wedge.step_mm
    along -= len(wedge.density) * wedge.step_mm / 2
    angle = np.radians(laid.askew_deg - 90 * laid.quarter_turns)
    x, y = laid.centre_mm(size_mm)
    return x + along * np.cos(angle), y + along * np.sin(angle)


@pytest.mark.parametrize("side", ["left", "right", "top", "bottom"])
@pytest.mark.parametrize("turns", range(4))
def test_steps_lie_beside_the_print_whole_and_in_order(side, turns):
    laid = LaidWedge(
        wedge=WEDGE, side=side, quarter_turns=turns, askew_deg=3.0, along=0.2
    )
    codes, scanner = scanned(laid, skew_deg=-2.0)
    x, y = step_places(laid)
    assert ((x < 0) | (x > 80) | (y < 0) | (y > 100)).all()
    left, top, _, _ = scanner.margins_mm(SIZE_MM, laid)
    angle = np.radians(-2.0)
    u, v = x - 40, y - 50
    column = 5 * (np.cos(angle) * u - np.sin(angle) * v + 40 + left)
    row = 5 * (np.sin(angle) * u + np.cos(angle) * v + 50 + top)
    for light, r, c in zip(
        10 ** -np.array(WEDGE.density), row.astype(int), column.astype(int), strict=True
    ):
        area = codes[r - 10 : r + 10, c - 10 : c + 10]
        assert_allclose(area.mean(), light, rtol=0.01)


def test_steps_have_the_mean_reflectance_that_their_maker_states():
    grainy = dataclasses.replace(WEDGE, grain=0.05, step_mm=40, width_mm=60)
    drawn = grainy.reflectance_image(resolution_ppi=254, seed=3)
    assert drawn.shape == (600, 1600)
    mean = drawn.reshape(600, 4, 400).mean(axis=(0, 2))
    assert_allclose(-np.log10(mean), WEDGE.density, atol=0.001)


def test_the_border_goes_round_the_steps():
    framed = dataclasses.replace(WEDGE, border_mm=2, border_density=2.0, grain=0.0)
    assert framed.size_mm == (36, 16)
    drawn = framed.reflectance_image(resolution_ppi=PPI, seed=1)
    assert_allclose(drawn[:10], 0.01, rtol=1e-5)
    assert_allclose(drawn[:, -10:], 0.01, rtol=1e-5)
    assert_allclose(drawn[40, 10:50], 10**-0.1, rtol=1e-5)


def test_the_wedge_and_the_lid_are_neutral_beside_a_blue_print():
    blue = ImageColour(red=1.35, green=1.0, blue=0.62)
    laid = LaidWedge(wedge=WEDGE, side="right", quarter_turns=1)
    codes, scanner = scanned(laid, colour=blue)
    x, y = step_places(laid)
    left, top, _, _ = scanner.margins_mm(SIZE_MM, laid)
    step = codes[int(5 * (y[2] + top)), int(5 * (x[2] + left))]
    assert_allclose(step, step[0], rtol=1e-3)
    assert_allclose(codes[0, 0], CLEAN.lid, rtol=1e-3)
    middle = codes[int(5 * (50 + top)), int(5 * (40 + left))]
    assert middle[0] < 0.8 * middle[2]


def test_without_a_wedge_the_scan_reaches_as_far_as_its_border():
    assert CLEAN.margins_mm(SIZE_MM) == (6, 6, 6, 6)
    cropped = dataclasses.replace(CLEAN, crop_mm=(1.0, 2.0, 3.0, 10.0))
    assert cropped.margins_mm(SIZE_MM) == (5, 4, 3, -4)


def test_a_wedge_needs_two_steps():
    with pytest.raises(InvalidValueError, match="needs two densities"):
        ReflectionWedge(density=(0.1,))


def test_no_crop_cuts_into_the_wedge():
    laid = LaidWedge(wedge=WEDGE, side="right", along=1.0)
    cropped = dataclasses.replace(CLEAN, crop_mm=(8.0, 8.0, 30.0, 30.0))
    # 4 mm of gap and 12 mm of wedge at the right, which ends with the sheet below.
    assert cropped.margins_mm(SIZE_MM, laid) == pytest.approx((-2, -2, 19, 3))
