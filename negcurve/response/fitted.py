"""A fit with what it was made of, and what its residuals and its band have to say."""

from dataclasses import dataclass

import numpy as np

from negcurve.curves import CurveFit
from negcurve.density import lightness_slope
from negcurve.response.fields import PlaceEffects
from negcurve.response.pooling import Pool
from negcurve.response.refusals import Rows
from negcurve.response.response import Response
from negcurve.values import Finding

STRAY = 0.3
"""Trust below which a reading is reported as stray."""

SLIGHT = 0.02
"""Difference up to which a stray reading is only noted: hardly visible. [D]"""

MANY_STRAYS = 10
"""Strays that are named one by one."""

NOISY = 0.05
"""Noise of one reading that is worth a remark. [D]"""

MANY_TIMES = 10
"""Times the readings beyond which more of them on one sheet are no remedy."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Fitted:
    """Response and effects as fitted to a pool.

    Attributes
    ----------
    pool : Pool
    fit : CurveFit
    places : tuple of PlaceEffects
        One for each sheet.
    newest : bool
        Whether the response is that of the newest sheet alone.
    """

    pool: Pool
    fit: CurveFit
    places: tuple[PlaceEffects, ...]
    newest: bool

    def rows(self, which: int) -> Rows:
        """Return the places of a sheet's readings in the pool."""
        return np.flatnonzero(self.pool.sheet == which)

    @property
    def noise(self) -> float:
        """Standard deviation of one reading at mid-tone. [D]."""
        off = np.abs(self.fit.expected - np.mean(self.fit.value[[0, -1]]))
        return float(np.median(self.fit.noise[np.argsort(off)[:5]]))


def stray_findings(fitted: Fitted) -> list[Finding]:
    """Name readings that hardly count, and say when all are noisy."""
    fit, pool = fitted.fit, fitted.pool
    stray = fit.weights < STRAY
    far = np.abs(pool.density - fit.expected) > SLIGHT
    strays, slight = np.flatnonzero(stray & far), np.flatnonzero(stray & ~far)
    found = [
        Finding(
            severity="warning",
            where=pool.row_name(place),
            what=f"D {pool.density[place]:.3f} is stray: D {fit.expected[place]:.3f} "
            f"was expected at level {pool.level[place]:.3f}; it hardly counts",
            fix="Look at the patch, and read it again.",
        )
        for place in strays[:MANY_STRAYS]
    ]
    if len(strays) > MANY_STRAYS:
        what = f"{len(strays) - MANY_STRAYS} more readings are stray"
        found.append(Finding(severity="warning", where="readings", what=what))
    if len(slight):
        names = ", ".join(pool.row_name(place) for place in slight[:MANY_STRAYS])
        what = (
            f"{len(slight)} stray by less than {SLIGHT:g} D and hardly count: {names}"
        )
        found.append(Finding(severity="note", where="readings", what=what))
    noise = fitted.noise
    if noise > NOISY:
        found.append(
            Finding(
                severity="warning",
                where="readings",
                what=f"one reading scatters by {noise:.3f} D at mid-tone",
                fix="Look for grain, uneven coating or too small an area read.",
            )
        )
    return found


def band_findings(
    response: Response, fitted: Fitted, *, verified: bool
) -> list[Finding]:
    """Say what the next print may show, and what would narrow the bands."""
    level = response.level_nodes
    slope = np.abs(lightness_slope(response.density(level)))
    within = float(np.median(1.645 * response.standard_error(level) * slope))
    following = float(np.median(1.645 * response.next_print_error(level) * slope))
    spread = "from the record" if verified else "common practice, unverified"
    what = (
        f"90 % band on printed L* of the response +-{within:.1f}, of the next print "
        f"+-{following:.1f} (sheet to sheet {response.sheet_error:.3f} D, {spread}). "
        f"{_halving(response, fitted)}; the second is mostly each print's own spread"
    )
    return [Finding(severity="note", where="band", what=what)]


def _halving(response: Response, fitted: Fitted) -> str:
    """Say what would halve the band of the response."""
    if response.sheets > 1:
        return f"About {3 * response.sheets} further prints would halve the first"
    if fitted.fit.halving > MANY_TIMES:
        return f"Not even {MANY_TIMES} times the readings would halve the first"
    more = (fitted.fit.halving - 1) * len(fitted.pool.level)
    return f"About {10 * np.ceil(more / 10):.0f} further readings would halve the first"
