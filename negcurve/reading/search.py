"""Look for a target in the small picture in every way that is left, or say why not.

First at the scale that the file states, then at all scales, then with black and white
exchanged; what was seen instead goes into the message.
"""

from collections.abc import Sequence

import numpy as np

from negcurve.errors import ReadingsError
from negcurve.reading.finding import (
    Found,
    arrangements_by_hand,
    find_targets,
    identify,
)
from negcurve.reading.marks import Mark, find_marks
from negcurve.reading.numbers import read_number
from negcurve.reading.reduced import Reduced
from negcurve.target.layout import Layout
from negcurve.values import ImageSource

BLANK_RANGE = 0.06
"""Range of levels, less the outermost percents, below which a scan is called blank."""

LIKELY_MARK = 0.6
"""Score from which a place is counted as a mark in messages."""


def search(
    source: ImageSource,
    reduced: Reduced,
    layouts: Sequence[Layout],
    *,
    corners_px: Sequence[tuple[float, float]] = (),
    which: str | None = None,
) -> Found:
    """Find the one target in a scan.

    Parameters
    ----------
    source : ImageSource
        The scan, for its name and stated resolution.
    reduced : Reduced
        The scan made small.
    layouts : sequence of Layout
        The targets that it may show.
    corners_px : sequence of (x, y), optional
        Four mark centres pointed at by hand. [px of the scan]
    which : str, optional
        Of several: `left`, `right`, `top`, `bottom`, or the target's identity.

    Returns
    -------
    Found
        In pixels of the small picture.

    Raises
    ------
    ReadingsError
        If there is none, another one or more than one.
    """
    grey = reduced.grey
    if len(corners_px):
        return _by_hand(source, reduced, layouts, corners_px)
    marks: tuple[Mark, ...] = ()
    for scale in _scales(source, reduced):
        marks = find_marks(grey, px_per_mm=scale)
        found = find_targets(grey, marks, layouts)
        if found:
            return _only_one(found, source, which)
    raise _not_found(source, reduced, marks, layouts)


def _scales(source: ImageSource, reduced: Reduced) -> list[float | None]:
    """Return the scale that the file states, if it can be true, then all scales."""
    scales: list[float | None] = [None]
    if source.resolution_ppi is not None:
        stated = float(np.sqrt(np.prod(source.resolution_ppi))) / 25.4 / reduced.factor
        if stated > 1:
            scales.insert(0, stated)
    return scales


def _by_hand(
    source: ImageSource,
    reduced: Reduced,
    layouts: Sequence[Layout],
    corners_px: Sequence[tuple[float, float]],
) -> Found:
    if len(corners_px) not in (2, 4):
        raise ReadingsError(
            f"{len(corners_px)} corners were given, four are needed, two for a strip",
            where=source.name,
            fix="Give --corner X,Y once for each mark, in any order.",
        )
    grey = reduced.grey
    best: Found | None = None
    for layout in layouts:
        if len(corners_px) != len(layout.marks_mm):
            continue
        marks = _pointed_at(corners_px, layout, reduced.factor)
        for corners in arrangements_by_hand(marks):
            found = identify(grey, layout, corners)
            if found and (best is None or found.rank < best.rank):
                best = found
    if best is None:
        raise ReadingsError(
            "the printed number of no known target stands between the corners given "
            f"({_names(layouts)} looked for)",
            where=source.name,
            fix="Point at the middle of the four ring marks; positions are pixels of "
            "the upright picture. Name the target with --target OUT.tif.",
        )
    return best


def _pointed_at(
    corners_px: Sequence[tuple[float, float]], layout: Layout, factor: int
) -> list[Mark]:
    """Return marks in the small picture, with a scale that fits their extent."""
    places = np.array(corners_px) / factor
    spread = np.sqrt(((places - places.mean(axis=0)) ** 2).sum(axis=1).mean())
    printed = np.array(layout.marks_mm)
    wanted = np.sqrt(((printed - printed.mean(axis=0)) ** 2).sum(axis=1).mean())
    scale = float(spread / wanted)
    return [Mark(x=x, y=y, score=1.0, px_per_mm=scale) for x, y in places.tolist()]


CLEARLY_APART = 0.25
"""Two prints are told apart by place if it differs by this share of the shorter side.
Ours. [1]"""

PLACES = {"left": (0, 1), "right": (0, -1), "top": (1, 1), "bottom": (1, -1)}
"""Axis of the scan, and the sign of its coordinate that comes first."""


def _only_one(found: list[Found], source: ImageSource, which: str | None) -> Found:
    if len(found) == 1 and which in (None, *PLACES):
        return found[0]
    if which in PLACES:
        return _outermost(found, source, which)
    named = ", ".join(each.layout.identity_text for each in found)
    meant = [
        each
        for each in found
        if which is not None and each.layout.identity_text.lower() == which.lower()
    ]
    if len(meant) == 1:
        return meant[0]
    if which is not None and not meant:
        raise ReadingsError(
            f"{which!r} is none of the targets that lie in this scan ({named})",
            where=source.name,
            fix="Use --which left, right, top or bottom, or one of these numbers.",
        )
    alike = len({each.layout.identity for each in meant or found}) == 1
    raise ReadingsError(
        f"{len(found)} targets lie in this scan ({named})",
        where=source.name,
        fix="Say which: --which left, right, top or bottom"
        + ("" if alike else ", or the number of one")
        + "; or crop the scan to one print.",
    )


def _outermost(found: list[Found], source: ImageSource, which: str) -> Found:
    """Return the target that lies farthest to one side, if one clearly does."""
    axis, sign = PLACES[which]
    ranked = sorted(found, key=lambda each: sign * _middle(each)[axis])
    first, *others = ranked
    width, height = first.layout.width_mm, first.layout.height_mm
    apart = CLEARLY_APART * min(width, height) * first.geometry.px_per_mm
    near = [
        each
        for each in others
        if sign * (_middle(each)[axis] - _middle(first)[axis]) < apart
    ]
    if near:
        raise ReadingsError(
            f"{1 + len(near)} of the {len(found)} targets lie about as far to the "
            f"{which}",
            where=source.name,
            fix="Name another side, or crop the scan to one print.",
        )
    return first


def _middle(found: Found) -> tuple[float, float]:
    """Return the middle of a target in the small picture."""
    width, height = found.layout.width_mm, found.layout.height_mm
    x, y = found.geometry.to_scan([(width / 2, height / 2)])[0]
    return float(x), float(y)


def _not_found(
    source: ImageSource,
    reduced: Reduced,
    marks: tuple[Mark, ...],
    layouts: Sequence[Layout],
) -> ReadingsError:
    """Say as well as possible what the scan shows instead."""
    grey = reduced.grey
    number = read_number(grey, marks)
    known = {layout.identity: layout for layout in layouts}
    if number in known:
        needed = "both" if known[number].is_strip else "three of its four"
        return ReadingsError(
            f"this is target {number:08X}, but too little of it was found in place: "
            f"{needed} marks and most of its patches are needed",
            where=source.name,
            fix="Is part of it cut off or covered? Scan the whole print, or point at "
            "the four marks with --corner X,Y four times.",
        )
    if number is not None:
        return ReadingsError(
            f"this is target {number:08X}; looked for {_names(layouts)}",
            where=source.name,
            fix="Name the file it was printed from: --target OUT.tif.",
        )
    low, high = np.percentile(grey, (1, 99))
    if high - low < BLANK_RANGE:
        return ReadingsError(
            f"no target found: the scan is nearly blank, its levels lie between "
            f"{low:.2f} and {high:.2f}",
            where=source.name,
            fix="Is this the right file, and the print face down on the glass?",
        )
    exchanged = find_marks(grey, px_per_mm=None, inverted=True)
    if find_targets(-grey, exchanged, layouts) or (
        read_number(-grey, exchanged) is not None
    ):
        return ReadingsError(
            "black and white are exchanged in this scan",
            where=source.name,
            fix="Scan the print as a positive. If the print itself looks so, the "
            "target was inverted on its way to the film.",
        )
    seen = [mark.scaled(reduced.factor) for mark in marks if mark.score > LIKELY_MARK]
    return _nothing_known(source, seen, layouts)


def _nothing_known(
    source: ImageSource, marks: Sequence[Mark], layouts: Sequence[Layout]
) -> ReadingsError:
    """Say how many marks there are, and where. [px of the scan]."""
    places = " and ".join(f"{mark.x:.0f},{mark.y:.0f}" for mark in marks[:4])
    seen = (
        f"{len(marks) or 'no'} ring mark{'s' * (len(marks) != 1)} seen"
        + (f" at {places}" if places else "")
        + (
            ", but no printed number that belongs to them"
            if len(marks) >= 3
            else ", three of four are needed, or both of a strip"
        )
    )
    return ReadingsError(
        f"no target found: {seen} ({_names(layouts)} looked for)",
        where=source.name,
        fix="Scan the whole print at 150 ppi or more, or point at the four marks "
        "with --corner X,Y four times.",
    )


def _names(layouts: Sequence[Layout]) -> str:
    return ", ".join(layout.identity_text for layout in layouts) or "no layout"
