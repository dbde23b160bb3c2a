"""Which level goes to which place: scattered so that an uneven print misleads least.

A print is never even: coating, lamp and development leave slopes, bows and twists over
the sheet. Levels are placed so that none of these looks like a change of tone.
"""

import math
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

Place = tuple[int, int]
"""Centre of a patch, in whole units."""

PPM = 1_000_000

_GOOD_PPM = 1600
"""Squared correlation that is good enough to stop at: |r| = 0.04."""

_NEAR_REPEAT = 20_000
_CLOSE_NEIGHBOUR = 10_000
_ROUNDS = 100
_SWAPS_A_ROUND = 200


@dataclass(frozen=True, kw_only=True)
class _Shape:
    """One shape of unevenness and one function of level that must not go along."""

    over_places: tuple[int, ...]
    over_levels: tuple[int, ...]
    weight: int

    def covariance(self, level_at: Sequence[int]) -> int:
        """Sum of products of the two, each counted from its mean, times a constant."""
        pairs = zip(self.over_places, level_at, strict=True)
        return sum(here * self.over_levels[level] for here, level in pairs)

    def squared_correlation(self, covariance: int) -> int:
        """Return r^2 in parts per million, 0 where it has no meaning."""
        return covariance * covariance * PPM // self.weight if self.weight else 0


def scatter(
    places: Sequence[Place], *, levels: int, repeats: int, seed: int, pitch: Place
) -> list[int]:
    """Choose the level at each place.

    Starts from a shuffle and swaps pairs as long as that lowers a penalty: squared
    correlation of level, and of its square about the middle, with x, y, x^2, xy, y^2;
    repeats of a level that lie near each other; neighbours of nearly the same level.

    Parameters
    ----------
    places : sequence of (x, y), length levels x repeats
        Centres. [1/200 mm]
    levels, repeats : int
        How many levels, and how often each occurs.
    seed : int
        Seeds `random.Random`, of which only `random()` is used: its sequence is fixed
        by Python's documentation.
    pitch : (int, int)
        Distance of neighbouring centres across and down. [1/200 mm]

    Returns
    -------
    list of int, length levels x repeats
        Number of the level at each place, from 0.
    """
    draw = random.Random(seed)
    level_at = [level for level in range(levels) for _ in range(repeats)]
    for place in range(len(level_at) - 1, 0, -1):
        other = _below(draw, place + 1)
        level_at[place], level_at[other] = level_at[other], level_at[place]
    _Scatter(places, level_at, levels=levels, repeats=repeats, pitch=pitch).settle(draw)
    return level_at


def correlations(
    places: Sequence[tuple[float, float]], level: Sequence[float]
) -> dict[str, float]:
    """Correlation of level with x, y, x^2, xy and y^2, counted from the middle.

    Parameters
    ----------
    places : sequence of (x, y), length n
        Any unit.
    level : sequence of float, length n

    Returns
    -------
    dict of str to float
        Pearson's r by the name of the shape; 0 where either does not vary.
    """
    count = len(level)
    middle = [sum(each) / count for each in zip(*places, strict=True)]
    about = [(x - middle[0], y - middle[1]) for x, y in places]
    return {
        name: _pearson([x**across * y**down for x, y in about], level)
        for name, (across, down) in SHAPES.items()
    }


SHAPES = {"x": (1, 0), "y": (0, 1), "x^2": (2, 0), "xy": (1, 1), "y^2": (0, 2)}
"""Shapes of unevenness by name, as powers of x and y counted from the middle."""


def _pearson(first: Sequence[float], second: Sequence[float]) -> float:
    mean, other_mean = sum(first) / len(first), sum(second) / len(second)
    a = [each - mean for each in first]
    b = [each - other_mean for each in second]
    size = sum(each * each for each in a) * sum(each * each for each in b)
    product = sum(one * other for one, other in zip(a, b, strict=True))
    return float(product / math.sqrt(size)) if size > 0 else 0.0


def _below(draw: random.Random, stop: int) -> int:
    return int(draw.random() * stop)


def _about_mean(values: Sequence[int]) -> tuple[int, ...]:
    """Whole numbers proportional to the distance from the mean."""
    total = sum(values)
    return tuple(len(values) * each - total for each in values)


def _shapes(places: Sequence[Place], *, levels: int, repeats: int) -> Iterator[_Shape]:
    across = _about_mean([x for x, _ in places])
    down = _about_mean([y for _, y in places])
    about = list(zip(across, down, strict=True))
    steps = range(levels)
    for power in (1, 2):
        over_levels = _about_mean([each**power for each in _about_mean(list(steps))])
        level_size = repeats * sum(each * each for each in over_levels)
        for right, below in SHAPES.values():
            over_places = _about_mean([x**right * y**below for x, y in about])
            size = sum(each * each for each in over_places)
            yield _Shape(
                over_places=over_places,
                over_levels=over_levels,
                weight=size * level_size,
            )


class _Scatter:
    """The state of the search: levels at places, and what they cost."""

    def __init__(
        self,
        places: Sequence[Place],
        level_at: list[int],
        *,
        levels: int,
        repeats: int,
        pitch: Place,
    ) -> None:
        self.level_at = level_at
        self.places = places
        self.shapes = tuple(_shapes(places, levels=levels, repeats=repeats))
        self.covariances = [each.covariance(level_at) for each in self.shapes]
        self.close_levels = max(1, levels // 8)
        self.neighbours = [_near(places, place, pitch) for place in range(len(places))]
        self.far = _far_enough(places, repeats)
        self.where: list[set[int]] = [set() for _ in range(levels)]
        for place, level in enumerate(level_at):
            self.where[level].add(place)

    def settle(self, draw: random.Random) -> None:
        """Swap pairs of places while that costs no more, until good or tired.

        Every other pair begins with a place that costs something, if any does.
        """
        count = len(self.places)
        everywhere = range(count)
        for _ in range(_ROUNDS):
            costly = [place for place in everywhere if self._local_cost(place)]
            if not costly and self._uneven(self.covariances) == 0:
                return
            for turn in range(max(_SWAPS_A_ROUND, 4 * count)):
                among: Sequence[int] = costly if costly and turn % 2 else everywhere
                first = among[_below(draw, len(among))]
                second = _below(draw, count)
                if self.level_at[first] != self.level_at[second]:
                    self._try(first, second)

    def _try(self, first: int, second: int) -> None:
        """Swap two places, and back again if that costs more."""
        before = self._uneven(self.covariances) + self._local_cost(first, second)
        uneven, covariances = self._swapped(first, second)
        self._swap(first, second)
        if uneven + self._local_cost(first, second) > before:
            self._swap(first, second)
        else:
            self.covariances = covariances

    def _uneven(self, covariances: Sequence[int]) -> int:
        """Sum of squared correlations beyond what is good enough."""
        pairs = zip(self.shapes, covariances, strict=True)
        return sum(
            max(shape.squared_correlation(each) - _GOOD_PPM, 0) for shape, each in pairs
        )

    def _swapped(self, first: int, second: int) -> tuple[int, list[int]]:
        one, other = self.level_at[first], self.level_at[second]
        covariances = [
            each
            + (shape.over_levels[other] - shape.over_levels[one])
            * (shape.over_places[first] - shape.over_places[second])
            for shape, each in zip(self.shapes, self.covariances, strict=True)
        ]
        return self._uneven(covariances), covariances

    def _swap(self, first: int, second: int) -> None:
        one, other = self.level_at[first], self.level_at[second]
        self.where[one].remove(first)
        self.where[other].remove(second)
        self.where[one].add(second)
        self.where[other].add(first)
        self.level_at[first], self.level_at[second] = other, one

    def _local_cost(self, *changed: int) -> int:
        return sum(self._repeat_cost(each) + self._close_cost(each) for each in changed)

    def _repeat_cost(self, place: int) -> int:
        """How much nearer than far enough the repeats of this level lie."""
        cost = 0
        for other in self.where[self.level_at[place]]:
            gap = _squared_distance(self.places[place], self.places[other])
            if other != place and gap < self.far:
                cost += _NEAR_REPEAT + _NEAR_REPEAT * (self.far - gap) // self.far
        return cost

    def _close_cost(self, place: int) -> int:
        here = self.level_at[place]
        close = sum(
            abs(self.level_at[other] - here) <= self.close_levels
            for other in self.neighbours[place]
        )
        return _CLOSE_NEIGHBOUR * close


def _squared_distance(one: Place, other: Place) -> int:
    return (one[0] - other[0]) ** 2 + (one[1] - other[1]) ** 2


def _far_enough(places: Sequence[Place], repeats: int) -> int:
    """Squared distance that repeats of a level shall keep, 0 without repeats.

    A share of the diagonal that falls with the number of repeats: 0.4 of it for two,
    0.28 for four.
    """
    if repeats < 2:
        return 0
    across = max(x for x, _ in places) - min(x for x, _ in places)
    down = max(y for _, y in places) - min(y for _, y in places)
    return (across * across + down * down) * 32 // (100 * repeats)


def _near(places: Sequence[Place], place: int, pitch: Place) -> list[int]:
    """Places left, right, above and below, but not across a corner."""
    x, y = places[place]
    return [
        other
        for other, (x2, y2) in enumerate(places)
        if other != place
        and (
            (abs(x2 - x) < pitch[0] // 2 and abs(y2 - y) <= pitch[1])
            or (abs(y2 - y) < pitch[1] // 2 and abs(x2 - x) <= pitch[0])
        )
    ]
