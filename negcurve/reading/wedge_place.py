"""Where a step wedge lies in a scan, beside the print or in a box that is named.

A place is believed only if its cells can be counted in one way; a wedge taken for
itself one step on would shift every density.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.reading.geometry import Geometry
from negcurve.reading.placing import Placed
from negcurve.reading.wedge_cells import Count, cells_seen, count_cells
from negcurve.reading.wedge_search import (
    find_stretches,
    log_level,
    masked,
)
from negcurve.reading.wedge_strip import Strip, strip_of
from negcurve.target.layout import Box
from negcurve.values import FloatArray, ImageSource

BOX_SLACK_MM = 4.0
"""A box may be drawn so much too small. [mm]"""

NEARLY = 0.85
"""Share of the best score from which a second place is a rival."""

BOX = tuple[float, float, float, float]


@dataclass(frozen=True, eq=False, kw_only=True)
class WedgePlace:
    """A step wedge in a scan.

    Attributes
    ----------
    geometry : Geometry
        From millimetres on the wedge to the scan.
    boxes : tuple of Box
        Its cells, the lightest first. [mm]
    outline_px : array, shape (4, 2)
        Corners, those of the lightest cell's outer edge first and last. [px]
    open_ends : int
        How many of its two ends look like the ground, so that its steps were counted
        from the other.
    unseen : int
        Edges between steps that were not seen, as where they are clipped.
    lead : int
        By how many signs this count of its steps is better than the next.
    """

    geometry: Geometry
    boxes: tuple[Box, ...]
    outline_px: FloatArray
    open_ends: int
    unseen: int
    lead: int

    @property
    def sure(self) -> bool:
        """Whether both ends are seen, and no other count is nearly as good."""
        return self.lead > 1 and not self.open_ends


@dataclass(frozen=True, eq=False, kw_only=True)
class _Seen:
    """A strip and one way to count its cells."""

    strip: Strip
    count: Count
    steps: int

    @property
    def middle(self) -> FloatArray:
        return np.asarray(self.corners.mean(axis=0))

    @property
    def corners(self) -> FloatArray:
        """In the small picture; the lightest cell's outer edge first and last."""
        end = self.count.start + self.steps * self.count.pitch
        top, bottom = self.strip.top, self.strip.bottom
        places = [
            (self.count.start, top, 1),
            (end, top, 1),
            (end, bottom, 1),
            (self.count.start, bottom, 1),
        ]
        return np.asarray(np.array(places, dtype=np.float64) @ self.strip.matrix.T)


def find_wedge(
    source: ImageSource, placed: Placed, density: FloatArray, *, name: str = "wedge"
) -> WedgePlace:
    """Find a wedge anywhere beside the print.

    Parameters
    ----------
    source : ImageSource
        The scan.
    placed : Placed
        The print, which is left out of the search.
    density : array, shape (n,)
        Of the wedge's steps, rising. [D]
    name : str
        Of the wedge, for messages.

    Returns
    -------
    WedgePlace

    Raises
    ------
    ReadingsError
        If none is found, or it cannot be told which step is the first.
    """
    look = _look(placed)
    seen, others = _all_seen(look, look.picture, len(density), float(np.ptp(density)))
    if not seen:
        raise ReadingsError(
            f"no strip of {len(density)} even steps was found beside the print"
            + _said(others),
            where=source.name,
            fix=f"Does {name} list every step, and lies the whole wedge on the glass, "
            "clear of the print? Say where it is with --wedge-box X,Y,W,H.",
        )
    best = _the_best(seen, source)
    return _place(best, placed, look.px_per_mm)


def wedge_in_box(
    source: ImageSource,
    placed: Placed,
    density: FloatArray,
    box_px: BOX,
    *,
    name: str = "wedge",
) -> WedgePlace:
    """Find a wedge in a box of the scan.

    Parameters
    ----------
    source, placed, density, name
        As for `find_wedge`.
    box_px : (left, top, width, height)
        Of the upright scan. [px]

    Returns
    -------
    WedgePlace

    Raises
    ------
    InvalidValueError
        If the box does not lie in the scan.
    ReadingsError
        If no such wedge lies in it.
    """
    corners = _checked_box(box_px, source)
    look = _look(placed)
    low, high = corners.min(axis=0), corners.max(axis=0)
    factor = placed.reduced.factor
    slack = BOX_SLACK_MM * look.px_per_mm
    low, high = low / factor - slack, high / factor + slack
    grown = [(low[0], low[1]), (high[0], low[1]), (high[0], high[1]), (low[0], high[1])]
    part = masked(look.picture, grown, outside=True)
    seen, others = _all_seen(
        look, part, len(density), float(np.ptp(density)), bounded=True
    )
    within = [
        each
        for each in seen
        if (each.corners >= low).all() and (each.corners <= high).all()
    ]
    if not within:
        raise ReadingsError(
            f"the box holds no strip of {len(density)} even steps" + _said(others),
            where=source.name,
            fix=f"Give the left, top, width and height of the wedge alone, in pixels "
            f"of the upright scan, and check that {name} lists every step.",
        )
    best = _in_middle(within, corners.mean(axis=0) / factor)
    return _place(best, placed, look.px_per_mm)


def _in_middle(seen: Sequence[_Seen], middle: FloatArray) -> _Seen:
    """Of the counts of the best strip, return the one in the middle of a box."""
    best = max(seen, key=lambda each: each.count.score)

    def away(each: _Seen) -> float:
        along = each.strip.matrix[:, 0]
        return abs(float((each.middle - middle) @ along))

    return min((each for each in seen if each.strip is best.strip), key=away)


@dataclass(frozen=True, eq=False, kw_only=True)
class _Look:
    picture: FloatArray
    px_per_mm: float


def _look(placed: Placed) -> _Look:
    """Return the small picture without the print."""
    geometry = placed.geometry.scaled(1 / placed.reduced.factor)
    width, height = placed.layout.width_mm, placed.layout.height_mm
    x, y = np.array([0, 1, 2, 2, 2, 1, 0, 0]), np.array([0, 0, 0, 1, 2, 2, 2, 1])
    outline = geometry.to_scan(np.column_stack([x * width / 2, y * height / 2]))
    picture = masked(log_level(placed.reduced.levels), outline)
    return _Look(picture=picture, px_per_mm=geometry.px_per_mm)


def _all_seen(
    look: _Look,
    picture: FloatArray,
    steps: int,
    density_range: float,
    *,
    bounded: bool = False,
) -> tuple[list[_Seen], list[int]]:
    """Return every way to count cells, and how many cells other strips have."""
    seen: list[_Seen] = []
    others: list[int] = []
    whole = 3 * steps - 1
    for stretch in find_stretches(
        picture, px_per_mm=look.px_per_mm, steps=steps, density_range=density_range
    ):
        if any(_on(stretch.middle, each) for each in seen if each.count.score == whole):
            continue
        strip = strip_of(look.picture, stretch, look.px_per_mm)
        if strip is None:
            continue
        counts = count_cells(strip, steps, look.px_per_mm, bounded=bounded)
        seen += [_Seen(strip=strip, count=each, steps=steps) for each in counts]
        if not counts:
            others.append(cells_seen(strip, steps, look.px_per_mm))
    return seen, others


def _on(middle: npt.ArrayLike, seen: _Seen) -> bool:
    """Tell whether a place of the small picture is on a strip that was counted."""
    away = np.array(middle) - seen.middle
    along, across = away @ seen.strip.matrix[:, :2]
    half = seen.steps * seen.count.pitch / 2, (seen.strip.bottom - seen.strip.top) / 2
    return bool(abs(along) < half[0] and abs(across) < half[1])


def _said(others: Sequence[int]) -> str:
    most = max(others, default=0)
    return f"; one of {most} or so was seen" if most >= 4 else ""


def _the_best(seen: Sequence[_Seen], source: ImageSource) -> _Seen:
    best = max(seen, key=lambda each: each.count.score)
    for other in seen:
        rival = other.count.score >= NEARLY * best.count.score
        if rival and not _on(other.middle, best):
            raise ReadingsError(
                f"two strips of {best.steps} even steps lie beside the print",
                where=source.name,
                fix="Say which with --wedge-box X,Y,W,H.",
            )
    if best.count.lead < 1:
        raise ReadingsError(
            "a step wedge was found, but not which of its steps is the first: its end "
            "looks like what lies around it",
            where=source.name,
            fix="Say where it lies with --wedge-box X,Y,W,H, or lay it on something of "
            "another tone.",
        )
    return best


def _checked_box(box_px: BOX, source: ImageSource) -> FloatArray:
    left, top, width, height = box_px
    if (
        min(left, top) < 0
        or min(width, height) < 4
        or left + width > source.width
        or top + height > source.height
    ):
        raise InvalidValueError(
            f"{left:g},{top:g},{width:g},{height:g} does not lie in the scan of "
            f"{source.width} x {source.height} pixels",
            where="wedge box",
            fix="Give left, top, width and height in pixels from the top left.",
        )
    return np.array([(left, top), (left + width, top + height)])


def _place(seen: _Seen, placed: Placed, px_per_mm: float) -> WedgePlace:
    factor = placed.reduced.factor
    corners = seen.corners * factor
    scale = px_per_mm * factor
    pitch = seen.count.pitch / px_per_mm
    height = (seen.strip.bottom - seen.strip.top) / px_per_mm
    matrix = np.eye(3)
    matrix[:2, :2] = seen.strip.matrix[:, :2] * scale
    matrix[:2, 2] = corners[0]
    boxes = tuple(
        Box(left_mm=n * pitch, top_mm=0.0, width_mm=pitch, height_mm=height)
        for n in range(seen.steps)
    )
    return WedgePlace(
        geometry=Geometry(matrix=matrix, size_mm=(pitch * seen.steps, height)),
        boxes=boxes,
        outline_px=corners,
        open_ends=seen.count.open_ends,
        unseen=seen.count.unseen,
        lead=seen.count.lead,
    )
