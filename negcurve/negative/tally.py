"""How often each tone of a picture occurs, and what follows from that.

Knows shares at the ends, the range used and the risk of banding; counting is done by
the painters while they paint.
"""

from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from negcurve.density import lightness_from_density
from negcurve.response.solution import Solution
from negcurve.values import Finding, FloatArray

DENSITY_BINS = 64
END_LIGHTNESS = 1.0
"""Print L* that the first and the last printable tone are taken to span. Ours."""

END_TONE = 0.0005
"""Image tone that black and white are counted within: no 8-bit code but the end."""

VISIBLE_STEP = 1.0
"""Print L* between neighbouring tones that shows as a band in a smooth sky.

About one just noticeable difference; common practice, no source.
"""

BANDING_SHARE = 0.05
"""Share of the pixels in visible steps that is worth a warning. Ours."""

FEWEST_GREYS = 16
"""A picture of fewer is a drawing, not a photograph. Ours."""

BLOCKED_SHARE = 0.05
"""Share of the pixels in the first or the last L* of the print worth a note. Ours."""

DRIVER_STEP = 1 / 255
"""Many printer drivers come down to 8 bits inside; common practice, no source."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Tally:
    """Pixels by image tone.

    Attributes
    ----------
    tone : array, shape (n,)
        Image tones, rising. [1]
    counts : array of int, shape (n,)
        Pixels counted at each.
    greys : array, shape (m,)
        Image tones of the greys that the picture could hold where it has few, rising;
        those that occur for a grey picture, all of an 8-bit colour picture. Empty
        where there are many, or resampling made more.
    """

    tone: FloatArray
    counts: npt.NDArray[np.int64]
    greys: FloatArray = field(default_factory=lambda: np.empty(0))

    @property
    def pixels(self) -> int:
        """Pixels counted."""
        return int(self.counts.sum())

    def share(self, low: float, high: float) -> float:
        """Share of the pixels whose tone lies within low..high, both included."""
        inside = (self.tone >= low) & (self.tone <= high)
        return float(self.counts[inside].sum() / max(self.pixels, 1))

    @property
    def range_used(self) -> tuple[float, float]:
        """Lowest and highest tone that occurs."""
        filled = np.flatnonzero(self.counts)
        if not len(filled):
            return 0.0, 0.0
        return float(self.tone[filled[0]]), float(self.tone[filled[-1]])


@dataclass(frozen=True, eq=False, kw_only=True)
class TonesUsed:
    """What the pixels of a picture do with the print's scale.

    Attributes
    ----------
    tone_low, tone_high : float
        Lowest and highest image tone that occurs. [1]
    share_black, share_white : float
        Of the pixels: at image tone 0 and at 1. [1]
    share_first, share_last : float
        Of the pixels: within one L* of the print's black and of its white; NaN
        without a response. [1]
    counted_pixels : int
    density_edges : array, shape (m + 1,)
        Edges of the histogram of print densities; empty without a response. [D]
    density_counts : array of int, shape (m,)
    findings : tuple of Finding
    """

    tone_low: float
    tone_high: float
    share_black: float
    share_white: float
    share_first: float = float("nan")
    share_last: float = float("nan")
    counted_pixels: int = 0
    density_edges: FloatArray = field(default_factory=lambda: np.empty(0))
    density_counts: npt.NDArray[np.int64] = field(
        default_factory=lambda: np.empty(0, np.int64)
    )
    findings: tuple[Finding, ...] = ()


def tones_used(tally: Tally, solution: Solution | None = None) -> TonesUsed:
    """Sum up a tally.

    Parameters
    ----------
    tally : Tally
    solution : Solution, optional
        Its response tells what the tones will print as.

    Returns
    -------
    TonesUsed
    """
    low, high = tally.range_used
    plain = TonesUsed(
        tone_low=low,
        tone_high=high,
        share_black=tally.share(0.0, END_TONE),
        share_white=tally.share(1 - END_TONE, 1.0),
        counted_pixels=tally.pixels,
    )
    if solution is None:
        return plain
    density = solution.printed_density(tally.tone)
    lightness = lightness_from_density(density)
    edges = np.linspace(float(density[-1]), float(density[0]), DENSITY_BINS + 1)
    counts, _ = np.histogram(density, edges, weights=tally.counts)
    dark = lightness <= lightness[0] + END_LIGHTNESS
    light = lightness >= lightness[-1] - END_LIGHTNESS
    total = max(tally.pixels, 1)
    first, last = (float(tally.counts[each].sum() / total) for each in (dark, light))
    return replace(
        plain,
        share_first=first,
        share_last=last,
        density_edges=edges,
        density_counts=counts.astype(np.int64),
        findings=(
            *_blocked(first, "black", "shadow"),
            *_blocked(last, "paper white", "highlight"),
            *_source_steps(tally, solution),
            *_path_steps(tally, solution),
        ),
    )


def _blocked(share: float, end: str, part: str) -> tuple[Finding, ...]:
    """Note large areas that print as bare paper or as solid black."""
    if share <= BLOCKED_SHARE:
        return ()
    return (
        Finding(
            severity="note",
            where="picture",
            what=f"{100 * share:.0f} % of its pixels print within {END_LIGHTNESS:g} L* "
            f"of {end}",
            fix=f"Where {part} detail is wanted there, open it up in the picture.",
        ),
    )


def _source_steps(tally: Tally, solution: Solution) -> tuple[Finding, ...]:
    """Warn when neighbouring greys of the picture print visibly apart."""
    greys = tally.greys
    if len(greys) < FEWEST_GREYS:
        return ()
    steps = np.diff(lightness_from_density(solution.printed_density(greys)))
    above = np.clip(np.searchsorted(greys, tally.tone), 1, len(steps))
    wide = steps[above - 1] > VISIBLE_STEP
    share = float(tally.counts[wide].sum() / max(tally.pixels, 1))
    if share < BANDING_SHARE:
        return ()
    return (
        Finding(
            severity="warning",
            where="picture",
            what=f"holds {len(greys)} different greys; {100 * share:.0f} % of its "
            f"pixels lie where neighbouring ones print more than {VISIBLE_STEP:g} L* "
            f"apart (up to {steps.max():.1f}), which shows as bands",
            fix="Make the picture again from a 16-bit original, or add fine grain to "
            "it before applying the table.",
        ),
    )


def _path_steps(tally: Tally, solution: Solution) -> tuple[Finding, ...]:
    """Warn when one 8-bit step of the negative prints as a visible band."""
    level = solution.table.negative_level(tally.tone)
    low, high = solution.response.domain
    above = np.clip(level + DRIVER_STEP / 2, low, high)
    below = np.clip(level - DRIVER_STEP / 2, low, high)
    lightness_above = lightness_from_density(solution.response.density(above))
    lightness_below = lightness_from_density(solution.response.density(below))
    steps = lightness_below - lightness_above
    wide = steps > VISIBLE_STEP
    share = float(tally.counts[wide].sum() / max(tally.pixels, 1))
    if share < BANDING_SHARE:
        return ()
    return (
        Finding(
            severity="warning",
            where="table",
            what=f"is steep: {100 * share:.0f} % of the pixels lie where 1/255 of "
            f"negative level prints {steps[wide].max():.1f} L* apart, which a printer "
            "driver that works in 8 bits shows as bands",
            fix="Print in the driver's 16-bit mode, or with more ink, or use a "
            "contrast that needs less of the ink's range.",
        ),
    )
