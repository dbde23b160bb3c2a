"""The cells of a step wedge: where each lies, and which is the first.

Judges the cells of a comb on a strip, and counts them by what stands out from the
ground beside the strip.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from negcurve.reading.wedge_comb import CORE, EDGES_SHARE, comb_on
from negcurve.reading.wedge_search import FLOOR_LEVEL
from negcurve.reading.wedge_strip import Strip
from negcurve.values import FloatArray

BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.int_]

SIDE_MM = 1.2
"""So much on each side of a strip's edge is compared. [mm]"""

SEEN_AT = 4.0
"""An edge is seen if it is so many standard errors high."""

LEAST_SEEN = 0.004
"""Nor is anything less than this seen, in log level: about a code of 8 bits in the
mean of many. Ours."""

LEAST_OUT = 0.01
"""The same between a cell and the ground beside it: flare darkens that. Ours."""

CLIPPED = tuple(np.log10(np.array([0.005, 0.99]) + FLOOR_LEVEL).tolist())
"""Log level below and above which cells are taken for clipped."""

EVEN_SHARE, RISE_SHARE = 0.35, 0.13
"""A cell may scatter by the first share of the steps beside it, and differ by the
second between its halves; on an even slope they would differ by 0.3."""


@dataclass(frozen=True, kw_only=True)
class Count:
    """Cells counted on a strip.

    Attributes
    ----------
    start : float
        Outer edge of the lightest cell, in columns of the strip.
    pitch : float
        Length of a cell. [px]
    score : int
        Edges between cells that are seen, and sides of cells that stand out from the
        ground.
    lead : int
        By how much the score exceeds that of the next best count.
    open_ends : int
        How many of its two ends look like the ground.
    unseen : int
        Edges between cells that are not seen.
    """

    start: float
    pitch: float
    score: int
    lead: int
    open_ends: int
    unseen: int


def count_cells(
    strip: Strip, steps: int, px_per_mm: float, *, bounded: bool = False
) -> list[Count]:
    """Count the cells of a strip.

    Parameters
    ----------
    strip : Strip
    steps : int
        That the wedge has.
    px_per_mm : float
        Of the strip.
    bounded : bool
        Whether something else says where the strip ends.

    Returns
    -------
    list of Count
        What the strip allows, the best first; empty where it shows no such cells.
    """
    line = np.median(strip.inner, axis=0)
    cells = _cells(strip, line, steps, px_per_mm)
    return [] if cells is None else _counts(cells, steps, bounded=bounded)


@dataclass(frozen=True, eq=False, kw_only=True)
class _Cells:
    """All cells of a comb that lie in view, shape (n,) each."""

    line: FloatArray  # log level along the strip
    start: FloatArray
    pitch: float
    mean: FloatArray
    error: FloatArray
    even: BoolArray  # 1 where the cell is even and in view
    sides: IntArray  # on how many sides it differs from the ground, 0 to 2


def _cells(
    strip: Strip, line: FloatArray, steps: int, px_per_mm: float
) -> _Cells | None:
    comb = comb_on(line, strip.core, steps)
    if comb is None:
        return None
    phase, pitch = comb
    first = int(np.ceil(-phase / pitch))
    starts = np.arange(phase + first * pitch, len(line) - pitch, pitch)
    found = [_core_of(line, start, pitch) for start in starts]
    mean, spread, error, rise = (np.array(each) for each in zip(*found, strict=True))
    step = np.pad(np.abs(np.diff(mean)), 1, constant_values=0.0)
    with np.errstate(invalid="ignore"):
        beside = np.fmax(step[:-1], step[1:])
        even = (spread < np.fmax(EVEN_SHARE * beside, 0.012)) & (
            rise < np.fmax(RISE_SHARE * beside, SEEN_AT * error + LEAST_SEEN)
        )
    return _Cells(
        line=line,
        start=starts,
        pitch=pitch,
        mean=mean,
        error=error,
        even=even & np.isfinite(mean),
        sides=_sides(strip, starts, pitch, px_per_mm),
    )


def _sides(
    strip: Strip, starts: FloatArray, pitch: float, px_per_mm: float
) -> IntArray:
    """Count on how many of its two sides each cell differs from the ground there.

    A side that is out of view counts as the other.
    """
    side, gap = max(2, round(SIDE_MM * px_per_mm)), 1
    top, bottom, rows = strip.top, strip.bottom, strip.rows
    edges = (
        (rows[max(top - gap - side, 0) : max(top - gap, 0)], rows[top + gap :][:side]),
        (rows[bottom + gap :][:side], rows[: bottom - gap][-side:]),
    )
    differs, known = [], []
    for ground, cell in edges:
        if len(ground) < 2:
            differs.append(np.zeros(len(starts), dtype=bool))
            known.append(np.zeros(len(starts), dtype=bool))
            continue
        lines = np.median(ground, axis=0), np.median(cell, axis=0)
        pairs = [[_core_of(line, each, pitch) for each in starts] for line in lines]
        seen = np.array(pairs)  # line, cell, (mean, scatter, error, rise)
        outer, inner = seen[:, :, 0]
        outer_error, inner_error = seen[:, :, 2]
        limit = SEEN_AT * np.hypot(outer_error, inner_error) + LEAST_OUT
        with np.errstate(invalid="ignore"):
            differs.append(np.abs(outer - inner) > limit)
        known.append(np.isfinite(outer))
    both = np.array(differs).sum(axis=0)
    return np.asarray(np.where(np.array(known).sum(axis=0) == 1, 2 * both, both))


def _core_of(
    line: FloatArray, start: float, pitch: float
) -> tuple[float, float, float, float]:
    """Mean, scatter, standard error of a cell's core, and how its halves differ."""
    low = round(start + pitch * (1 - CORE) / 2)
    high = max(round(start + pitch * (1 + CORE) / 2), low + 2)
    part = line[low:high]
    if len(part) < 2:
        return np.nan, np.nan, np.nan, np.nan
    half = len(part) // 2
    rise = abs(float(part[-half:].mean() - part[:half].mean()))
    spread = float(part.std())
    # Neighbouring pixels share noise: half of them count.
    error = spread / np.sqrt(max(len(part) / 2, 1))
    return float(part.mean()), spread, error, rise


def _counts(cells: _Cells, steps: int, *, bounded: bool) -> list[Count]:
    """Judge every row of so many neighbouring cells."""
    falls = cells.mean[:-1] - cells.mean[1:]
    usual_error = float(np.nanmedian(cells.error))
    limit = (
        SEEN_AT
        * np.hypot(
            np.maximum(cells.error[:-1], usual_error),
            np.maximum(cells.error[1:], usual_error),
        )
        + LEAST_SEEN
    )
    with np.errstate(invalid="ignore"):
        seen, back = falls > limit, falls < -limit
    found = [
        (int(seen[first:last].sum() + cells.sides[first : last + 1].sum()), first)
        for first in range(len(cells.mean) - steps + 1)
        if _holds(cells, seen, back, first, last := first + steps - 1)
        and (bounded or _ends(cells, seen, first, last))
    ]
    found.sort(reverse=True)
    counts = []
    for score, first in found:
        others = [each for each, place in found if place != first]
        counts.append(
            Count(
                start=float(cells.start[first]),
                pitch=cells.pitch,
                score=score,
                lead=score - max(others, default=0),
                open_ends=int((cells.sides[[first, first + steps - 1]] == 0).sum()),
                unseen=int((~seen[first : first + steps - 1]).sum()),
            )
        )
    return counts


def _holds(
    cells: _Cells, seen: BoolArray, back: BoolArray, first: int, last: int
) -> bool:
    """Tell whether cells `first` to `last` can be all of a wedge.

    `seen` and `back` say which edges, from each cell to the next, fall or rise.
    """
    edges = slice(first, last)
    if not cells.even[first : last + 1].all() or back[edges].any():
        return False
    if seen[edges].sum() < EDGES_SHARE * (last - first):
        return False
    # Cells between which no edge is seen must be seen against the ground, or be
    # clipped; else they may be anything.
    clipped = (cells.mean > CLIPPED[1]) | (cells.mean < CLIPPED[0])
    known = (cells.sides == 2) | clipped
    both = known[first:last] & known[first + 1 : last + 1]
    return bool((seen[edges] | both).all())


def _ends(cells: _Cells, seen: BoolArray, first: int, last: int) -> bool:
    """Tell whether a strip is seen to begin and end with these cells.

    A cell at one end that looks like the ground may be ground, unless the strip is seen
    to end at the other.
    """
    before = _beyond(cells, seen, first - 1, edge=first - 1)
    after = _beyond(cells, seen, last + 1, edge=last)
    return (
        "more" not in (before, after)
        and bool(cells.sides[first] or after == "ground")
        and bool(cells.sides[last] or before == "ground")
    )


def _beyond(
    cells: _Cells, seen: BoolArray, cell: int, *, edge: int
) -> Literal["more", "ground", "unknown"]:
    """Say what lies beyond an end: one more cell of the strip, or its ground."""
    if not 0 <= cell < len(cells.mean) or not np.isfinite(cells.mean[cell]):
        return "ground" if _turns_back(cells, cell, after=cell > edge) else "unknown"
    if cells.even[cell] and seen[edge] and cells.sides[cell] > 0:
        return "more"
    return "ground"


def _turns_back(cells: _Cells, cell: int, *, after: bool) -> bool:
    """Tell whether a quarter of a cell out of view is seen to go back in level.

    A scan often ends a few millimetres beyond the wedge. What is lighter beyond its
    dark end, or darker beyond its light one, is no further cell.
    """
    inner = cell - 1 if after else cell + 1
    near, far = (1.1, 1.35) if after else (-0.35, -0.1)
    low, high = (
        round(cells.start[inner] + share * cells.pitch) for share in (near, far)
    )
    part = cells.line[max(low, 0) : max(high, 0)]
    if len(part) < 2 or not np.isfinite(part).all():
        return False
    back = float(part.mean() - cells.mean[inner]) * (1 if after else -1)
    return back > SEEN_AT * float(cells.error[inner]) + LEAST_OUT


def cells_seen(strip: Strip, steps: int, px_per_mm: float) -> int:
    """Return how many cells a strip seems to have, for messages; 0 if none are seen."""
    line = np.median(strip.inner, axis=0)
    cells = _cells(strip, line, steps, px_per_mm)
    if cells is None:
        return 0
    part = cells.even & (cells.sides > 0)
    most = run = 0
    for each in part:
        run = run + 1 if each else 0
        most = max(most, run)
    return most
