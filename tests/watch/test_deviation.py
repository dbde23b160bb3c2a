import numpy as np
import pytest

from negcurve.errors import InvalidValueError
from negcurve.watch.deviation import (
    StripCurve,
    assumed_curve,
    curve_from_film,
    split_deviation,
)

D_MIN, D_MAX = 0.06, 1.42


def paper(log_exposure):
    """A curve that is no logistic: 1 - exp(-10^u)."""
    return D_MIN + (D_MAX - D_MIN) * (1 - np.exp(-(10 ** (1.1 * log_exposure))))


AXIS = np.linspace(-3, 1.5, 400)
PLACES = np.linspace(-2.2, 0.6, 12)
CURVE = curve_from_film(-AXIS, paper(AXIS))


def middle():
    return float(np.interp((D_MIN + D_MAX) / 2, paper(AXIS), AXIS))


def test_exposure_scale_of_the_assumed_curve_is_the_one_that_was_asked_for():
    # ISO 6846 paper range: from d_min + 0.04 to 0.9 d_max, Focal Encyclopedia, p. 679.
    curve = assumed_curve(D_MIN, D_MAX, exposure_scale=1.6)
    low, high = curve.position([D_MIN + 0.04, 0.9 * D_MAX])
    assert high - low == pytest.approx(1.6, abs=0.005)
    assert curve.known
    assert not assumed_curve(D_MIN, D_MAX).known


@pytest.mark.parametrize("shift", [-0.2, -0.05, 0.05, 0.3])
def test_exposure_is_found_in_log_exposure_where_film_is_known(shift):
    found = split_deviation(paper(PLACES), paper(PLACES + shift), CURVE)
    assert found.log_exposure == pytest.approx(shift, abs=0.01 + 0.02 * abs(shift))
    np.testing.assert_allclose(found.parts[1:], 0, atol=0.01)


def test_exposure_is_not_given_in_log_exposure_where_film_is_unknown():
    curve = assumed_curve(D_MIN, D_MAX)
    found = split_deviation(paper(PLACES), paper(PLACES + 0.05), curve)
    assert found.log_exposure is None
    assert found.parts[0] > 0.03


def test_a_change_of_exposure_scale_at_fixed_mid_tone_is_contrast():
    mid = middle()
    moved = paper(mid + (PLACES - mid) * 1.6 / 1.7)
    found = split_deviation(paper(PLACES), moved, CURVE)
    assert found.parts[1] == pytest.approx(1.6 / 1.7 - 1, abs=0.005)
    assert abs(found.parts[0]) < 0.005


def test_d_max_and_white_are_found_at_their_ends():
    share = (paper(PLACES) - D_MIN) / (D_MAX - D_MIN)
    moved = paper(PLACES) - 0.08 * share + 0.03 * (1 - share)
    found = split_deviation(paper(PLACES), moved, CURVE)
    np.testing.assert_allclose(found.parts, [0, 0, -0.08, 0.03], atol=0.006)


def test_standard_errors_are_those_of_repeated_noise():
    rng = np.random.default_rng(1)
    found = [
        split_deviation(
            paper(PLACES), paper(PLACES) + rng.normal(0, 0.02, len(PLACES)), CURVE
        )
        for _ in range(150)
    ]
    seen = np.std([each.parts for each in found], axis=0)
    said = np.mean([np.sqrt(np.diag(each.covariance)) for each in found], axis=0)
    ratio = seen / said
    assert ((ratio > 0.55) & (ratio < 1.25)).all()


def test_ends_that_the_strip_does_not_show_are_not_given():
    mid = np.linspace(-0.8, -0.1, 6)
    found = split_deviation(paper(mid), paper(mid + 0.05), CURVE)
    assert np.isnan(found.parts[2:]).any()


def test_a_misread_strip_has_a_large_misfit():
    wrong = paper(PLACES)[::-1]
    assert split_deviation(paper(PLACES), wrong, CURVE).misfit > 3


def test_nothing_changed_gives_nothing():
    found = split_deviation(paper(PLACES), paper(PLACES), CURVE)
    np.testing.assert_allclose(found.parts, 0, atol=1e-6)


def test_three_patches_are_refused():
    with pytest.raises(InvalidValueError) as caught:
        split_deviation([0.1, 0.5, 1.0], [0.1, 0.5, 1.0], CURVE)
    assert str(caught.value) == (
        "strip: 3 patches are too few to tell what changed\n"
        "Read four or more patches, from light to dark."
    )


def test_a_curve_must_rise():
    with pytest.raises(InvalidValueError):
        StripCurve(log_exposure=[0, 1, 2], density=[0.1, 0.5, 0.4], known=True)
