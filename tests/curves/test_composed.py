"""Two monotone curves, one inside the other, from readings of both."""

import numpy as np

from negcurve.curves import Effect
from negcurve.curves.composed import fit_composed
from negcurve.curves.composed_model import Composed

KNOWN = -0.1 * np.arange(31)
INNER = np.repeat(np.linspace(0, 1, 41), 2)


def outer(x):
    return 0.1 + 1.3 / (1 + np.exp(-4 * (x + 0.9)))


def inner(level):
    return 1.8 * (1 - level) ** 1.2


def readings(*, noise=0.01, shift=0.0, seed=1):
    rng = np.random.default_rng(seed)
    known = np.append(KNOWN, np.zeros(len(INNER)))
    level = np.append(np.full(len(KNOWN), np.nan), INNER)
    part = np.where(np.isnan(level), 0, inner(np.nan_to_num(level, nan=1.0)))
    later = np.isfinite(level) * shift
    value = outer(known - part + later) + rng.normal(0, noise, len(known))
    return value, known, level


def test_jacobian_agrees_with_differences():
    value, known, level = readings()
    effects = tuple(
        Effect(name=scale, columns=np.linspace(-1, 1, len(value))[:, None], scale=scale)
        for scale in ("exposure", "height", "plain")
    )
    task = Composed(
        value=value,
        known=known,
        inner=level,
        relative_error=np.ones(len(value)),
        effects=effects,
        domain=(-3.35, 0.35),
        anchor=-0.9,
        low=0.1,
        span=1.3,
    )
    rng = np.random.default_rng(3)
    theta = task.mean() + rng.normal(0, 0.05, task.count)
    _, jacobian = task.predicted(theta)
    step = 1e-6
    for place in (0, 1, 2, 5, 20, 38, 40, 60, 75, 76, 77):
        ahead, behind = theta.copy(), theta.copy()
        ahead[place] += step
        behind[place] -= step
        slope = (task.predicted(ahead)[0] - task.predicted(behind)[0]) / (2 * step)
        np.testing.assert_allclose(jacobian[:, place], slope, atol=2e-6)


def test_both_curves_are_found_and_rise_or_fall_throughout():
    value, known, level = readings()
    fit = fit_composed(value, known=known, inner=level)
    x, v = np.linspace(-2.8, 0, 50), np.linspace(0, 1, 50)
    found, error = fit.outer(x)
    assert np.sqrt(np.mean((found - outer(x)) ** 2)) < 0.006
    assert (np.diff(found) >= 0).all()
    found, error = fit.inner(v)
    assert np.sqrt(np.mean((found - inner(v)) ** 2)) < 0.02
    assert (np.diff(found) <= 0).all()
    assert np.mean(np.abs(found - inner(v)) <= 2.5 * error + 1e-9) > 0.9
    assert found[-1] == 0
    assert error[-1] == 0


def test_the_composition_is_known_better_than_its_parts():
    value, known, level = readings()
    fit = fit_composed(value, known=known, inner=level)
    v = np.linspace(0.1, 0.9, 9)
    together, error = fit.composed(v)
    np.testing.assert_allclose(together, outer(-inner(v)), atol=4 * error.max())
    _, thin_error = fit.inner(v)
    slope = np.gradient(fit.outer(np.linspace(-2.9, 0, 200))[0], 2.9 / 199).max()
    assert error.max() < 0.5 * slope * thin_error.max()
    assert (np.diff(together) >= 0).all()


def test_an_effect_on_the_exposure_is_found():
    value, known, level = readings(shift=0.12)
    effect = Effect(
        name="shift",
        columns=np.isfinite(level).astype(float)[:, None],
        scale="exposure",
        typical=0.1,
        fixed=True,
    )
    fit = fit_composed(value, known=known, inner=level, effects=[effect])
    found, error = fit.coefficients["shift"][0], fit.coefficient_errors["shift"][0]
    assert abs(found - 0.12) < 3 * error
    assert error < 0.08  # of 0.1 beforehand: only levels near 1 tell it


def test_strays_hardly_pull():
    value, known, level = readings()
    spoilt = value.copy()
    spoilt[[5, 15, 50, 80]] += [0.4, -0.3, 0.35, -0.4]
    clean = fit_composed(value, known=known, inner=level)
    fit = fit_composed(spoilt, known=known, inner=level)
    v = np.linspace(0.1, 1, 20)
    np.testing.assert_allclose(fit.inner(v)[0], clean.inner(v)[0], atol=0.025)
    assert (fit.weights[[5, 15, 50, 80]] < 0.1).all()
    assert 0.007 < fit.noise < 0.014


def test_the_outer_curve_alone():
    rng = np.random.default_rng(2)
    value = outer(KNOWN) + rng.normal(0, 0.01, len(KNOWN))
    fit = fit_composed(value, known=KNOWN)
    found, error = fit.outer(KNOWN)
    assert np.sqrt(np.mean((found - outer(KNOWN)) ** 2)) < 0.008
    low, low_error = fit.floor
    assert abs(low - 0.1) < 3 * low_error
    assert (error > 0).all()


def test_ink_that_starts_steeply_does_not_come_out_thin():
    """Density 4 (1 - level)^0.65, and a tablet in other light: over eight sheets.

    With one stiffness for all levels the density at level 0.98 came out 0.07 too low,
    four times its standard error.
    """
    off, errors = [], []
    for seed in range(8):
        rng = np.random.default_rng(seed)
        level = np.append(np.full(31, np.nan), np.repeat(np.linspace(0, 1, 51), 2))
        known = np.append(KNOWN, np.zeros(102))
        ink = 4.0 * (1 - np.nan_to_num(level, nan=1.0)) ** 0.65
        value = outer(known - ink) + rng.normal(0, 0.01, len(known))
        light = Effect(
            name="light",
            columns=np.isnan(level).astype(float)[:, None],
            scale="exposure",
            typical=0.04,
            fixed=True,
        )
        fit = fit_composed(value, known=known, inner=level, effects=[light])
        found, error = fit.inner(np.array([0.98]))
        off.append(found[0] - 4.0 * 0.02**0.65)
        errors.append(error[0])
    assert abs(np.mean(off)) < 0.045
    assert np.sqrt(np.mean(np.square(off))) < 1.6 * np.mean(errors)
