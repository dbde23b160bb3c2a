import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from scipy.interpolate import BSpline
from scipy.optimize import isotonic_regression

from negcurve.curves import Effect, fit_monotone, turning_points
from negcurve.curves.basis import DEGREE, spline_basis
from negcurve.curves.climbing import climb
from negcurve.curves.model import CURVE, Prior, Task, curve
from tests.response.prints import true_density

LEVEL = np.linspace(0, 1, 51)


def noisy(count=51, noise=0.01, seed=1, level=None):
    level = np.linspace(0, 1, count) if level is None else level
    random = np.random.default_rng(seed)
    return level, true_density(level) + random.normal(0, noise, len(level))


def off(fit, truth=true_density):
    return fit.value - truth(fit.abscissa)


def test_basis_sums_to_one_and_integrates_to_the_position():
    position = np.linspace(0, 1, 77)
    slope, height = spline_basis(position)
    assert_allclose(slope.sum(axis=1), 1, atol=1e-12)
    assert_allclose(height.sum(axis=1), position, atol=1e-12)


def test_basis_integral_agrees_with_the_antiderivative_of_scipy():
    position = np.linspace(0, 1, 41)
    _, height = spline_basis(position)
    count = height.shape[1]
    inner = count - DEGREE
    knots = np.arange(-DEGREE, inner + DEGREE + 1) / inner
    for place in (0, 1, 17, count - 1):
        unit = np.eye(count)[place]
        whole = BSpline(knots, unit, DEGREE).antiderivative()
        assert_allclose(height[:, place], whole(position) - whole(0.0), atol=1e-12)


def test_jacobian_agrees_with_finite_differences():
    random = np.random.default_rng(4)
    theta = np.concatenate([[0.1, 0.3, -4.0], random.normal(2, 0.3, CURVE - 3)])
    basis = spline_basis(np.array([0.05, 0.4, 0.9]))
    found = curve(theta, basis).jacobian
    for place in (0, 1, 2, 3, 12, CURVE - 1):
        step = np.zeros(CURVE)
        step[place] = 1e-5
        up, down = curve(theta + step, basis).value, curve(theta - step, basis).value
        assert_allclose(found[:, place], (up - down) / 2e-5, atol=1e-8)


def test_slope_agrees_with_finite_differences():
    theta = np.concatenate([[0.1, 0.3, -4.0], np.linspace(1.5, 2.5, CURVE - 3)])
    at = np.array([0.2, 0.5, 0.8])
    up = curve(theta, spline_basis(at + 1e-6)).value
    down = curve(theta, spline_basis(at - 1e-6)).value
    assert_allclose(curve(theta, spline_basis(at)).slope, (up - down) / 2e-6, rtol=1e-6)


def test_evidence_agrees_with_the_exact_gaussian_where_the_model_is_linear():
    """With one offset known to within 1 and the curve pinned, the evidence of a mean
    of normal readings is exact: multivariate normal, C = s^2 I + t^2 11'."""
    level, value = noisy(noise=0.02, seed=3)
    scores = []
    for typical in (0.02, 0.2):
        shared = Effect(
            name="offset", columns=np.ones((len(level), 1)), typical=typical, fixed=True
        )
        task = Task(
            basis=spline_basis(level),
            value=value + 0.1,
            relative_error=np.ones(len(level)),
            effects=(shared,),
        )
        prior = Prior(order=1, stiffness=1e9, low=0.08, span=1.33)
        start = np.concatenate(
            [[0.08, np.log(1.4), -4.5], np.full(CURVE - 3, np.log(9.0))]
        )
        scores.append(climb(task, prior, start, steps=40))
    # The low end is all but free (within half the span), so an offset of either size
    # costs the same but for its share in the sum of both spreads.
    low_end = 0.5 * 1.33
    exact = [
        -0.5 * np.log(low_end**2 + typical**2)
        - 0.5 * 0.1**2 / (low_end**2 + typical**2)
        for typical in (0.02, 0.2)
    ]
    found = scores[1].evidence - scores[0].evidence
    assert found == pytest.approx(exact[1] - exact[0], abs=0.05)


@settings(max_examples=8, deadline=None)
@given(
    st.integers(8, 40).flatmap(
        lambda n: st.tuples(
            st.lists(st.floats(0, 1), min_size=n, max_size=n, unique=True),
            st.lists(st.floats(0, 2), min_size=n, max_size=n),
        )
    )
)
def test_any_readings_give_a_finite_rising_curve(rows):
    level, value = rows
    if np.ptp(level) < 1e-3:
        return
    fit = fit_monotone(level, value)
    assert (np.diff(fit.value) >= 0).all()
    assert np.isfinite(fit.error).all()
    assert (fit.error >= 0).all()


def test_clean_readings_are_met():
    fit = fit_monotone(*noisy(noise=0.0005))
    assert np.abs(off(fit)).max() < 0.002


def test_noise_is_found():
    fit = fit_monotone(*noisy(count=201, noise=0.02))
    assert np.median(fit.noise) == pytest.approx(0.02, rel=0.15)


def test_noise_that_grows_is_found():
    level = np.linspace(0, 1, 201)
    random = np.random.default_rng(5)
    truth = true_density(level)
    value = truth + random.normal(0, 1, 201) * (0.005 + 0.02 * truth)
    fit = fit_monotone(level, value)
    assert fit.noise[0] == pytest.approx(0.0066, rel=0.5)
    assert fit.noise[-1] == pytest.approx(0.0346, rel=0.4)


def test_it_beats_isotonic_regression_by_half():
    ours, rival = [], []
    for seed in range(4):
        level, value = noisy(seed=seed, noise=0.02)
        ours.append(np.mean(off(fit_monotone(level, value)) ** 2))
        rival.append(np.mean((isotonic_regression(value).x - true_density(level)) ** 2))
    assert np.sqrt(np.mean(ours)) < 0.5 * np.sqrt(np.mean(rival))


def test_order_of_rows_does_not_matter():
    level, value = noisy()
    shuffled = np.random.default_rng(0).permutation(len(level))
    one, other = (
        fit_monotone(level, value),
        fit_monotone(level[shuffled], value[shuffled]),
    )
    assert_allclose(one.value, other.value, atol=1e-5)


@pytest.mark.parametrize("size", [0.1, 0.4, 2.0])
@pytest.mark.parametrize("place", [0, 13, 25, 50])
def test_a_stray_changes_little(place, size):
    level, value = noisy()
    clean = fit_monotone(level, value)
    value[place] += size
    fit = fit_monotone(level, value)
    assert fit.weights[place] < 0.1
    assert np.abs(fit.value - clean.value).max() < 2 * clean.error.max()


def test_a_corner_stays_a_corner():
    def bent(level):
        return 0.1 + np.where(level < 0.6, 0.5 * level, 0.3 + 2.5 * (level - 0.6))

    level = np.linspace(0, 1, 101)
    random = np.random.default_rng(2)
    fit = fit_monotone(level, bent(level) + random.normal(0, 0.005, 101))
    near = np.abs(fit.abscissa - 0.6) < 0.05
    assert np.abs(off(fit, bent))[near].max() < 0.02
    slope = np.interp([0.5, 0.7], fit.abscissa, fit.slope)
    assert_allclose(slope, [0.5, 2.5], rtol=0.15)


def test_nine_of_ten_truths_lie_in_the_band():
    inside = []
    for seed in range(12):
        fit = fit_monotone(*noisy(seed=seed, noise=0.015))
        inside.append(np.mean(np.abs(off(fit)) < 1.645 * fit.error))
    assert 0.82 < np.mean(inside) < 0.98


def test_more_readings_halve_the_error_as_promised():
    few = fit_monotone(*noisy(count=51, noise=0.02))
    many = fit_monotone(*noisy(count=round(51 * few.halving), noise=0.02))
    assert many.error.mean() == pytest.approx(few.error.mean() / 2, rel=0.3)


def test_repeats_are_used_as_repeats():
    level = np.repeat(np.linspace(0, 1, 17), 6)
    fit = fit_monotone(*noisy(level=level, noise=0.02))
    assert np.median(fit.noise) == pytest.approx(0.02, rel=0.2)
    assert np.abs(off(fit)).max() < 0.025


def test_an_effect_is_found_with_the_curve():
    level, value = noisy(count=102, noise=0.008)
    random = np.random.default_rng(8)
    x = random.uniform(-1, 1, 102)
    value = true_density(level, shift=0.4 * x) + (value - true_density(level))
    effect = Effect(name="light", columns=x[:, None], scale="exposure", typical=0.2)
    with_it = fit_monotone(level, value, effects=[effect])
    assert with_it.coefficients["light"][0] == pytest.approx(0.4, abs=0.05)
    assert with_it.coefficient_errors("light")[0] < 0.04
    assert np.abs(off(with_it)).max() < 0.012
    assert_allclose(
        with_it.parts["light"],
        true_density(level, shift=0.4 * x) - true_density(level),
        atol=0.012,
    )
    without = fit_monotone(level, value)
    assert np.mean(off(with_it) ** 2) < 0.25 * np.mean(off(without) ** 2)


def test_an_optional_effect_that_is_not_there_costs_little():
    level, value = noisy(count=102)
    x = np.random.default_rng(8).uniform(-1, 1, (102, 4))
    effect = Effect(name="light", columns=x, scale="exposure", optional=True)
    plain = fit_monotone(level, value)
    fit = fit_monotone(level, value, effects=[effect])
    assert np.abs(fit.value - plain.value).max() < plain.error.max()
    assert np.abs(fit.parts["light"]).max() < 0.01


def test_less_certain_readings_count_less():
    level, value = noisy(noise=0.005)
    relative = np.ones(51)
    relative[20:30] = 20.0
    value[20:30] += 0.04
    trusting = fit_monotone(level, value)
    careful = fit_monotone(level, value, relative_error=relative)
    middle = np.abs(careful.abscissa - 0.5) < 0.1
    assert np.abs(off(careful))[middle].max() < np.abs(off(trusting))[middle].max() / 2


@pytest.mark.parametrize("seed", range(5))
def test_noise_is_no_turn(seed):
    level, value = noisy(seed=seed, noise=0.02, count=101)
    assert turning_points(level, value) == (0.0, 1.0)


def test_a_flat_end_with_a_stray_is_no_turn():
    level, value = noisy(count=101)
    value[-3] -= 0.3
    assert turning_points(level, value) == (0.0, 1.0)


@pytest.mark.parametrize("end", ["top", "bottom"])
def test_turns_are_found(end):
    level = np.linspace(0, 1, 51)
    fall = 0.9 * np.maximum(level - 0.85, 0)
    value = true_density(level) - fall
    if end == "bottom":
        level, value = 1 - level, 1.6 - value
    value = value + np.random.default_rng(1).normal(0, 0.01, 51)
    bottom, top = turning_points(level, value)
    if end == "top":
        assert bottom == 0
        assert top == pytest.approx(0.87, abs=0.05)
    else:
        assert top == 1
        assert bottom == pytest.approx(0.13, abs=0.05)


def test_arguments_stay_as_they_were():
    level, value = noisy()
    kept = level.copy(), value.copy()
    fit_monotone(level, value)
    assert_array_equal(level, kept[0])
    assert_array_equal(value, kept[1])


def test_a_sharp_toe_is_followed_where_readings_are_clean():
    def toe(level):
        return 0.07 + 1.3 * -np.expm1(-2.2 * np.maximum(level - 0.1, 0))

    level = np.linspace(0, 1, 101)
    fit = fit_monotone(level, toe(level))
    # Knots stand 1 / 34 apart and the toe leaves white at 2.86 D: what the splines
    # cannot follow is a third of the rise between two knots, at the corner alone.
    assert np.abs(off(fit, toe)).max() < 2.86 / 34 / 3
    assert np.sqrt(np.mean(off(fit, toe) ** 2)) < 0.004
    # The readings cannot be spent on more parameters than the curve has.
    assert fit.used < CURVE


def test_a_steep_end_is_no_stray():
    level = np.linspace(0, 1, 21)
    random = np.random.default_rng(6)
    truth = 0.06 + 1.45 * level**9
    fit = fit_monotone(level, truth + random.normal(0, 0.02, 21))
    assert fit.weights[-1] > 0.5
    assert fit.value[-1] == pytest.approx(truth[-1], abs=0.08)
