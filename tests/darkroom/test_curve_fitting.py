"""The characteristic curve: parameters, errors, lamp gradients, refusals."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.optimize import curve_fit
from scipy.special import expit

from negcurve.darkroom.curve_fitting import fit_curve
from negcurve.darkroom.curve_shapes import SHAPES
from negcurve.darkroom.estimate import Estimate, blended
from negcurve.darkroom.iso6846 import BLACK_POINT, WHITE_POINT
from negcurve.darkroom.shape_fit import Point
from negcurve.errors import InvalidValueError, ReadingsError
from tests.darkroom.strips import D_MIN, RANGE, place, printed

X = -0.1 * np.arange(31)


def logistic(x, low, span, middle, log_width):
    return low + span * expit((x - middle) / np.exp(log_width))


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape.name)
def test_shapes_rise_from_0_to_1_with_their_slope(shape) -> None:
    u = np.linspace(-8, 8, 4001)
    share = shape.share(u)
    assert (np.diff(share) >= -1e-14).all()  # rounding on the flat ends
    assert shape.share(np.array([-59.0]))[0] < 1e-6
    assert shape.share(np.array([59.0]))[0] > 1 - 1e-6
    assert_allclose(shape.slope(u), np.gradient(share, u), atol=2e-4)
    for wanted in (0.02, 0.5, 0.98):
        assert_allclose(shape.share(np.array([shape.place(wanted)])), wanted, atol=1e-9)


def test_beliefs_are_a_probability() -> None:
    assert_allclose(sum(shape.belief for shape in SHAPES), 1.0)


def test_logistic_fit_and_covariance_agree_with_scipy() -> None:
    density = printed(X, noise=0.02, seed=3)
    ours = next(f for f in fit_curve(X, density).fits if f.shape.name == "logistic")
    start = [0.06, 1.4, -1.5, -1.1]
    theirs, covariance = curve_fit(logistic, X, density, p0=start)
    # The loose limits on D-min and D-max shift a full strip by well under an error.
    error = np.sqrt(np.diag(covariance))
    assert_allclose(ours.parameters, theirs, atol=0.1 * error.max())
    assert_allclose(np.sqrt(np.diag(ours.covariance)), error, rtol=0.02)


def test_points_of_a_strip_without_noise() -> None:
    curve = fit_curve(X, printed(X))
    assert_allclose(curve.d_min.value, D_MIN, atol=1e-4)
    assert_allclose(curve.d_max.value, D_MIN + RANGE, atol=2e-4)
    assert_allclose(curve.distance(WHITE_POINT, BLACK_POINT).value, 1.8, atol=1e-3)
    black = curve.place(Point.at_share(0.98)).value
    assert_allclose(black, place(0.98, scale=1.8), atol=1e-3)
    middle = curve.place(Point.at_density(D_MIN + RANGE / 2)).value
    assert_allclose(middle, -1.5, atol=1e-4)
    assert_allclose(curve.log_exposure_at(D_MIN + RANGE / 2), -1.5, atol=1e-4)
    below = curve.place(Point.below_black(0.03)).value
    assert_allclose(below, place(1 - 0.03 / RANGE, scale=1.8), atol=1e-3)
    # Average gradient: density over log exposure between the two points.
    gradient = curve.gradient_between(WHITE_POINT, BLACK_POINT).value
    assert_allclose(gradient, (0.9 * RANGE - 0.04) / 1.8, atol=1e-3)


@pytest.mark.parametrize(
    "point",
    [
        Point.at_share(0.9),
        Point.above_white(0.04),
        Point.below_black(0.05),
        Point.at_density(0.7),
    ],
)
def test_gradient_of_a_point_is_its_derivative(point: Point) -> None:
    fit = fit_curve(X, printed(X, noise=0.02)).fits[0]
    _, ours = fit.place(point)
    for number in range(4):
        moved = []
        for step in (-1e-6, 1e-6):
            parameters = fit.parameters.copy()
            parameters[number] += step
            moved.append(type(fit)(**{**vars(fit), "parameters": parameters}))
        numeric = (moved[1].place(point)[0] - moved[0].place(point)[0]) / 2e-6
        assert_allclose(ours[number], numeric, atol=1e-5)


def test_stated_errors_are_those_of_repeats() -> None:
    found = []
    for seed in range(150):
        curve = fit_curve(X, printed(X, noise=0.02, seed=seed))
        found.append(curve.distance(WHITE_POINT, BLACK_POINT))
    spread = np.std([each.value for each in found])
    stated = np.mean([each.standard_error for each in found])
    assert_allclose(stated, spread, rtol=0.25)
    held = np.mean([each.low <= 1.8 <= each.high for each in found])
    assert 0.83 <= held <= 0.97  # 0.90 within three deviations of 150 draws


def test_error_of_the_curve_is_that_of_repeats() -> None:
    at = np.array([-2.5, -1.5, -0.5])
    curves = [fit_curve(X, printed(X, noise=0.02, seed=seed)) for seed in range(100)]
    spread = np.std([curve.density_at(at) for curve in curves], axis=0)
    stated = np.mean([curve.standard_error_at(at) for curve in curves], axis=0)
    assert_allclose(stated, spread, rtol=0.35)


def test_two_strips_head_to_tail_take_out_a_lamp_gradient() -> None:
    along = np.linspace(-0.5, 0.5, 31)
    x, place_there = np.concatenate([X, X]), np.concatenate([along, -along])
    density = printed(x + 0.12 * place_there, noise=0.02, seed=5)
    curve = fit_curve(x, density, place=place_there)
    gradient = curve.parameter(4)
    assert_allclose(gradient.value, 0.12, atol=3 * gradient.standard_error)
    # Where the curve is steep the strips lie side by side, so the error is not small.
    assert gradient.standard_error < 0.05
    scale = curve.distance(WHITE_POINT, BLACK_POINT)
    assert_allclose(scale.value, 1.8, atol=3 * scale.standard_error)
    # One strip alone stretches the scale by the gradient over its length.
    alone = fit_curve(X, printed(X + 0.3 * along)).distance(WHITE_POINT, BLACK_POINT)
    assert_allclose(alone.value, 1.8 / (1 - 0.3 / 3.0), atol=0.02)


def test_unexposed_paper_narrows_the_white_end() -> None:
    x = X[:20]  # the light end was not read
    density = printed(x, noise=0.02, seed=2)
    without = fit_curve(x, density).distance(WHITE_POINT, BLACK_POINT)
    known = fit_curve(x, density, unexposed=D_MIN).distance(WHITE_POINT, BLACK_POINT)
    assert known.standard_error < without.standard_error


def test_a_paper_of_another_shape_is_recognized_when_readings_are_exact() -> None:
    # Straight between two soft corners, as a paper with a long straight part.
    u = (X + 2.2) / 1.4
    soft = 0.15
    share = soft * (np.logaddexp(0, u / soft) - np.logaddexp(0, (u - 1) / soft))
    curve = fit_curve(X, D_MIN + RANGE * share)
    best = max(curve.fits, key=lambda fit: fit.weight)
    assert best.shape.name == "straight, soft ends"
    assert best.weight > 0.99


def test_blend_of_equal_fits_is_one_student_interval() -> None:
    found = blended([2.0, 2.0], [0.04, 0.04], [0.5, 0.5], degrees_of_freedom=1e9)
    assert_allclose(found.value, 2.0)
    assert_allclose(
        [found.low, found.high], 2.0 + 0.2 * np.array([-1.644854, 1.644854])
    )


def test_blend_of_unlike_fits_holds_both() -> None:
    found = blended([1.0, 2.0], [1e-4, 1e-4], [0.5, 0.5], degrees_of_freedom=27)
    assert_allclose(found.value, 1.5)
    assert_allclose(found.standard_error, 0.5, rtol=1e-3)
    assert found.low < 1.0
    assert found.high > 2.0


def test_antilog_of_an_estimate() -> None:
    found = Estimate(value=0.0, standard_error=0.1, low=-0.2, high=0.2).antilog(60)
    assert_allclose(
        [found.value, found.low, found.high], [60, 37.857, 95.094], rtol=1e-4
    )
    assert_allclose(found.standard_error, 60 * np.log(10) * 0.1)


def test_antilog_of_next_to_nothing_known() -> None:
    found = Estimate(value=1.0, standard_error=500, low=-900, high=900).antilog()
    assert_allclose([found.low, found.value, found.high], [1e-30, 10, 1e30])


@pytest.mark.parametrize(
    ("x", "density", "message"),
    [
        (X[:5], printed(X)[:5], "5 steps are too few for a curve"),
        (X, np.full(31, 0.7), "the print densities differ by only 0.00"),
        (X, printed(X)[::-1], "the print gets darker towards the dense end"),
    ],
)
def test_strips_that_cannot_be_used(x, density, message: str) -> None:
    with pytest.raises(ReadingsError, match=message):
        fit_curve(x, density)


def test_unequal_lengths_are_refused() -> None:
    with pytest.raises(InvalidValueError, match="has 30 values for 31 exposures"):
        fit_curve(X, printed(X)[:30])
    with pytest.raises(InvalidValueError):
        fit_curve(X, np.append(printed(X)[:30], np.nan))


def test_a_point_beyond_the_curve_is_refused() -> None:
    curve = fit_curve(X, printed(X))
    with pytest.raises(ReadingsError, match="does not reach the point"):
        curve.place(Point.at_density(1.9))
    assert np.isnan(curve.log_exposure_at(1.9))
