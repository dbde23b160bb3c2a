"""Equal cells along a line that darkens: the comb whose teeth part them.

Tells where the edges between cells lie, to a fraction of a pixel, though not which cell
is the first.
"""

import numpy as np

from negcurve.reading.wedge_search import SLACK
from negcurve.values import FloatArray

CORE = 0.6
"""Share of a cell's length that is judged: edges blur, lines may part cells. [1]"""

BODY = 0.8
"""Share in which a comb's cells must be even: with less, a comb of another pitch slips
between the edges of a few long cells. [1]"""

EDGES_SHARE = 0.6
"""Share of the edges between cells that must be seen."""


def comb_on(
    line: FloatArray, core: tuple[float, float], steps: int
) -> tuple[float, float] | None:
    """Find the comb of cells on a line.

    Parameters
    ----------
    line : array, shape (n,)
        Log level, falling to the right within `core`; NaN where unknown.
    core : (first, last)
        Where the middle of the fall lies. [px]
    steps : int
        That the wedge has.

    Returns
    -------
    (phase, pitch) or None
        An edge between two cells and the length of a cell. [px]
    """
    span = _span(line, core)
    comb = _comb(line, span, steps)
    return None if comb is None else _on_edges(line, *comb, span)


def _span(line: FloatArray, core: tuple[float, float]) -> tuple[float, float]:
    """Return where a line falls that goes on falling: from 2 % to 98 % of it."""
    first, last = int(core[0]), int(core[1])
    middle = (first + last) // 2
    right = _run(line[middle:])
    left = _run(-line[middle::-1])
    part = line[middle - left + 1 : middle + right]
    low = np.minimum.accumulate(part)
    fall = (low[0] - low) / max(low[0] - low[-1], 1e-9)
    ends = np.searchsorted(fall, (0.02, 0.98)) + middle - left + 1
    return float(min(ends[0], first)), float(max(ends[1], last))


def _run(line: FloatArray) -> int:
    """Return how many places of a line go by before it rises again or ends."""
    low = np.minimum.accumulate(np.where(np.isfinite(line), line, -np.inf))
    with np.errstate(invalid="ignore"):
        ended = ~(line <= low + SLACK)
    return int(ended.argmax()) if ended.any() else len(line)


def _comb(
    line: FloatArray, span: tuple[float, float], steps: int
) -> tuple[float, float] | None:
    """Find phase and pitch of the comb between whose teeth the line is most even."""
    first, last = span
    length = last - first
    known = np.isfinite(line)
    filled = np.where(known, line, 0.0)
    sums = np.concatenate([[0.0], np.cumsum(filled)])
    squares = np.concatenate([[0.0], np.cumsum(filled**2)])
    pitches = np.geomspace(
        max(length / (steps + 0.5), 3.0),
        max(length / (EDGES_SHARE * steps - 1.5), 3.2),
        12 * steps,
    )
    best: tuple[float, float, float] | None = None
    for pitch in pitches:
        count = int(length / pitch)
        if count < 3:
            continue
        phases = first + pitch * np.arange(0, 1, 0.1)
        middles = phases[:, np.newaxis] + pitch * (np.arange(count) + 0.5)
        mean = _means(sums, middles, BODY / 2 * pitch)
        within = _means(squares, middles, BODY / 2 * pitch) - mean**2
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
    line: FloatArray, phase: float, pitch: float, span: tuple[float, float]
) -> tuple[float, float]:
    """Lay the comb on the middles of the edges that are seen."""
    slope = np.abs(np.diff(line))
    at = np.arange(len(slope)) + 1.0
    for _ in range(3):
        # Beyond the fall lie edges of borders, which are not on the comb.
        low = int(np.ceil((span[0] - phase) / pitch - 0.3))
        high = int(np.floor((span[1] - phase) / pitch + 0.3))
        teeth, places, weights = [], [], []
        for tooth in range(low, high + 1):
            near = np.abs(at - (phase + tooth * pitch)) < 0.4 * pitch
            part = slope[near]
            if len(part) < 2 or not np.isfinite(part).all():
                continue
            above = np.maximum(part - 0.25 * part.max(), 0)
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
