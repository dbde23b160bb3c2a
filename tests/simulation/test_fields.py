import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.interpolate import BSpline

from negcurve.simulation.fields import (
    grain,
    knots_for,
    reduced,
    smooth_field,
    smooth_line,
    spline_weights,
    stretched,
)


def test_spline_weights_are_the_uniform_cubic_b_spline():
    # Reference: scipy.interpolate.BSpline on the same uniform knots.
    knots = 7
    values = np.random.default_rng(1).normal(size=knots)
    spline = BSpline(np.arange(-3.0, knots + 1), values, 3)
    place = np.linspace(0.0, knots - 3.0, 41)
    assert_allclose(spline_weights(41, knots) @ values, spline(place), atol=1e-6)


@pytest.mark.parametrize(
    "field",
    [
        lambda rng: smooth_field((60, 80), knots=(6, 9), rng=rng),
        lambda rng: smooth_line(200, knots=20, rng=rng),
        lambda rng: grain((80, 60), size_px=1.2, rng=rng),
        lambda rng: grain((300, 200), size_px=0.0, rng=rng),
    ],
)
def test_fields_have_unit_strength_and_repeat_by_seed(field):
    first = field(np.random.default_rng(3))
    assert first.dtype == np.float32
    assert_allclose(first.mean(), 0.0, atol=0.01)
    assert_allclose(first.std(), 1.0, atol=0.01)
    assert np.array_equal(first, field(np.random.default_rng(3)))
    assert not np.array_equal(first, field(np.random.default_rng(4)))


def test_more_knots_vary_faster():
    rng = np.random.default_rng(2)
    slow = smooth_line(1000, knots=8, rng=rng)
    fast = smooth_line(1000, knots=80, rng=rng)
    assert np.abs(np.diff(fast)).mean() > 5 * np.abs(np.diff(slow)).mean()
    assert knots_for(200.0, 50.0) == 7
    assert knots_for(10.0, 50.0) == 4


def test_stretched_keeps_a_ramp_and_a_constant():
    ramp = np.tile(np.arange(8, dtype=np.float32), (4, 1))
    wide = stretched(ramp, (12, 32))
    assert wide.shape == (12, 32)
    # Inside, pixel k of 32 lies at (k + 0.5) / 4 - 0.5 of 8.
    expected = (np.arange(2, 30) + 0.5) / 4 - 0.5
    assert_allclose(wide[5, 2:30], expected, atol=1e-6)
    assert_allclose(stretched(np.full((1, 1), 0.5, np.float32), (3, 4)), 0.5)


def test_reduced_averages_whole_blocks():
    image = np.arange(30, dtype=np.float32).reshape(5, 6)
    assert_allclose(reduced(image, 2), [[3.5, 5.5, 7.5], [15.5, 17.5, 19.5]])
    assert np.array_equal(reduced(image, 1), image)
