"""Readings of an invented print with places."""

import numpy as np

from negcurve.readings import Readings
from tests.watch.samples import density_of


def placed_readings(*, seed: int = 2, sheet: str = "first") -> Readings:
    rng = np.random.default_rng(seed)
    x, y = (
        each.ravel()
        for each in np.meshgrid(np.linspace(15, 185, 8), np.linspace(15, 235, 9))
    )
    level = np.tile(np.linspace(0, 1, 36), 2)[rng.permutation(72)]
    density = density_of(level) + rng.normal(0, 0.012, 72)
    density = density + 0.03 * (x / 200 - 0.5) * 4 * level * (1 - level)
    flags = [frozenset()] * 72
    if sheet == "first":
        density[10] += 0.25
        flags[10] = frozenset({"stray"})
    return Readings(
        negative_level=level,
        density=density,
        patch=tuple(str(k + 1) for k in range(72)),
        x_mm=x,
        y_mm=y,
        flags=tuple(flags),
        sheet=sheet,
        source=f"{sheet}.tif",
    )
