"""Patches with gaps of the brush, hairs and specks on rough paper, truth known."""

import numpy as np
import pytest
from scipy import ndimage

from negcurve.reading.patches import COVERED_SHARE, trimmed
from tests.reading.areas import BOX, PX_PER_MM, area, flat, texture

INNER = trimmed(BOX)
Y, X = (np.indices(flat(0).shape) + 0.5) / PX_PER_MM
U = (X - INNER.left_mm) / INNER.width_mm
V = (Y - INNER.top_mm) / INNER.height_mm
WHITE = 10**-0.08


def gap(kind, share):
    """Where a gap lies that covers a share of what is read."""
    if kind == "side":
        return share > U
    if kind == "middle":
        return np.abs(U - 0.4) < share / 2
    if kind == "corner":
        return np.hypot(U, V) < np.sqrt(4 * share / np.pi)
    return np.abs((3 * U) % 1 - 0.5) < share / 2


def printed(seed, *, density, grain, grain_mm):
    return 10 ** -(density + grain * texture(seed, grain_mm))


def covered(picture, mask, light, *, blur_mm):
    """Lay something of a light on a picture, soft at its rim."""
    share = ndimage.gaussian_filter(mask.astype(float), blur_mm * PX_PER_MM)
    return picture * (1 - share) + light * share


@pytest.mark.parametrize("kind", ["side", "middle", "corner", "three streaks"])
@pytest.mark.parametrize("share", [0.1, 0.2, 0.24])
def test_a_gap_does_not_move_the_mean(kind, share):
    """Within 0.005 D where less than a quarter is covered, whatever the tone."""
    rng = np.random.default_rng(5)
    for seed in range(6):
        density = rng.uniform(0.4, 1.6)
        picture = printed(seed, density=density, grain=0.02, grain_mm=0.1)
        blur = float(rng.uniform(0.03, 0.12))
        spoilt = covered(picture, gap(kind, share), WHITE, blur_mm=blur)
        read, clean = area(spoilt), area(picture)
        assert abs(np.log10(read.reflectance / clean.reflectance)) < 0.005


def test_on_rough_paper_the_error_is_that_of_the_smaller_area():
    """Coarse grain of 0.06 D: what is left of the patch is known less well."""
    z = []
    for seed in range(24):
        picture = printed(seed, density=1.2, grain=0.06, grain_mm=0.15)
        spoilt = covered(picture, gap("side", 0.2), WHITE, blur_mm=0.1)
        read, clean = area(spoilt), area(picture)
        z.append((read.reflectance - clean.reflectance) / read.standard_error)
    # Most of the area is shared with the clean patch, so their difference is small.
    assert np.sqrt(np.mean(np.square(z))) < 1


def test_many_soft_streaks_leave_the_mean_where_it_is():
    """A third covered, as much again half covered: little is left of the patch."""
    for seed in range(6):
        picture = printed(seed, density=1.0, grain=0.02, grain_mm=0.1)
        spoilt = covered(picture, gap("three streaks", 0.33), 0.35, blur_mm=0.14)
        read, clean = area(spoilt), area(picture)
        assert abs(np.log10(read.reflectance / clean.reflectance)) < 0.01
        assert read.left_out > COVERED_SHARE


def test_the_blurred_rim_of_a_gap_does_not_lighten_a_patch():
    """Half hidden in the grain of rough paper it would add 0.015 D here."""
    off = []
    for seed in range(12):
        picture = printed(seed, density=0.8, grain=0.06, grain_mm=0.1)
        spoilt = covered(picture, gap("side", 0.2), WHITE, blur_mm=0.3)
        off.append(np.log10(area(spoilt).reflectance / area(picture).reflectance))
    assert abs(np.mean(off)) < 0.006


def test_half_a_patch_of_something_else_is_still_told():
    picture = printed(1, density=1.0, grain=0.02, grain_mm=0.1)
    spoilt = covered(picture, gap("side", 0.45), WHITE, blur_mm=0.05)
    read = area(spoilt)
    assert abs(np.log10(read.reflectance / area(picture).reflectance)) < 0.01
    assert read.left_out > COVERED_SHARE


@pytest.mark.parametrize("light", [0.02, 0.9])
def test_hairs_and_specks_on_every_tone(light):
    rng = np.random.default_rng(9)
    for seed, density in enumerate((0.1, 0.4, 0.8, 1.2, 1.6)):
        picture = printed(seed, density=density, grain=0.03, grain_mm=0.1)
        mask = np.abs(Y - 7 - np.sin(X)) < 0.06
        for _ in range(6):
            x, y = rng.uniform((4, 4), (12, 10))
            mask |= np.hypot(X - x, Y - y) < rng.uniform(0.1, 0.4)
        read = area(covered(picture, mask, light, blur_mm=0.06))
        off = np.log10(read.reflectance / area(picture).reflectance)
        assert abs(off) < 0.005
        assert read.left_out < COVERED_SHARE


@pytest.mark.parametrize("grain", [0.01, 0.08])
@pytest.mark.parametrize("slope", [0.0, 0.1])
def test_nothing_is_foreign_on_a_clean_patch(grain, slope):
    """Rough grain and a slope over the patch are its own."""
    picture = printed(3, density=0.9, grain=grain, grain_mm=0.12) * 10 ** (slope * U)
    assert area(picture).left_out < 0.01


@pytest.mark.parametrize("grain_mm", [0.05, 0.1, 0.2])
def test_the_standard_error_is_honest_over_repeats(grain_mm):
    """Errors over their standard errors scatter by 1: 60 patches tell it to 9 %."""
    z = []
    for seed in range(60):
        read = area(printed(100 + seed, density=0.8, grain=0.05, grain_mm=grain_mm))
        z.append((read.reflectance, read.standard_error))
    value, error = np.array(z).T
    assert np.std((value - value.mean()) / error) == pytest.approx(1.0, abs=0.3)
