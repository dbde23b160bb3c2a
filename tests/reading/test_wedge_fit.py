"""From light to density by known steps: exact where it can be, bent where it must."""

import numpy as np
import pytest

from negcurve.encoding import srgb_to_linear
from negcurve.reading.wedge_fit import Steps, fit_steps

PRINT = np.linspace(0.08, 1.5, 60)


def steps_of(density, light):
    return Steps(
        light=light(10.0**-density),
        light_error=np.full(len(density), 1e-4),
        density=density,
    )


@pytest.mark.parametrize("count", [5, 6, 11, 41])
@pytest.mark.parametrize(
    ("light", "freedom"),
    [
        (lambda r: r, 1),
        (lambda r: 0.87 * r, 1),
        (lambda r: 0.87 * r + 0.012, 2),  # gain and flare
        (lambda r: 1.1 * r - 0.004, 2),  # a black point set too high
        (lambda r: 0.9 * r**0.8, 2),  # power
    ],
)
def test_what_a_scanner_does_is_found_exactly(count, light, freedom):
    fit = fit_steps(steps_of(np.linspace(0.05, 1.7, count), light))
    np.testing.assert_allclose(fit.density(light(10.0**-PRINT)), PRINT, atol=2e-4)
    assert fit.freedom == pytest.approx(freedom, abs=1e-6)
    # And beyond the steps as well.
    assert fit.density(light(np.array([10.0**-1.9]))) == pytest.approx(1.9, abs=2e-3)


@pytest.mark.parametrize("count", [9, 18, 41])
def test_an_unknown_contrast_is_followed(count):
    """An S-shaped curve, which gain, flare and power do not explain."""

    def light(reflectance):
        level = np.clip((reflectance - 0.008) / 0.9, 0, 1) ** (1 / 2.2)
        bend = 0.15 * np.sin(2 * np.pi * (level - 0.5)) * level * (1 - level)
        return srgb_to_linear(level + bend)

    rng = np.random.default_rng(count)
    density = np.linspace(0.05, 1.6, count)
    steps = steps_of(density, light)
    off = density + rng.normal(0, 0.004, count)  # values of a wedge err
    fit = fit_steps(
        Steps(light=steps.light, light_error=steps.light_error, density=off)
    )
    assert not fit.straight
    rest = fit.density(light(10.0**-PRINT)) - PRINT
    assert np.sqrt(np.mean(rest**2)) < 0.009
    straight = fit_steps(steps, bent=False)
    rest = straight.density(light(10.0**-PRINT)) - PRINT
    assert np.sqrt(np.mean(rest**2)) > 0.025


@pytest.mark.parametrize("depth", [-0.04, 0.02, 0.04])
def test_a_bent_curve_goes_on_as_it_went_where_light_steps_are_lost(depth):
    """Auto levels clip the first steps; the print's white lies beyond the others."""

    def light(reflectance):
        level = np.clip(reflectance / 0.9, 0, 1) ** (1 / 2.2)
        return srgb_to_linear(level - depth * np.sin(2 * np.pi * level))

    density = np.arange(0.15, 1.8, 0.1)
    fit = fit_steps(steps_of(density, light))
    assert not fit.straight
    white = fit.density(light(np.array([10.0**-0.08])))
    assert white == pytest.approx(0.08, abs=0.015)
    rise = np.diff(fit.density(np.linspace(light(10.0**-0.15), 1.0, 50)))
    assert (rise < 0).all()


def test_errors_of_the_list_do_not_bend_a_linear_scan():
    """Noise in the values is averaged, not followed: 20 draws, simplest fit."""
    rng = np.random.default_rng(3)
    density = np.linspace(0.05, 1.7, 18)
    rest, freedom = [], []
    for _ in range(20):
        steps = Steps(
            light=0.93 * 10.0**-density + 0.003,
            light_error=np.full(18, 1e-4),
            density=density + rng.normal(0, 0.006, 18),
        )
        fit = fit_steps(steps)
        freedom.append(fit.freedom)
        rest.append(fit.density(0.93 * 10.0**-PRINT + 0.003) - PRINT)
    assert np.sqrt(np.mean(np.square(rest))) < 0.006
    assert np.median(freedom) < 3.5


def test_density_always_rises_as_light_falls():
    """Of a list that climbs in three jumps too: a cubic through it would swing back."""
    rng = np.random.default_rng(5)
    density = np.linspace(0.05, 1.7, 12)
    jumps = np.sort(np.repeat([0.05, 0.85, 1.6], 5) + 0.01 * np.tile(np.arange(5), 3))
    cases = [(10.0 ** -np.linspace(0.05, 1.7, 15), jumps)]
    for _ in range(10):
        light = 10.0 ** -(density + rng.normal(0, 0.05, 12))
        cases.append((np.sort(light)[::-1], density))
    for light, known in cases:
        error = np.full(len(known), 1e-5)
        steps = Steps(light=light, light_error=error, density=known)
        fine = fit_steps(steps).density(np.linspace(0, 1.2, 4000))
        assert (np.diff(fine) <= 0).all()


def test_a_step_with_coarse_codes_counts_less():
    density = np.linspace(0.05, 1.7, 12)
    light = 10.0**-density
    light[-1] *= 1.3
    error = np.full(12, 1e-4)
    sharp = fit_steps(Steps(light=light, light_error=error, density=density))
    error[-1] = 0.01
    coarse = fit_steps(Steps(light=light, light_error=error, density=density))
    off = [
        abs(fit.density(np.array([0.05]))[0] + np.log10(0.05))
        for fit in (sharp, coarse)
    ]
    assert off[1] < 0.3 * off[0]
