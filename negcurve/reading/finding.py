"""Which of the places that look like marks are the corners of a known target.

Every way in which three or four of them can be corners of a layout, turned and mirrored
as it may be, is tried; the printed identity decides.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import permutations

import numpy as np
from scipy.optimize import isotonic_regression

from negcurve.reading.geometry import Geometry, fit_geometry
from negcurve.reading.marks import Mark
from negcurve.reading.reduced import SmallArray
from negcurve.reading.strips import (
    StripMatch,
    all_scores,
    match_strips,
    sample,
)
from negcurve.target.ink import Ink
from negcurve.target.layout import (
    Box,
    Layout,
)
from negcurve.values import FloatArray

SCALE_SLACK = 0.12
"""How far a mark's own scale may be from the scale of a distance between marks."""

PLACE_SLACK = 0.035
"""How far a corner may be from where two others put it, as a share of the diagonal."""

LEAST_RIGHT = 42
"""Columns of the better strip that must be right; see `match_strips`."""

LEAST_AGREEMENT = 0.35

LEAST_ORDER = 0.6
"""Share of the patches' variance that a rise with level must explain.

The last proof that the place is right, and with three marks that the lost corner is
where it should be. In a wrong place a rising line explains about a tenth of their
variance, in the right place nearly all, also where most of an over-exposed print is
black.
"""

LEAST_STRIP_ORDER = 0.8
"""The same for a strip: of fourteen scattered numbers a rising line explains a quarter
on average, 0.8 once in a few thousand times."""

Corners = dict[int, Mark]
"""Marks by corner: 0 top left, 1 top right, 2 bottom right, 3 bottom left."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Found:
    """A target that was found.

    Attributes
    ----------
    layout : Layout
        Which one it is.
    geometry : Geometry
        Where it lies.
    corners : dict of int to Mark
        The marks that were seen, by corner.
    match : StripMatch
        How well the printed identity agrees.
    order : float
        Share of the patches' variance that a rise with level explains, 0..1.
    """

    layout: Layout
    geometry: Geometry
    corners: Corners
    match: StripMatch
    order: float

    @property
    def rank(self) -> tuple[float, ...]:
        """Least for the likeliest: marks, order, reading right, printed number."""
        return (
            -len(self.corners),
            -round(self.order, 1),
            self.geometry.mirrored,
            -self.match.agreement,
        )


def find_targets(
    grey: SmallArray, marks: Sequence[Mark], layouts: Iterable[Layout]
) -> list[Found]:
    """Find targets whose marks and printed identity both agree with a layout.

    Parameters
    ----------
    grey : array, shape (rows, columns)
        Levels of the small picture, 0..1.
    marks : sequence of Mark
        Places in it that look like marks.
    layouts : iterable of Layout
        The targets that it may be.

    Returns
    -------
    list of Found
        One for each place, best agreement first.
    """
    # The strips of a hundred negatives lie alike and are looked for at once.
    alike: dict[tuple[object, ...], list[Layout]] = {}
    for layout in layouts:
        place = layout.marks_mm, layout.identity_boxes, layout.width_mm
        alike.setdefault(place, []).append(layout)
    believed: list[Found] = []
    for group in alike.values():
        for corners in _arrangements(marks, group[0]):
            believed += _identified(grey, group, corners)
    believed.sort(key=lambda each: each.rank)
    kept: list[Found] = []
    for found in believed:
        if all(_apart(found, other) for other in kept):
            kept.append(found)
    return kept


def identify(grey: SmallArray, layout: Layout, corners: Corners) -> Found | None:
    """Return the target if strips and patches between these corners say so."""
    found = _identified(grey, [layout], corners)
    return min(found, key=lambda each: each.rank, default=None)


def _identified(
    grey: SmallArray, layouts: Sequence[Layout], corners: Corners
) -> Iterator[Found]:
    """Yield those that strips and patches speak for, of layouts with one outline."""
    first = layouts[0]
    for mirrored in (False, True) if first.is_strip else (False,):
        geometry = fit_geometry(
            first,
            [(mark.x, mark.y) for _, mark in sorted(corners.items())],
            tuple(sorted(corners)),
            mirrored=mirrored,
        )
        scores = all_scores(grey, geometry, first)
        for layout in layouts:
            match = match_strips(scores, layout.identity)
            if match.right < LEAST_RIGHT or match.agreement < LEAST_AGREEMENT:
                continue
            order = level_order(grey, geometry, layout)
            if order >= (LEAST_STRIP_ORDER if layout.is_strip else LEAST_ORDER):
                yield Found(
                    layout=layout,
                    geometry=geometry,
                    corners=corners,
                    match=match,
                    order=order,
                )


def level_order(grey: SmallArray, geometry: Geometry, layout: Layout) -> float:
    """How well the patches get darker with their negative levels.

    Parameters
    ----------
    grey : array, shape (rows, columns)
        Levels of the small picture.
    geometry : Geometry
        Print to this picture.
    layout : Layout
        What was printed.

    Returns
    -------
    float
        Share of their variance that the best rising line explains: near 1 where the
        patches are where the geometry says, near 0 elsewhere. For mixtures, that their
        repeats have in common.
    """
    level = np.array([patch.negative_level for patch in layout.patches])
    inner = np.array([_inner_places(patch.box) for patch in layout.patches])
    places = geometry.to_scan(inner.reshape(-1, 2))
    seen = np.median(sample(grey, places).reshape(len(level), -1), axis=1)
    known = np.isfinite(seen)
    if known.sum() < 3 or np.ptp(seen[known]) == 0:
        return 0.0
    if layout.has_mixtures:
        inks = [
            patch.ink for patch, here in zip(layout.patches, known, strict=True) if here
        ]
        return _likeness(-seen[known], inks)
    dark = -seen[known][np.argsort(level[known], kind="stable")]
    rest = dark - isotonic_regression(dark).x
    return float(1 - rest.var() / dark.var())


def _likeness(dark: FloatArray, inks: Sequence[Ink | None]) -> float:
    """Share of the variance that repeats of a mixture have in common, 1 at most.

    How mixtures compare is what their print is made for, but repeats are alike.
    """
    group = np.unique([str(ink) for ink in inks], return_inverse=True)[1]
    count = np.bincount(group)
    rest = dark - (np.bincount(group, weights=dark) / count)[group]
    free = len(dark) - len(count)
    if free < 1:
        return 0.0
    within = float(rest @ rest) / free
    return 1 - within / float(dark.var(ddof=1))


def _inner_places(box: Box) -> FloatArray:
    """Return nine places in the inner part of a box, shape (9, 2)."""
    x, y = box.center
    steps = (-0.2, 0.0, 0.2)
    return np.array(
        [(x + i * box.width_mm, y + j * box.height_mm) for i in steps for j in steps]
    )


def arrangements_by_hand(marks: Sequence[Mark]) -> Iterator[Corners]:
    """Yield the eight ways in which four given marks go round a target.

    Two marks are those of a strip, in either order.
    """
    if len(marks) == 2:
        yield from ({0: one, 1: other} for one, other in permutations(marks))
        return
    middle = np.mean([(mark.x, mark.y) for mark in marks], axis=0)
    around = sorted(
        marks, key=lambda mark: np.arctan2(mark.y - middle[1], mark.x - middle[0])
    )
    for direction in (1, -1):
        for start in range(4):
            yield {
                corner: around[(start + direction * corner) % 4] for corner in range(4)
            }


def _apart(one: Found, other: Found) -> bool:
    """Tell whether two targets lie in different places."""
    middle = [
        found.geometry.to_scan(
            [(found.layout.width_mm / 2, found.layout.height_mm / 2)]
        )[0]
        for found in (one, other)
    ]
    distance = float(np.hypot(*(middle[0] - middle[1])))
    return distance > 20 * max(one.geometry.px_per_mm, other.geometry.px_per_mm)


def _arrangements(marks: Sequence[Mark], layout: Layout) -> Iterator[Corners]:
    """Yield every way in which three or four marks fit the corners of a layout.

    Two marks are those of a strip.
    """
    places = np.array([(mark.x, mark.y) for mark in marks]).reshape(-1, 2)
    printed = np.array(layout.marks_mm)
    seen = set()
    for one, other in permutations(range(len(marks)), 2):
        # Of any three corners two are the top ones or the bottom ones.
        for left, right in ((0, 1),) if layout.is_strip else ((0, 1), (3, 2)):
            wanted = float(np.hypot(*(printed[right] - printed[left])))
            scale = float(np.hypot(*(places[other] - places[one]))) / wanted
            if not _scale_fits(scale, marks[one], marks[other]):
                continue
            if layout.is_strip:
                yield {left: marks[one], right: marks[other]}
                continue
            for mirrored in (False, True):
                pair = {left: one, right: other}
                chosen = _with_others(pair, printed, marks, mirrored=mirrored)
                key = tuple(sorted(chosen.items()))
                if len(chosen) >= 3 and key not in seen:
                    seen.add(key)
                    yield {corner: marks[place] for corner, place in chosen.items()}


def _scale_fits(scale: float, *marks: Mark) -> bool:
    return all(abs(np.log(scale / mark.px_per_mm)) < SCALE_SLACK for mark in marks)


def _with_others(
    pair: dict[int, int],
    printed: FloatArray,
    marks: Sequence[Mark],
    *,
    mirrored: bool,
) -> dict[int, int]:
    """Add the marks that lie where two corners put the two others."""
    (one, first), (other, second) = pair.items()
    places = np.array([(mark.x, mark.y) for mark in marks])
    flip = np.array([1, -1]) if mirrored else np.array([1, 1])
    plane = (printed * flip) @ np.array([1, 1j])
    seen = places @ np.array([1, 1j])
    turn = (seen[second] - seen[first]) / (plane[other] - plane[one])
    slack = PLACE_SLACK * abs(turn) * abs(plane[0] - plane[2])
    chosen = dict(pair)
    for corner in set(range(4)) - set(pair):
        guess = seen[first] + turn * (plane[corner] - plane[one])
        near = [
            place
            for place in range(len(marks))
            if abs(seen[place] - guess) < slack and _scale_fits(abs(turn), marks[place])
        ]
        if near:
            chosen[corner] = max(near, key=lambda place: marks[place].score)
    return chosen
