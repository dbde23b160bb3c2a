"""Printing density by matching against a tablet on the same sheet."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from negcurve.darkroom.curve_fitting import fit_curve
from negcurve.darkroom.matching import density_between, match_patches, second_sheet
from negcurve.darkroom.tablet import nominal_tablet
from negcurve.errors import InvalidValueError
from tests.darkroom.strips import D_MIN, RANGE, place, printed

X = -nominal_tablet("31").density


def test_between_two_steps() -> None:
    # Computed: the patch prints 0.62, steps 1.20 and 1.35 print 0.66 and 0.55.
    found = density_between(0.62, step_densities=(1.20, 1.35), step_prints=(0.66, 0.55))
    assert_allclose(found, 1.255, atol=6e-4)


def test_not_between_the_two_steps() -> None:
    with pytest.raises(
        InvalidValueError, match=r"does not lie between 0\.55 and 0\.66"
    ):
        density_between(0.7, step_densities=(1.20, 1.35), step_prints=(0.66, 0.55))


@pytest.mark.parametrize("share", [0.12, 0.5, 0.83])
def test_a_match_without_noise_is_exact(share: float) -> None:
    curve = fit_curve(X, printed(X))
    (found,) = match_patches(curve, patch=["a"], density=[D_MIN + share * RANGE])
    assert found.limit == "within"
    assert_allclose(found.printing_density.value, -place(share, scale=1.8), atol=1e-3)


def test_matches_with_two_readings_are_within_their_errors() -> None:
    rng = np.random.default_rng(7)
    errors, stated, held = [], [], []
    for seed in range(60):
        curve = fit_curve(X, printed(X, noise=0.02, seed=seed))
        share = rng.uniform(0.12, 0.83)
        read = D_MIN + share * RANGE + rng.normal(0, 0.02, 2)
        (found,) = match_patches(curve, patch=["a", "a"], density=read)
        exact = -place(share, scale=1.8)
        errors.append(found.printing_density.value - exact)
        stated.append(found.printing_density.standard_error)
        density = found.printing_density
        held.append(density.low <= exact <= density.high)
        assert found.readings == 2
    assert np.sqrt(np.mean(np.square(errors))) < 0.03
    assert_allclose(np.mean(stated), np.std(errors), rtol=0.35)
    assert np.mean(held) >= 0.78  # 0.90 within three deviations of 60 draws


def test_beyond_the_range_only_a_limit_is_given() -> None:
    curve = fit_curve(X, printed(X))
    light, dark = match_patches(curve, patch=["light", "dark"], density=[0.1, 1.44])
    assert (light.limit, dark.limit) == ("at least", "at most")
    assert_allclose(light.printing_density.value, -place(0.10, scale=1.8), atol=2e-3)
    assert_allclose(dark.printing_density.value, -place(0.85, scale=1.8), atol=2e-3)


def test_the_second_sheet_measures_what_the_first_could_not() -> None:
    curve = fit_curve(X, printed(X))
    matches = match_patches(curve, patch=["dense"], density=[0.08])
    sheet = second_sheet(curve, matches)
    assert sheet is not None
    assert_allclose(sheet.covers[0], matches[0].printing_density.value, atol=1e-9)
    # Print it: a patch of density 2.6 under the longer exposure lies within the range.
    true, shift = 2.6, np.log10(sheet.factor)
    assert sheet.covers[0] < true < sheet.covers[1]
    assert_allclose(sheet.covers[1] - sheet.covers[0], shift, atol=1e-9)
    again = fit_curve(X, printed(X + shift))
    (found,) = match_patches(again, patch=["dense"], density=printed([shift - true]))
    assert found.limit == "within"
    assert_allclose(found.printing_density.value, true, atol=5e-3)


def test_a_shorter_second_sheet_for_patches_that_print_black() -> None:
    curve = fit_curve(X, printed(X))
    sheet = second_sheet(curve, match_patches(curve, patch=["thin"], density=[1.45]))
    assert sheet is not None
    assert sheet.factor < 1
    assert sheet.covers[0] >= 0


def test_no_second_sheet_when_all_matched() -> None:
    curve = fit_curve(X, printed(X))
    assert second_sheet(curve, match_patches(curve, patch=["a"], density=[0.7])) is None


def test_names_and_densities_must_pair() -> None:
    with pytest.raises(InvalidValueError, match="has 1 names for 2 densities"):
        match_patches(fit_curve(X, printed(X)), patch=["a"], density=[0.5, 0.6])
