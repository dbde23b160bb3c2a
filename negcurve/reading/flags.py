"""Which patches of a print should not be trusted, and why."""

from collections.abc import Sequence

import numpy as np
from scipy.optimize import isotonic_regression

from negcurve.reading.patches import COVERED_SHARE, PatchValue
from negcurve.values import FloatArray

STRAY_D, STRAY_SPREADS = 0.08, 6.0
UNEVEN_D, UNEVEN_TIMES = 0.03, 4.0


def patch_flags(
    level: FloatArray,
    density: FloatArray,
    values: Sequence[PatchValue],
    *,
    groups: Sequence[str] = (),
) -> tuple[frozenset[str], ...]:
    """Flag patches whose reading should not be trusted.

    Parameters
    ----------
    level : array, shape (n,)
        Negative levels.
    density : array, shape (n,)
        Readings. [D]
    values : sequence of PatchValue, length n
        What they come from.
    groups : sequence of str, length n, optional
        Names of ink mixtures, whose levels mean nothing.

    Returns
    -------
    tuple of frozenset of str
        `clipped`: too many pixels at an end. `covered`: over a quarter of the area
        was foreign. `uneven`: its blocks scatter far more than those of other patches.
        `stray`: far from what its neighbours in level say, or repeats of its mixture.
    """
    scatter = np.array([each.scatter / each.reflectance for each in values]) / np.log(
        10
    )
    usual = max(UNEVEN_D, UNEVEN_TIMES * float(np.median(scatter)))
    stray = stray_repeats(groups, density) if groups else stray_readings(level, density)
    flags = []
    for place, value in enumerate(values):
        names = {
            "clipped": value.clipped,
            "covered": value.left_out > COVERED_SHARE,
            "uneven": scatter[place] > usual,
            "stray": bool(stray[place]),
        }
        flags.append(frozenset(name for name, holds in names.items() if holds))
    return tuple(flags)


def stray_readings(level: FloatArray, density: FloatArray) -> FloatArray:
    """Return which readings lie far from all others of about their level.

    Parameters
    ----------
    level, density : array, shape (n,)
        In any order.

    Returns
    -------
    array of bool, shape (n,)
        True where the reading lies above the median of its three neighbours of the same
        or a higher level, or below that of three of the same or a lower level, by more
        than 0.08 D and six times the usual distance from a rising line. Nothing more
        is asked of the response than that it rises.
    """
    count = len(level)
    rising = isotonic_regression(density[np.argsort(level, kind="stable")]).x
    rest = density[np.argsort(level, kind="stable")] - rising
    spread = 1.4826 * float(np.median(np.abs(rest)))
    limit = max(STRAY_D, STRAY_SPREADS * spread)
    stray = np.zeros(count, dtype=bool)
    for place in range(count):
        for sign in (1, -1):
            # Others of at least this level, the nearest first; then turned round.
            distance = sign * (level - level[place])
            distance[place] = -1
            others = np.flatnonzero(distance >= 0)
            near = others[np.argsort(distance[others], kind="stable")[:3]]
            beyond = (
                sign * (density[place] - np.median(density[near])) if len(near) else 0
            )
            stray[place] |= beyond > limit
    return stray


def stray_repeats(groups: Sequence[str], density: FloatArray) -> FloatArray:
    """Return which readings lie far from the other repeats of their mixture.

    Parameters
    ----------
    groups : sequence of str, length n
        What is alike.
    density : array, shape (n,)
        [D]

    Returns
    -------
    array of bool, shape (n,)
        Only where there are three repeats or more: of two that differ, nothing says
        which is right.
    """
    names = np.array(groups)
    rest = np.zeros(len(density))
    for name in dict.fromkeys(groups):
        alike = names == name
        if alike.sum() >= 3:
            rest[alike] = density[alike] - np.median(density[alike])
    spread = 1.4826 * float(np.median(np.abs(rest)))
    return np.asarray(np.abs(rest) > max(STRAY_D, STRAY_SPREADS * spread))
