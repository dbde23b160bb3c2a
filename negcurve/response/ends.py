"""The ends of the tonal scale: how black, how white, and why.

Knows DESIGN's rule for the ends; what lies between them is the aim's.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from negcurve.density import lightness_from_density
from negcurve.errors import InvalidValueError
from negcurve.response.response import Response
from negcurve.values import Finding

FLAT = 0.001
"""Levels that print within this of an end count as that end. [D]"""

STILL_RISING = 0.03
"""Rise over the last `EDGE` of the levels that says an end was not reached. [D]"""

BRIGHTEST = -0.02
"""D-min below which the zero must be wrong: readings scatter by less. [D]"""

EDGE = 0.05

AS_BLACK = 0.02
"""Levels within this of D-max print as black. [D]"""

AS_WHITE = 0.01
"""Levels within this of D-min print as white. [D]"""

LOST = 0.10
"""Share of levels at one end from which they count as lost."""


@dataclass(frozen=True, kw_only=True)
class Ends:
    """Where the tonal scale of the print begins and ends.

    Attributes
    ----------
    d_min, d_max : float
        Lightest and darkest that the response reaches. [D]
    black_density : float
        Density given to image tone 0. [D]
    white_density : float
        Density given to image tone 1. [D]
    black_share : float
        Share of the density range d_min..d_max that was asked for. [1]
    black_level, white_level : float
        Negative levels of the two. [1]
    black_reached : bool
        False where density still rises at the clear end: d_max is then only what
        this exposure reached.
    """

    d_min: float
    d_max: float
    black_density: float
    white_density: float
    black_share: float
    black_level: float
    white_level: float
    black_reached: bool = True

    def __post_init__(self) -> None:
        if not self.d_min <= self.white_density < self.black_density <= self.d_max:
            raise InvalidValueError(
                f"D {self.d_min:.3f} <= {self.white_density:.3f} < "
                f"{self.black_density:.3f} <= {self.d_max:.3f} does not hold",
                where="ends",
            )

    @property
    def black_lightness(self) -> float:
        """L* of image tone 0."""
        return float(lightness_from_density(self.black_density))

    @property
    def white_lightness(self) -> float:
        """L* of image tone 1."""
        return float(lightness_from_density(self.white_density))


def find_ends(
    response: Response, *, black_share: float, white: float = np.nan
) -> tuple[Ends, tuple[Finding, ...]]:
    """Find where the tonal scale begins and ends, and what to say about it.

    Parameters
    ----------
    response : Response
    black_share : float
        Share of the density range that image tone 0 asks for, 0.5..1. [1]
    white : float
        Density of the coated but unexposed paper, NaN if unknown. [D]

    Returns
    -------
    Ends, tuple of Finding

    Notes
    -----
    The rules and their limits are the project's own: not on the flat shoulder, since
    there level buys no density.
    """
    if not 0.5 <= black_share <= 1:
        raise InvalidValueError(
            f"{black_share:g} lies outside 0.5..1",
            where="black_share",
            fix="Give the share of the density range where black lies; 0.98 is usual.",
        )
    level, density = response.level_nodes, response.density_nodes
    d_min, d_max = float(density[0]), float(density[-1])
    black = min(d_min + black_share * (d_max - d_min), d_max)
    reached = min(black, d_max - FLAT)
    black_level = float(response.negative_level(reached))
    white_level = float(level[np.searchsorted(density, d_min + FLAT) - 1])
    low, high = response.domain
    rise = d_max - float(response.density(high - EDGE * (high - low)))
    ends = Ends(
        d_min=d_min,
        d_max=d_max,
        black_density=black,
        white_density=d_min,
        black_share=black_share,
        black_level=black_level,
        white_level=white_level,
        black_reached=rise < STILL_RISING,
    )
    found = [*_black_findings(response, rise), *_white_findings(response, ends, white)]
    return ends, tuple(found)


def _black_findings(response: Response, rise: float) -> Iterator[Finding]:
    if rise >= STILL_RISING:
        yield Finding(
            severity="warning",
            where="black",
            what=f"black not reached: density still rises by {rise:.2f} D over the "
            f"last {EDGE:.0%} of the levels",
            fix="Expose longer.",
        )
        return
    level, density = response.level_nodes, response.density_nodes
    first = level[np.searchsorted(density, density[-1] - AS_BLACK)]
    share = (level[-1] - first) / (level[-1] - level[0])
    if share > LOST:
        yield Finding(
            severity="warning",
            where="black",
            what=f"over-exposed: the top {share:.0%} of the levels print within "
            f"{AS_BLACK} D of D-max; by how much light is not known from grey patches",
            fix="Expose less, until black is just reached by clear film.",
        )


def _white_findings(response: Response, ends: Ends, white: float) -> Iterator[Finding]:
    if ends.d_min < BRIGHTEST:
        yield Finding(
            severity="warning",
            where="white",
            what=f"D {ends.d_min:.2f} is lighter than a perfect white, D 0",
            fix="Check the zero of the instrument or the white of the scan, and the "
            "density_zero line of the readings.",
        )
    low, high = response.domain
    rise = float(response.density(low + EDGE * (high - low))) - ends.d_min
    short = ends.d_min - white
    if rise >= STILL_RISING or short >= AS_BLACK:
        known = f"; unexposed paper is D {white:.2f}" if np.isfinite(white) else ""
        yield Finding(
            severity="warning",
            where="white",
            what="paper white is out of reach: full ink lets light through; lightest "
            f"tone is L* {ends.white_lightness:.1f}, D {ends.d_min:.2f}{known}",
            fix="More or denser ink, or a paper mix of more contrast.",
        )
        return
    level, density = response.level_nodes, response.density_nodes
    last = level[np.searchsorted(density, ends.d_min + AS_WHITE) - 1]
    share = (last - low) / (high - low)
    if share > LOST:
        left = round(256 * (high - last))
        yield Finding(
            severity="note",
            where="white",
            what=f"more ink than needed: the lowest {share:.0%} of the levels print "
            f"within {AS_WHITE} D of D-min; {left} of 256 levels are left for tones",
        )
