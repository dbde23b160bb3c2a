"""The cells of a step wedge: where each lies, and which is the first.

Takes a stretch of a picture that darkens steadily, finds the comb of equal cells on it,
and counts them by what stands out from the ground beside the strip.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from negcurve.reading.wedge_search import Stretch
from negcurve.values import FloatArray

IntArray = npt.NDArray[np.int_]
BoolArray = npt.NDArray[np.bool_]

CORE = 0.6
"""Share of a cell's length that is judged: edges blur, lines may part cells. [1]"""

SIDE_MM = 1.2
"""So much of the ground on each side of a strip it is compared with. [mm]"""

REACH = 0.9
"""How far beyond the core of its fall a strip may go, in lengths of that. [1]"""

TURNS = 3
"""So often the angle of a stretch is set right by the lean of its edges."""

SEEN_AT = 4.0
"""An edge is seen if it is so many standard errors high."""

LEAST_SEEN = 0.004
"""Nor is anything less than this seen, in log level: about a code of 8 bits in the
mean of many. Ours."""

EVEN_SHARE, RISE_SHARE = 0.35, 0.13
"""A cell may scatter by the first share of the steps beside it, and differ by the
second between its halves; on an even slope they would differ by 0.3."""

EDGES_SHARE = 0.6
"""Share of the edges between cells that must be seen."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Strip:
    """A stretch seen level, darkening to the right.

    Attributes
    ----------
    rows : array, shape (height, width)
        Log level, NaN where nothing may lie.
    top, bottom : int
        Rows of the strip itself.
    matrix : array, shape (2, 3)
        From x, y in `rows` to the picture. [px]
    core : (first, last)
        Columns between which the middle 70 % of the fall lie.
    """

    rows: FloatArray
    top: int
    bottom: int
    matrix: FloatArray
    core: tuple[float, float]

    @property
    def inner(self) -> FloatArray:
        """Rows well inside the strip."""
        edge = max(1, round(0.12 * (self.bottom - self.top)))
        return self.rows[self.top + edge : self.bottom - edge]


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
        Edges between cells that are seen, and cells that stand out from the ground.
    lead : int
        By how much the score exceeds that of the next best count.
    """

    start: float
    pitch: float
    score: int
    lead: int


def strip_of(picture: FloatArray, stretch: Stretch, px_per_mm: float) -> Strip | None:
    """See a stretch level, at its exact angle, and find how high it is.

    Returns
    -------
    Strip or None
        None where the rows do not agree with each other.
    """
    side = max(3, round(SIDE_MM * px_per_mm))
    half = (
        int((0.5 + REACH) * stretch.length) + 2,
        int(0.5 * stretch.height + 6 * px_per_mm) + side,
    )
    core = half[0] - stretch.length / 2, half[0] + stretch.length / 2
    near = max(1, int(0.35 * stretch.height))
    middle = half[1] + np.arange(-near, near + 1)
    angle = stretch.angle
    for _ in range(TURNS):
        rows = _level_view(picture, stretch.middle, angle, half)
        angle += _turn(rows[middle], middle - half[1], core)
    rows = _level_view(picture, stretch.middle, angle, half)
    extent = _extent(rows, middle, core)
    if extent is None:
        return None
    cos, sin = np.cos(angle), np.sin(angle)
    turned = np.array([[cos, -sin], [sin, cos]])
    origin = np.array(stretch.middle) - turned @ (np.array(half) + 0.5)
    return Strip(
        rows=rows,
        top=extent[0],
        bottom=extent[1],
        matrix=np.column_stack([turned, origin]),
        core=core,
    )


def _level_view(
    picture: FloatArray,
    middle: tuple[float, float],
    angle: float,
    half: tuple[int, int],
) -> FloatArray:
    """Sample a turned rectangle, a pixel for a pixel; NaN outside."""
    cos, sin = np.cos(angle), np.sin(angle)
    # Rows, columns of the picture from rows, columns of the view.
    matrix = np.array([[cos, sin], [-sin, cos]])
    # Pixel centres lie at half-integer places.
    centre = np.array([middle[1] - 0.5, middle[0] - 0.5])
    offset = centre - matrix @ np.array([half[1], half[0]])
    return np.asarray(
        ndimage.affine_transform(
            picture,
            matrix,
            offset,
            output_shape=(2 * half[1] + 1, 2 * half[0] + 1),
            order=1,
            cval=np.nan,
        )
    )


def _turn(rows: FloatArray, places: IntArray, core: tuple[float, float]) -> float:
    """Return the turn after which the edges between cells stand upright, in radians.

    Each row is the mean one moved by its place times the lean of the edges; to first
    order that is the slope of the mean times the move.
    """
    part = rows[:, int(core[0]) : int(core[1]) + 1]
    part = ndimage.uniform_filter1d(part, 3, axis=1)
    mean = np.median(part, axis=0)
    slope = np.gradient(mean)
    # Only edges tell; a hair that crosses one counts as an edge moved by two pixels.
    edges = np.abs(slope) > 3 * np.median(np.abs(slope))
    rest = (part - mean)[:, edges]
    rest = np.clip(rest, -2 * np.abs(slope[edges]), 2 * np.abs(slope[edges]))
    expected = -slope[edges] * places[:, np.newaxis]
    known = np.isfinite(rest)
    power = float((expected[known] ** 2).sum())
    if power <= 0:
        return 0.0
    lean = float((rest[known] * expected[known]).sum()) / power
    return float(-np.arctan(np.clip(lean, -0.03, 0.03)))


def _extent(
    rows: FloatArray, middle: IntArray, core: tuple[float, float]
) -> tuple[int, int] | None:
    """Find the rows that show what the middle ones show."""
    part = rows[:, int(core[0]) : int(core[1]) + 1]
    seen = np.median(part[middle], axis=0)
    known = np.isfinite(seen)
    if known.mean() < 0.9:
        return None
    off = np.abs(part[:, known] - seen[known])
    away = np.where(
        np.isfinite(off).mean(axis=1) > 0.9,
        np.nanmedian(np.nan_to_num(off, nan=1.0), axis=1),
        np.inf,
    )
    usual = float(np.median(away[middle]))
    spread = float(np.ptp(seen[known]))
    alike = away < max(3 * usual, 0.06 * spread)
    centre = int(middle[len(middle) // 2])
    if not alike[middle].mean() > 0.8:
        return None
    top = bottom = centre
    while top > 0 and alike[top - 1 : top].any():
        top -= 1
    while bottom < len(rows) and alike[bottom : bottom + 1].any():
        bottom += 1
    return (top, bottom) if bottom - top >= 4 else None


def count_cells(strip: Strip, steps: int, px_per_mm: float) -> list[Count]:
    """Count the cells of a strip.

    Parameters
    ----------
    strip : Strip
    steps : int
        That the wedge has.
    px_per_mm : float
        Of the strip.

    Returns
    -------
    list of Count
        What the strip allows, the best first; empty where it shows no such cells.
    """
    line = np.median(strip.inner, axis=0)
    comb = _comb(line, strip.core, steps)
    if comb is None:
        return []
    phase, pitch = _on_edges(line, *comb, strip.core)
    cells = _cells(strip, line, phase, pitch, px_per_mm)
    return _counts(cells, steps)


def _comb(
    line: FloatArray, core: tuple[float, float], steps: int
) -> tuple[float, float] | None:
    """Find phase and pitch of the comb between whose teeth the line is most even."""
    first, last = core
    length = last - first
    known = np.isfinite(line)
    filled = np.where(known, line, 0.0)
    sums = np.concatenate([[0.0], np.cumsum(filled)])
    squares = np.concatenate([[0.0], np.cumsum(filled**2)])
    pitches = np.geomspace(
        max(0.97 * length / steps, 3.0), max(2.2 * length / steps, 3.2), 10 * steps
    )
    best: tuple[float, float, float] | None = None
    for pitch in pitches:
        count = int(length / pitch)
        if count < 3:
            continue
        phases = first + pitch * np.arange(0, 1, 0.1)
        middles = phases[:, np.newaxis] + pitch * (np.arange(count) + 0.5)
        mean = _means(sums, middles, CORE / 2 * pitch)
        within = _means(squares, middles, CORE / 2 * pitch) - mean**2
        between = (np.diff(mean, axis=1) ** 2).mean(axis=1)
        ratio = np.maximum(within, 0).mean(axis=1) / np.maximum(between, 1e-12)
        place = int(ratio.argmin())
        if best is None or ratio[place] < best[0]:
            best = float(ratio[place]), float(phases[place]), float(pitch)
    return None if best is None else best[1:]


def _means(running: FloatArray, middles: FloatArray, reach: float) -> FloatArray:
    """Mean of a line around places, from its running sum."""
    low, high = middles - reach, middles + reach
    places = np.arange(len(running), dtype=np.float64)
    return np.asarray(
        (np.interp(high, places, running) - np.interp(low, places, running))
        / (2 * reach)
    )


def _on_edges(
    line: FloatArray, phase: float, pitch: float, core: tuple[float, float]
) -> tuple[float, float]:
    """Lay the comb on the middles of the edges that are seen."""
    slope = np.abs(np.diff(line))
    at = np.arange(len(slope)) + 1.0
    for _ in range(3):
        low = int(np.floor((core[0] - phase) / pitch)) - 1
        high = int(np.ceil((core[1] - phase) / pitch)) + 1
        teeth, places, weights = [], [], []
        for tooth in range(low, high + 1):
            near = np.abs(at - (phase + tooth * pitch)) < 0.4 * pitch
            part = slope[near]
            if len(part) < 2 or not np.isfinite(part).all():
                continue
            above = np.maximum(part - np.median(part), 0)
            if above.sum() <= 0:
                continue
            teeth.append(tooth)
            places.append(float((above * at[near]).sum() / above.sum()))
            weights.append(float(above.sum()))
        if len(teeth) < 3:
            break
        # Large edges count more, yet not so much that they alone decide.
        weight = np.sqrt(np.minimum(weights, 2 * float(np.median(weights))))
        fitted = np.polyfit(teeth, places, 1, w=weight)
        pitch, phase = float(fitted[0]), float(fitted[1])
    return phase, pitch


@dataclass(frozen=True, eq=False, kw_only=True)
class _Cells:
    """All cells of a comb that lie in view, shape (n,) each."""

    start: FloatArray
    pitch: float
    mean: FloatArray
    error: FloatArray
    even: BoolArray  # 1 where the cell is even and in view
    stands_out: BoolArray  # 1 where it differs from the ground beside it


def _cells(
    strip: Strip, line: FloatArray, phase: float, pitch: float, px_per_mm: float
) -> _Cells:
    width = len(line)
    first = int(np.ceil(-phase / pitch))
    starts = np.arange(phase + first * pitch, width - pitch, pitch)
    side = max(2, round(SIDE_MM * px_per_mm))
    gap = 1
    above = strip.rows[max(strip.top - gap - side, 0) : max(strip.top - gap, 0)]
    below = strip.rows[strip.bottom + gap : strip.bottom + gap + side]
    found = [_core_of(line, start, pitch) for start in starts]
    mean, spread, error, rise = (np.array(each) for each in zip(*found, strict=True))
    step = np.pad(np.abs(np.diff(mean)), 1, constant_values=0.0)
    with np.errstate(invalid="ignore"):
        beside = np.fmax(step[:-1], step[1:])
        even = (spread < np.fmax(EVEN_SHARE * beside, 0.012)) & (
            rise < np.fmax(RISE_SHARE * beside, SEEN_AT * error + LEAST_SEEN)
        )
    out = np.zeros(len(starts), dtype=bool)
    for ground in (above, below):
        if len(ground) < 2:
            continue
        ground_line = np.median(ground, axis=0)
        for place, start in enumerate(starts):
            other, _, other_error, _ = _core_of(ground_line, start, pitch)
            limit = SEEN_AT * np.hypot(error[place], other_error) + LEAST_SEEN
            out[place] |= bool(abs(other - mean[place]) > limit)
    return _Cells(
        start=starts,
        pitch=pitch,
        mean=mean,
        error=error,
        even=even & np.isfinite(mean),
        stands_out=out,
    )


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


def _counts(cells: _Cells, steps: int) -> list[Count]:
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
    found = []
    for first in range(len(cells.mean) - steps + 1):
        inside = slice(first, first + steps)
        edges = slice(first, first + steps - 1)
        if not cells.even[inside].all() or back[edges].any():
            continue
        if seen[edges].sum() < EDGES_SHARE * (steps - 1):
            continue
        if _goes_on(cells, seen, first - 1, edge=first - 1):
            continue
        if _goes_on(cells, seen, first + steps, edge=first + steps - 1):
            continue
        score = int(seen[edges].sum() + cells.stands_out[inside].sum())
        found.append((score, first))
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
            )
        )
    return counts


def _goes_on(cells: _Cells, seen: BoolArray, cell: int, *, edge: int) -> bool:
    """Tell whether a cell just beyond a count is one of the strip as well."""
    if not 0 <= cell < len(cells.mean) or not 0 <= edge < len(seen):
        return False
    return bool(cells.even[cell] and seen[edge] and cells.stands_out[cell])


def cells_seen(strip: Strip, steps: int, px_per_mm: float) -> int:
    """Return how many cells a strip seems to have, for messages; 0 if none are seen."""
    line = np.median(strip.inner, axis=0)
    comb = _comb(line, strip.core, steps)
    if comb is None:
        return 0
    cells = _cells(strip, line, *_on_edges(line, *comb, strip.core), px_per_mm)
    part = cells.even & cells.stands_out
    most = run = 0
    for each in part:
        run = run + 1 if each else 0
        most = max(most, run)
    return most
