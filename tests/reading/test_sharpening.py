"""Sharpening as the textbooks have it: the picture plus a share of its difference from
its Gaussian blur."""

import numpy as np
import pytest
from scipy import ndimage

from negcurve.reading.scan import read_target
from negcurve.reading.sharpening import Overshoot, edge_overshoot, sharpening_findings
from tests.reading.prints import ArraySource, GammaEncoding, Print, SetUp

GAMMA = 2.2


def sharpened(layout, *, amount, radius, ppi=150, bits=8, **set_up):
    made = Print(
        layout, SetUp(ppi=ppi, noise=0.003, grain=0.01, tilt_degrees=1.7, **set_up)
    )
    level = np.clip(made.reflectance, 0, 1) ** (1 / GAMMA)
    level += amount * (level - ndimage.gaussian_filter(level, radius))
    largest = 2**bits - 1
    codes = np.rint(largest * np.clip(level, 0, 1)).astype(f"u{bits // 8}")
    return ArraySource(codes[:, :, None], resolution_ppi=(ppi, ppi))


def measured(layout, **options):
    source = sharpened(layout, **options)
    read = read_target(source, GammaEncoding(GAMMA), [layout])
    density = read.readings.density
    return edge_overshoot(source, read.geometry, layout, density), read


@pytest.mark.parametrize(
    ("amount", "radius", "ppi"),
    [(0.5, 1.0, 150), (1.0, 2.0, 150), (1.5, 0.7, 150), (1.0, 2.0, 300)],
)
def test_a_sharpened_scan_is_told(layout, amount, radius, ppi):
    overshoot, read = measured(layout, amount=amount, radius=radius, ppi=ppi)
    assert overshoot.is_sharpened
    (found,) = [each for each in read.readings.findings if "halos" in each.what]
    assert found.severity == "warning"
    assert "Turn off sharpening" in found.fix


@pytest.mark.parametrize("ppi", [150, 300])
@pytest.mark.parametrize("blur_mm", [0.02, 0.12])
def test_a_plain_scan_is_not(layout, ppi, blur_mm):
    overshoot, read = measured(layout, amount=0, radius=1, ppi=ppi, blur_mm=blur_mm)
    assert overshoot.light < 0.01
    assert overshoot.dark < 0.01
    assert read.readings.findings == ()


def test_patches_are_read_inside_their_halos(layout):
    """Strong sharpening of 2 pixels at 150 ppi: 6 pixels are left out at each side."""
    _, plain = measured(layout, amount=0, radius=2)
    _, sharp = measured(layout, amount=1.0, radius=2)
    change = sharp.readings.density - plain.readings.density
    assert np.abs(change).max() < 0.004
    assert not any(sharp.readings.flags)


def test_what_counts_as_sharpened():
    assert Overshoot(light=0.03, dark=0.03).is_sharpened
    assert not Overshoot(light=0.3, dark=0.01).is_sharpened
    assert Overshoot(light=None, dark=0.05).is_sharpened
    assert not Overshoot(light=0.03, dark=None).is_sharpened
    assert not Overshoot(light=None, dark=None).is_sharpened
    source = ArraySource(np.zeros((2, 2, 1), np.uint8))
    (found,) = sharpening_findings(Overshoot(light=0.07, dark=0.052), source)
    assert found.what == (
        "edges have halos of 7% of their height: the scan was sharpened"
    )


def test_a_faint_print_is_not_judged(layout):
    """Nearly all of it white: edges are too low to tell noise from halos."""
    overshoot, _ = measured(layout, amount=0, radius=1, d_max=0.2)
    assert overshoot == Overshoot(light=None, dark=None)


@pytest.mark.parametrize("cut_mm", [7.5, 5.2, -4.5])
def test_marks_beyond_the_scan_are_left_out(layout, cut_mm):
    """Cut so that one mark is lost whole, or its rim all but touches the cut."""
    made = Print(layout, SetUp(ppi=150, tilt_degrees=9, scan_gamma=GAMMA, bits=8))
    y = made.to_scan(*np.array(layout.marks_mm).T)[1]
    top = int(np.sort(y)[0] + cut_mm * made.px_per_mm)
    source = ArraySource(made.codes()[top:], resolution_ppi=(150, 150))
    read = read_target(source, GammaEncoding(GAMMA), [layout])
    assert len(read.corners) == (3 if cut_mm > 0 else 4)
    overshoot = edge_overshoot(source, read.geometry, layout, read.readings.density)
    assert not overshoot.is_sharpened
    assert overshoot.dark is not None
