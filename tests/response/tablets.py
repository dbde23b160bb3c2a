"""Prints of a target with a step tablet, on a film and a paper of known formulas."""

import numpy as np

from negcurve.readings import Readings

TABLET = 0.05 + 0.1 * np.arange(31)
RANGE = 1.9


def film(level):
    """Printing density: ink with some dot gain."""
    ink = 1 - np.asarray(level, dtype=float)
    return RANGE * (ink + 0.25 * ink * (1 - ink))


def paper(log_exposure, *, contrast=4.2, middle=-0.85, low=0.08, span=1.4):
    x = np.asarray(log_exposure, dtype=float)
    return low + span / (1 + np.exp(-contrast * (x - middle)))


def other_paper(log_exposure):
    """Softer, lop-sided: the square of a logistic curve."""
    x = np.asarray(log_exposure, dtype=float)
    return 0.1 + 1.2 / (1 + np.exp(-3.4 * (x + 1.15))) ** 2


def target_print(
    *,
    sheet="1",
    shift=0.0,
    tablet=True,
    over_film=True,
    base=0.0,
    noise=0.01,
    places=True,
    seed=1,
    curve=paper,
):
    """102 scattered patches and 31 steps; light falls across and down the sheet."""
    rng = np.random.default_rng(seed)
    level = np.repeat(np.linspace(0, 1, 51), 2)
    count = len(level)
    place = rng.permutation(count)
    x = np.append(20 + place % 6 * 30.0, 20 + 4.0 * np.arange(31))
    y = np.append(20 + place // 6 * 11.0, np.full(31, 225.0))
    light = 0.05 * (x - 95) / 75 - 0.04 * (y - 108) / 88
    light = light - light[:count].mean() if places else np.zeros(count + 31)
    # Without film between them, tablet and paper get 10^base times as much light.
    through = np.append(-film(level), (0.0 if over_film else base) - TABLET)
    density = curve(through + light + shift) + rng.normal(0, noise, count + 31)
    readings = Readings(
        negative_level=np.append(level, np.ones(31)),
        density=density,
        patch=[
            *(str(number + 1) for number in range(count)),
            *(f"tablet {step + 1}" for step in range(31)),
        ],
        x_mm=x if places else (),
        y_mm=y if places else (),
        tablet_density=np.append(np.full(count, np.nan), TABLET),
        tablet_over_film=over_film,
        sheet=sheet,
        printer_path={"mode": "grey", "bits": "16"},
    )
    return readings if tablet else readings.chosen(~readings.on_tablet)


def strip(*, turned=False, fall=0.0, noise=0.01, seed=1, curve=other_paper, sheet="n"):
    rng = np.random.default_rng(seed)
    along = np.linspace(-0.5, 0.5, 31) * (-1 if turned else 1)
    exposure = -TABLET + np.log10(1 - fall) * along
    return Readings(
        negative_level=np.ones(31),
        density=curve(exposure) + rng.normal(0, noise, 31),
        tablet_density=TABLET,
        sheet=sheet,
    )
