"""Equal steps along a line of density: the comb of edges that fits them.

Works on one profile at a time; where profiles come from is left to
`negcurve.reading.step_strip`.
"""

from dataclasses import dataclass

import numpy as np

from negcurve.values import FloatArray

SMALLEST_FALL = 0.5
"""Density from one end of a strip to the other, at least. [D]"""

SLACK = 0.06
"""How far density may go back within a strip: noise and uneven coating. [D]"""

SHORTEST_STEP_PX = 4.0

SHIFTS = (-0.25, 0.0, 0.25)
"""Where the outer edge is tried, from where density jumps, in steps."""

OUTER_BONUS = 0.05
"""Worth of a visible outer edge, in shares of the fall: it tells which step is first
where a strip's ends merge with themselves. Our own choice."""

NARROWEST_PITCH, WIDEST_PITCH = 0.95, 2.2
"""Pitch that is tried, over what is seen of the fall divided by the number of steps.

What is seen is shorter than the strip where dark or light steps merge. [1]
"""

LEAST_SCORE = 0.25
"""Share of the fall that must lie at the comb's teeth rather than between them."""

FEWEST_TEETH, LEAST_TOOTH, LARGEST_TOOTH = 6, 0.01, 0.35
"""Edges that must be seen, and the share of the fall that each may hold."""


@dataclass(frozen=True, kw_only=True)
class Comb:
    """Equal steps on a line.

    Attributes
    ----------
    start : float
        Outer edge of the first step in reading direction. [px]
    pitch : float
        Length of a step. [px]
    score : float
        How much more density changes at the edges than in the middles, 0..1.
    """

    start: float
    pitch: float
    score: float

    def like(self, other: "Comb | None") -> bool:
        """Tell whether another band shows the same strip."""
        return (
            other is not None
            and abs(other.start - self.start) < 0.5 * self.pitch
            and abs(other.pitch - self.pitch) < 0.03 * self.pitch
        )


def combs_on(density: FloatArray, steps: int) -> list[Comb]:
    """Find the combs of steps that may lie on a line of density.

    Parameters
    ----------
    density : array, shape (n,)
        Along the line. [D]
    steps : int

    Returns
    -------
    list of Comb
        Up to two for every stretch that falls or rises: a comb may hang on the jump at
        its light end or on that at its dark end, and a line alone cannot always tell.
    """
    found = []
    for turned in (False, True):
        line = density[::-1] if turned else density
        for first, last in falls(line):
            combs = _combs_within(line, first, last, steps)
            found += [_turned(c, len(line), steps) if turned else c for c in combs]
    return found


def _turned(comb: Comb, length: int, steps: int) -> Comb:
    start = length - comb.start - comb.pitch * steps
    return Comb(start=start, pitch=comb.pitch, score=comb.score)


def falls(density: FloatArray) -> list[tuple[int, int]]:
    """Find the stretches along which density falls, save for `SLACK`.

    Returns
    -------
    list of (int, int)
        First and last place; the end is where density jumps up again.
    """
    found = []
    first, low = 0, float(density[0])
    high = low
    for place, value in enumerate(density.tolist()):
        if value > low + SLACK:
            if high - low >= SMALLEST_FALL:
                found.append((first, place))
            first, low, high = place, value, value
            continue
        if value > high - SLACK / 2:
            high = max(high, value)
        low = min(low, value)
    if high - low >= SMALLEST_FALL:
        found.append((first, len(density)))
    return found


def _combs_within(density: FloatArray, first: int, last: int, steps: int) -> list[Comb]:
    """Fit combs whose outer edge is where density jumps, at either end of a fall."""
    slope = _edges(density[first:last])
    pitch = _pitches(density[first:last], steps)
    pitch = pitch[pitch * steps <= len(density)]
    if not len(pitch):
        return []
    shift = (np.array(SHIFTS)[:, np.newaxis] * pitch).ravel()
    pitches = np.tile(pitch, len(SHIFTS))
    found = []
    for ends in (last - first + shift, pitches * steps + shift):
        starts = first + ends - pitches * steps
        score = _score(slope, ends, pitches, steps)
        jumps = _outer_jumps(density, starts, pitches, steps)
        score += OUTER_BONUS * slope.sum() * jumps
        score[starts < -0.5 * pitches] = -np.inf
        best = int(score.argmax())
        if np.isfinite(score[best]):
            comb = Comb(
                start=float(starts[best]),
                pitch=float(pitches[best]),
                score=float(score[best]),
            )
            found.append(_worthy(comb, slope, first, steps))
    return [comb for comb in found if comb is not None]


def _outer_jumps(
    density: FloatArray, starts: FloatArray, pitches: FloatArray, steps: int
) -> FloatArray:
    """Count the outer edges, 0 to 2, at which density changes visibly."""
    grid = np.arange(len(density))
    count = np.zeros_like(starts)
    for edge in (starts, starts + pitches * steps):
        before = np.interp(edge - pitches / 3, grid, density)
        after = np.interp(edge + pitches / 3, grid, density)
        count += np.abs(after - before) > SLACK
    return count


def _pitches(density: FloatArray, steps: int) -> FloatArray:
    """Pitches to try for a fall, from what of it can be seen, shape (n,)."""
    begins = np.flatnonzero(density < density.max() - SLACK)
    stops = np.flatnonzero(density > density.min() + SLACK)
    if not len(begins) or not len(stops):
        return np.empty(0)
    seen = float(stops[-1] - begins[0])
    whole = float(len(density) - begins[0])
    low, high = NARROWEST_PITCH * seen / steps, WIDEST_PITCH * max(seen, whole) / steps
    low = max(low, SHORTEST_STEP_PX)
    if high <= low:
        return np.empty(0)
    return np.geomspace(low, high, int(np.log(high / low) / 0.004) + 2)


def _worthy(comb: Comb, slope: FloatArray, first: int, steps: int) -> Comb | None:
    """Keep a comb with enough teeth, none of which holds most of the fall."""
    edges = comb.start - first + comb.pitch * np.arange(1.0, steps)
    teeth = _near(slope, edges, comb.pitch / 4)
    total = float(slope.sum())
    share = comb.score / total
    seen = int((teeth > LEAST_TOOTH * total).sum())
    if (
        share < LEAST_SCORE
        or seen < FEWEST_TEETH
        or teeth.max() > LARGEST_TOOTH * total
    ):
        return None
    return Comb(start=comb.start, pitch=comb.pitch, score=share)


def _edges(density: FloatArray) -> FloatArray:
    """Fall of density at each place, without rises."""
    return np.maximum(-np.gradient(density), 0.0) + 1e-9


def _score(
    slope: FloatArray,
    ends: FloatArray,
    pitches: FloatArray,
    steps: int,
    *,
    reach: float = 0.25,
) -> FloatArray:
    """Fall within reach of the inner edges less that of the middles, shape (n,)."""
    edges = ends[:, np.newaxis] - pitches[:, np.newaxis] * np.arange(1, steps)
    middles = ends[:, np.newaxis] - pitches[:, np.newaxis] * (np.arange(steps) + 0.5)
    near = pitches[:, np.newaxis] * reach
    return np.asarray(
        _near(slope, edges, near).sum(axis=1) - _near(slope, middles, near).sum(axis=1)
    )


def _near(
    slope: FloatArray, places: FloatArray, reach: FloatArray | float
) -> FloatArray:
    """Fall within reach of each place, any shape."""
    running = np.concatenate([[0.0], np.cumsum(slope)])
    grid = np.arange(len(running)) - 0.5
    low = np.interp(places - reach, grid, running)
    high = np.interp(places + reach, grid, running)
    return np.asarray(high - low)


def fit_ends(profile: FloatArray, steps: int) -> tuple[float, float]:
    """Fit first edge and pitch where the strip's box is known to about half a step.

    Parameters
    ----------
    profile : array, shape (n,)
        Density along the box. [D]
    steps : int

    Returns
    -------
    (float, float)
        Start and pitch. [px]
    """
    slope = np.abs(np.gradient(profile))
    edge = max(int(0.5 * len(profile) / steps), 1)
    slope[:edge] = slope[-edge:] = 0.0  # the outer edges belong to the ground
    middle, pitch = len(profile) / 2, len(profile) / steps
    for stretch, shift, reach in REFINEMENTS:
        middle, pitch = _nearest_comb(
            slope, steps, (middle, pitch), stretch=stretch, shift=shift, reach=reach
        )
    return middle - pitch * steps / 2, pitch


REFINEMENTS = ((0.05, 0.5, 0.25), (0.02, 0.25, 0.10), (0.005, 0.08, 0.04))
"""Rounds of fitting: how far pitch and place are tried, and how near to its tooth an
edge counts, all in steps."""


def _nearest_comb(
    slope: FloatArray,
    steps: int,
    known: tuple[float, float],
    *,
    stretch: float,
    shift: float,
    reach: float,
) -> tuple[float, float]:
    """Fit middle and pitch of a comb near the known ones. [px]."""
    stretches, shifts = (
        each.ravel()
        for each in np.meshgrid(
            np.linspace(-stretch, stretch, 33), np.linspace(-shift, shift, 41)
        )
    )
    pitches = known[1] * (1 + stretches)
    middles = known[0] + shifts * known[1]
    ends = middles + pitches * steps / 2
    score = _score(slope, ends, pitches, steps, reach=reach)
    # Among equals the comb that is known.
    score -= 1e-6 * (np.abs(shifts) + np.abs(stretches))
    best = int(score.argmax())
    return float(middles[best]), float(pitches[best])
