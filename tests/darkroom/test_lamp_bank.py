"""Light of a tube bank against computed tables and against a sum over tubes."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from negcurve.darkroom.lamp_bank import (
    bank_distance_factor,
    center_light,
    dead_tube_loss,
    edge_light,
    overhang_for,
    ripple,
)
from negcurve.errors import InvalidValueError

# Height over spacing, least over greatest, its log, loss in %, its log: computed
# outside the project for endless tubes without reflector. The dip is 2 heights wide.
GEOMETRY = (
    (0.5, 0.8412, -0.0751, 58.4, -0.381),
    (0.75, 0.9647, -0.0156, 41.7, -0.234),
    (1, 0.9926, -0.0032, 31.7, -0.166),
    (1.25, 0.9984, -0.0007, 25.4, -0.128),
    (1.5, 0.9997, -0.0001, 21.2, -0.104),
    (2, 1.0000, -0.0000, 15.9, -0.075),
    (2.5, 1.0000, -0.0000, 12.7, -0.059),
    (3, 1.0000, -0.0000, 10.6, -0.049),
    (4, 1.0000, -0.0000, 8.0, -0.036),
)

# Overhang over height, light at the edge, its log.
OVERHANG = (
    (0, 0.500, -0.301),
    (0.5, 0.648, -0.189),
    (1, 0.750, -0.125),
    (1.5, 0.813, -0.090),
    (2, 0.852, -0.069),
    (3, 0.898, -0.047),
    (4, 0.922, -0.035),
    (5, 0.937, -0.028),
)


def summed(place: float, height: float, *, without: int | None = None) -> float:
    """Light of 200 001 tubes at spacing 1, by plain summing."""
    tubes = np.arange(-100_000, 100_001)
    each = height / (height**2 + (place - tubes) ** 2)
    if without is not None:
        each[tubes == without] = 0.0
    return float(each.sum())


@pytest.mark.parametrize(("height", "least", "log_least", "loss", "log_loss"), GEOMETRY)
def test_ripple_and_dead_tube(height, least, log_least, loss, log_loss) -> None:
    assert_allclose(ripple(height), least, atol=5e-5)
    assert_allclose(math.log10(ripple(height)), log_least, atol=5e-5)
    assert_allclose(100 * dead_tube_loss(height), loss, atol=0.05)
    # The table takes the log of the rounded loss at h/s = 3 and 4.
    assert_allclose(math.log10(1 - dead_tube_loss(height)), log_loss, atol=6e-4)


@pytest.mark.parametrize("height", [0.5, 1.0, 2.5])
def test_formulas_are_the_sum_over_tubes(height: float) -> None:
    under, between = summed(0.0, height), summed(0.5, height)
    assert_allclose(ripple(height), between / under, rtol=1e-4)
    dark = summed(0.0, height, without=0)
    assert_allclose(dead_tube_loss(height), 1 - dark / under, rtol=1e-4)


@pytest.mark.parametrize("height", [0.5, 1.0, 3.0])
def test_the_dip_is_two_heights_wide_at_half_depth(height: float) -> None:
    def missing(place: float) -> float:
        return summed(place, height) - summed(place, height, without=0)

    assert_allclose(missing(height), missing(0.0) / 2, rtol=1e-9)


@pytest.mark.parametrize(("overhang", "light", "log_light"), OVERHANG)
def test_edge_of_a_bank(overhang: float, light: float, log_light: float) -> None:
    assert_allclose(edge_light(overhang), light, atol=5e-4)
    assert_allclose(math.log10(edge_light(overhang)), log_light, atol=5e-4)
    assert_allclose(overhang_for(edge_light(overhang)), overhang, atol=1e-9)


def test_a_dead_tube_in_a_wide_bank_at_one_and_a_half_spacings() -> None:
    # Computed: x 0.788, log -0.104.
    assert_allclose(1 - dead_tube_loss(1.5), 0.788, atol=5e-4)


def test_distance_under_a_bank() -> None:
    # Far away a bank is a line: light falls with the distance, not with its square.
    assert_allclose(bank_distance_factor(1e5, 2e5, bank_width_mm=100), 2.0, rtol=1e-5)
    # Near a wide bank nothing changes.
    assert_allclose(bank_distance_factor(10, 20, bank_width_mm=1e5), 1.0, rtol=1e-3)
    # The middle of a bank is twice one edge that overhangs by half its width.
    assert_allclose(center_light(3.0), 2 * (edge_light(1.5) - 0.5))


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: ripple(0),
        lambda: dead_tube_loss(-1),
        lambda: edge_light(-0.1),
        lambda: overhang_for(1.0),
        lambda: center_light(0),
        lambda: bank_distance_factor(0, 10, bank_width_mm=100),
    ],
)
def test_impossible_geometry_is_refused(wrong) -> None:
    with pytest.raises(InvalidValueError):
        wrong()
