"""Exposure arithmetic against published and computed examples."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from negcurve.darkroom.curve_fitting import fit_curve
from negcurve.darkroom.exposure import (
    beyond_inverse_square,
    density_from_factor,
    distance_factor,
    exposure_change,
    factor_from_density,
    factor_from_stops,
    integrator_time,
    log_steps,
    output_factor,
    plan_strip,
    stops_from_factor,
    uva_limit_time,
)
from negcurve.darkroom.first_print import time_for_black
from negcurve.density import (
    density_from_reflectance,
    lightness_from_reflectance,
    reflectance_from_density,
)
from negcurve.errors import InvalidValueError

# Stops, factor, exact log exposure, log exposure to two decimals: 2^n and its log10,
# computed; half and third stops as any exposure table prints them.
STOPS = (
    (-3, 0.1250000000, -0.9030899870, -0.90),
    (-2, 0.2500000000, -0.6020599913, -0.60),
    (-1, 0.5000000000, -0.3010299957, -0.30),
    (-1 / 2, 0.7071067812, -0.1505149978, -0.15),
    (-1 / 3, 0.7937005260, -0.1003433319, -0.10),
    (0, 1.0000000000, 0.0000000000, 0.00),
    (1 / 12, 1.0594630944, 0.0250858330, 0.03),
    (1 / 10, 1.0717734625, 0.0301029996, 0.03),
    (1 / 6, 1.1224620483, 0.0501716659, 0.05),
    (1 / 4, 1.1892071150, 0.0752574989, 0.08),
    (1 / 3, 1.2599210499, 0.1003433319, 0.10),
    (1 / 2, 1.4142135624, 0.1505149978, 0.15),
    (2 / 3, 1.5874010520, 0.2006866638, 0.20),
    (1, 2.0000000000, 0.3010299957, 0.30),
    (3 / 2, 2.8284271247, 0.4515449935, 0.45),
    (2, 4.0000000000, 0.6020599913, 0.60),
    (3, 8.0000000000, 0.9030899870, 0.90),
    (5, 32.0000000000, 1.5051499783, 1.51),
    (10, 1024.0000000000, 3.0102999566, 3.01),
)


@pytest.mark.parametrize(("stops", "factor", "exact", "rounded"), STOPS)
def test_stops_factors_and_log_exposure(
    stops: float, factor: float, exact: float, rounded: float
) -> None:
    assert_allclose(factor_from_stops(stops), factor, rtol=1e-9)
    assert_allclose(density_from_factor(factor), exact, atol=1e-9)
    assert_allclose(stops_from_factor(factor), stops, atol=1e-9)
    assert_allclose(exact, rounded, atol=0.005)


# Expected values were computed outside the project, to the digits printed here.
VECTORS = (
    ("half-stop step of a tablet", lambda: factor_from_density(0.15), 1.4125, 5e-5),
    ("0.30 in stops", lambda: stops_from_factor(10**0.30), 0.9966, 5e-5),
    (
        "least time for black, absolute densities on one UV scale",
        lambda: time_for_black(480, step_density=0.20, film_density=0.12),
        399.2,
        0.05,
    ),
    (
        "least time for black, film like the tablet's base",
        lambda: time_for_black(480, step_density=0.15),
        339.8,
        0.05,
    ),
    (
        "the same with that film over the tablet: its density drops out",
        lambda: time_for_black(
            480, step_density=0.15, film_density=0.12, film_over_tablet=0.12
        ),
        339.8,
        0.05,
    ),
    ("lamp at 0.85", lambda: output_factor(0.85), 1.1765, 5e-5),
    (
        "300 units, 1 unit/s, lamp at 0.9",
        lambda: integrator_time(300, units_per_s=1) * output_factor(0.9),
        333.3,
        0.05,
    ),
    ("inverse square, 50 to 70 cm", lambda: distance_factor(500, 700), 1.960, 5e-4),
    (
        "equal areas of D 1.00 and 1.20: reflectances average",
        lambda: float(
            density_from_reflectance(reflectance_from_density([1.0, 1.2]).mean())
        ),
        1.0886,
        5e-5,
    ),
    ("L* of Y 0.10", lambda: float(lightness_from_reflectance(0.1)), 37.842, 5e-4),
)


@pytest.mark.parametrize(("what", "calculate", "expected", "tolerance"), VECTORS)
def test_computed_examples(what, calculate, expected, tolerance) -> None:
    assert_allclose(calculate(), expected, rtol=0, atol=tolerance, err_msg=what)


def test_geometric_strip_and_its_covering_increments() -> None:
    # Computed: ratio sqrt 2 from 60 s, rounded to the second. That a geometric row
    # gives equal density differences: Clerc, Photography: Theory and Practice.
    plan = plan_strip(60, patches=7, stop_step=0.5)
    assert plan.times_s == (60, 85, 120, 170, 240, 339, 480)
    assert plan.increments_s == (60, 25, 35, 50, 70, 99, 141)
    assert_allclose(log_steps(np.array(plan.times_s)), 0.1505, atol=0.003)
    assert sum(plan.increments_s) == plan.times_s[-1]


def test_steps_of_an_arithmetic_strip_shrink() -> None:
    # Computed: 60, 120 ... 420 s.
    steps = log_steps(np.arange(60.0, 421.0, 60.0))
    assert_allclose(steps, [0.301, 0.176, 0.125, 0.097, 0.079, 0.067], atol=5e-4)


def test_inverse_square_is_good_to_one_percent_beyond_five_diameters() -> None:
    # Source: Illuminating Engineering Society, definition of the inverse-square law.
    far = 1e6
    ratio = distance_factor(500, far, source_diameter_mm=100) / distance_factor(
        500, far
    )
    assert_allclose(ratio, 0.99, atol=5e-4)
    assert beyond_inverse_square(499, 100)
    assert not beyond_inverse_square(500, 100)


@pytest.mark.parametrize(("irradiance", "time_s"), [(1, 1000), (5, 200), (10, 100)])
def test_time_to_the_uva_eye_limit(irradiance: float, time_s: float) -> None:
    # Source: ICNIRP 2004, 10 000 J/m2 within 8 h; times computed from it.
    assert_allclose(uva_limit_time(irradiance), time_s)


def test_exposure_change_between_two_densities() -> None:
    # On a known curve the change is the difference of its inverse, here closed form.
    x = -0.1 * np.arange(31)
    middle, width = -1.4, 0.3
    density = 0.06 + 1.4 / (1 + np.exp(-(x - middle) / width))
    curve = fit_curve(x, density)
    change = exposure_change(curve, has_density=0.5, wanted_density=0.9)

    def inverse(value: float) -> float:
        share = (value - 0.06) / 1.4
        return width * math.log(share / (1 - share))

    assert_allclose(math.log10(change.value), inverse(0.9) - inverse(0.5), atol=2e-4)


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: plan_strip(0),
        lambda: plan_strip(60, patches=1),
        lambda: plan_strip(60, stop_step=0),
        lambda: plan_strip(1, patches=5, stop_step=0.05),
        lambda: output_factor(0),
        lambda: output_factor(float("nan")),
        lambda: integrator_time(-1, units_per_s=1),
        lambda: distance_factor(0, 70),
        lambda: distance_factor(50, 70, source_diameter_mm=-1),
        lambda: stops_from_factor(0),
        lambda: uva_limit_time(0),
        lambda: time_for_black(0, step_density=0.2),
    ],
)
def test_impossible_values_are_refused(wrong) -> None:
    with pytest.raises(InvalidValueError):
        wrong()


def test_the_sentence_for_an_impossible_value() -> None:
    with pytest.raises(InvalidValueError) as caught:
        output_factor(-0.5)
    assert str(caught.value) == (
        "lamp output: -0.5 is not above 0\nGive a number above 0."
    )
