"""Negative against process, and a contrast agent's series."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from negcurve.darkroom.negative_range import fit_agent_series, match_range
from negcurve.errors import InvalidValueError, ReadingsError


def test_shortfall_of_a_negative() -> None:
    # Computed: scale 1.73, shadow 0.18, highlight 1.78: range 1.60, shortfall 0.13.
    found = match_range(1.73, thinnest=0.18, densest=1.78)
    assert_allclose(found.density_range, 1.60)
    assert_allclose(found.shortfall, 0.13)
    assert_allclose(found.gradient_factor, 1.73 / 1.60)


@pytest.mark.parametrize(
    ("densest", "kind", "words"),
    [
        (1.5, "digital", "does not block enough"),
        (1.78, "digital", "fits the process"),
        (2.5, "digital", "uses only a part"),
        (1.5, "camera", "too soft"),
        (1.78, "camera", "fits the process"),
        (2.5, "camera", "too hard"),
    ],
)
def test_verdicts(densest: float, kind, words: str) -> None:
    found = match_range(1.65, thinnest=0.1, densest=densest, kind=kind)
    assert words in found.verdict
    assert bool(found.advice) == ("fits" not in words)


@pytest.mark.parametrize(
    ("scale", "thinnest", "densest"), [(0, 0.1, 1.5), (1.7, 1.5, 0.1), (1.7, -0.1, 1.5)]
)
def test_impossible_ranges(scale: float, thinnest: float, densest: float) -> None:
    with pytest.raises(InvalidValueError):
        match_range(scale, thinnest=thinnest, densest=densest)


def test_a_saturating_series_is_recovered() -> None:
    dose = np.array([0.0, 1.0, 2.0, 4.0, 8.0])
    true = 1.3 + 0.8 * np.exp(-dose / 2.5)
    series = fit_agent_series(dose, true)
    assert_allclose(series.parameters, [2.1, 1.3, 2.5], rtol=1e-3)
    wanted = 1.3 + 0.8 * np.exp(-3.0 / 2.5)
    found = series.dose_for(wanted)
    assert_allclose(found.value, 3.0, atol=5e-3)
    assert found.low < 3.0 < found.high


def test_three_doses_go_through_and_two_make_a_line() -> None:
    three = fit_agent_series([0, 2, 4], [2.1, 1.8, 1.65])
    assert_allclose(three.scale_at([0, 2, 4]), [2.1, 1.8, 1.65], atol=1e-3)
    two = fit_agent_series([0, 4], [2.1, 1.7])
    assert_allclose(two.dose_for(1.9).value, 2.0, atol=1e-3)


def test_nothing_is_extrapolated() -> None:
    series = fit_agent_series([0, 2, 4], [2.1, 1.8, 1.65])
    with pytest.raises(ReadingsError) as caught:
        series.dose_for(1.4)
    assert str(caught.value) == (
        "contrast-agent series: your tests span scales 1.65 to 2.10, not 1.40\n"
        "Coat one more test sheet beyond the doses that you tried."
    )


@pytest.mark.parametrize(
    ("dose", "scale", "kind"),
    [
        ([1.0], [2.0], ReadingsError),
        ([1.0, 1.0], [2.0, 1.9], ReadingsError),
        ([0.0, 2.0], [1.8, 2.0], ReadingsError),
        ([-1.0, 2.0], [2.0, 1.8], InvalidValueError),
        ([0.0, 2.0], [2.0, -1.8], InvalidValueError),
        ([0.0, 2.0], [2.0], InvalidValueError),
    ],
)
def test_series_that_cannot_be_used(dose, scale, kind) -> None:
    with pytest.raises(kind):
        fit_agent_series(dose, scale)
