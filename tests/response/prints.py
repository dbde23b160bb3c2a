"""Readings of invented prints with a known response, without the code under test."""

import numpy as np

from negcurve.readings import Readings

D_MIN, D_MAX = 0.08, 1.48


def true_density(level, *, shift=0.0):
    """A logistic S between D_MIN and D_MAX; `shift` acts as more light."""
    eta = 9.0 * (np.asarray(level) - 0.5) + shift
    return D_MIN + (D_MAX - D_MIN) / (1 + np.exp(-eta))


def true_level(density):
    """The S solved for level, by hand."""
    share = (np.asarray(density) - D_MIN) / (D_MAX - D_MIN)
    return 0.5 + np.log(share / (1 - share)) / 9.0


def readings_of(
    *, count=51, noise=0.01, seed=1, sheet="1", offset=0.0, shift=0.0, **more
):
    """One reading each of even levels."""
    level = more.pop("negative_level", np.linspace(0, 1, count))
    random = np.random.default_rng(seed)
    density = true_density(level, shift=shift) + offset
    density = density + random.normal(0, noise, len(level))
    more.setdefault("patch", tuple(str(place + 1) for place in range(len(level))))
    return Readings(negative_level=level, density=density, sheet=sheet, **more)


def placed(readings, *, scattered=True, seed=2):
    """The readings on a grid of 20 mm, in order or scattered."""
    count = len(readings)
    columns = int(np.ceil(np.sqrt(count)))
    order = np.arange(count)
    if scattered:
        order = np.random.default_rng(seed).permutation(count)
    return readings.replaced(
        x_mm=20.0 + 20 * (order % columns), y_mm=20.0 + 20 * (order // columns)
    )
