"""The time for black and what a strip says about its ends."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from negcurve.darkroom.characteristic import CharacteristicCurve
from negcurve.darkroom.curve_fitting import fit_curve
from negcurve.darkroom.first_print import black_time, ends_seen
from negcurve.darkroom.strip_findings import (
    curve_findings,
    end_findings,
    scale_by_shape,
)
from negcurve.darkroom.tablet import Strip, nominal_tablet, place_along
from negcurve.errors import InvalidValueError, ReadingsError
from tests.darkroom.strips import place, printed

TABLET = nominal_tablet("31")
X = -TABLET.density


def curve(*, noise: float = 0.02, seed: int = 1, **paper) -> CharacteristicCurve:
    return fit_curve(X, printed(X, noise=noise, seed=seed, **paper))


@pytest.mark.parametrize("share", [0.90, 0.98])
def test_black_time_by_curve(share: float) -> None:
    exact = place(share, scale=1.8)
    found = black_time(curve(noise=0.0), test_time_s=480, black_share=share)
    assert_allclose(found.value, 480 * 10**exact, rtol=2e-3)
    film = black_time(
        curve(noise=0.0), test_time_s=480, black_share=share, film_density=0.12
    )
    assert_allclose(film.value / found.value, 10**0.12, rtol=1e-9)
    over = black_time(
        curve(noise=0.0),
        test_time_s=480,
        black_share=share,
        film_density=0.12,
        film_over_tablet=0.12,
    )
    assert_allclose(over.value, found.value)


def test_black_time_interval_holds_the_truth() -> None:
    exact = 480 * 10 ** place(0.98, scale=1.8)
    found = [black_time(curve(seed=n), test_time_s=480) for n in range(100)]
    held = np.mean([each.low <= exact <= each.high for each in found])
    assert 0.80 <= held <= 0.99  # 0.90 within three deviations of 100 draws


@pytest.mark.parametrize("share", [0.3, 1.0, float("nan")])
def test_black_share_out_of_range(share: float) -> None:
    with pytest.raises(InvalidValueError, match="black share"):
        black_time(curve(), test_time_s=480, black_share=share)


def test_a_strip_with_both_ends() -> None:
    found = ends_seen(curve(scale=1.2), TABLET)
    assert (found.black, found.white) == (True, True)
    assert (found.longer, found.shorter) == (None, None)
    assert end_findings(curve(scale=1.2), found) == ()


def test_black_not_reached_says_how_much_longer() -> None:
    strip = curve(scale=1.2, middle=-0.6)
    found = ends_seen(strip, TABLET)
    assert not found.black
    need = place(0.98, scale=1.2, middle=-0.6) + TABLET.density[0]
    assert found.longer is not None
    assert_allclose(np.log10(found.longer), need + 0.10, atol=0.12)
    # Following the advice once brings black into the strip.
    again = curve(scale=1.2, middle=-0.6 - np.log10(found.longer), seed=9)
    assert ends_seen(again, TABLET).black
    (finding,) = end_findings(strip, found)
    assert "black not reached" in finding.what
    assert "times as long" in finding.fix


def test_white_not_reached_says_how_much_shorter() -> None:
    strip = curve(scale=1.2, middle=-2.6)
    found = ends_seen(strip, TABLET)
    assert not found.white
    assert found.shorter is not None
    assert found.shorter < 1
    again = curve(scale=1.2, middle=-2.6 - np.log10(found.shorter), seed=9)
    assert ends_seen(again, TABLET).white
    (finding,) = end_findings(strip, found)
    assert "white not reached" in finding.what


def test_a_scale_longer_than_the_tablet() -> None:
    strip = curve(scale=3.2)
    found = ends_seen(strip, TABLET)
    assert (found.black, found.white) == (False, False)
    (finding,) = end_findings(strip, found)
    assert "neither black nor white" in finding.what


def test_a_missing_end_without_room_for_both() -> None:
    short = nominal_tablet("21")
    x = -short.density
    strip = fit_curve(x, printed(x, scale=2.9, middle=-2.4, noise=0.01))
    found = ends_seen(strip, short)
    assert (found.black, found.white) == (True, False)
    assert found.shorter is None
    (finding,) = end_findings(strip, found)
    assert "use a longer one" in finding.fix


def test_a_stray_reading_is_named_not_dropped() -> None:
    density = printed(X, noise=0.01)
    density[12] += 0.2
    found = curve_findings(fit_curve(X, density))
    stray = [each for each in found if "off the curve" in each.what]
    assert len(stray) == 1
    assert f"log exposure {X[12]:.2f}" in stray[0].where


def test_reversed_shadows_are_named() -> None:
    density = printed(X, scale=1.2, middle=-2.2, noise=0.005)
    density[:3] -= [0.12, 0.10, 0.06]
    found = curve_findings(fit_curve(X, density))
    assert any("the shadows reverse" in each.what for each in found)
    clean = curve_findings(fit_curve(X, printed(X, scale=1.2, noise=0.02)))
    assert not any("reverse" in each.what for each in clean)


def test_other_shapes_that_fit_are_told() -> None:
    strip = curve(seed=1)
    low, high = scale_by_shape(strip)
    assert low < high
    notes = [each for each in curve_findings(strip) if each.where == "exposure scale"]
    assert [each.severity for each in notes] == ["note"]
    assert f"{low:.2f} to {high:.2f}" in notes[0].what


def test_readings_of_one_step_count_as_one() -> None:
    strip = Strip(step=[2, 1, 2], density=[1.0, 1.2, 1.1])
    step, density = strip.by_step(TABLET)
    assert_allclose(step, [1, 2])
    assert_allclose(density, [1.2, 1.05])


@pytest.mark.parametrize("step", [0, 32, 2.5])
def test_steps_that_are_not_on_the_tablet(step: float) -> None:
    with pytest.raises(ReadingsError, match="is not on the 31-step tablet"):
        Strip(step=[1, step], density=[1.0, 0.9]).by_step(TABLET)


def test_impossible_strips_are_refused() -> None:
    with pytest.raises(InvalidValueError, match=r"print density 14\.5 is not possible"):
        Strip(step=[1, 2], density=[14.5, 1.4])
    with pytest.raises(InvalidValueError, match="has 1 values for 2 steps"):
        Strip(step=[1, 2], density=[1.4])


def test_places_along_a_strip() -> None:
    assert_allclose(place_along(np.array([1, 16, 31]), TABLET), [-0.5, 0.0, 0.5])
