"""Where the target lies in a scan: its marks, its identity, each patch's edges.

Finds and checks the place; what the patches say is left to `negcurve.reading.scan`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from negcurve.errors import ReadingsError
from negcurve.reading.finding import Found
from negcurve.reading.geometry import Geometry, fit_geometry
from negcurve.reading.marks import Mark, refine_mark
from negcurve.reading.patches import trimmed
from negcurve.reading.print_size import check_scale
from negcurve.reading.reduced import Reduced, reduce_source
from negcurve.reading.registration import Registration, register
from negcurve.reading.search import search
from negcurve.target.layout import Box, Layout
from negcurve.values import Finding, ImageSource, Progress, first_of, no_progress

GOOD_MARK = 0.5
"""Share of a mark's edges that must be seen for its refined centre to count."""

MOST_HIDDEN = 0.05
"""Share of patches that may lie where the scan does not show the print's ground."""

LEAST_AGREEMENT = 0.5
"""Correlation with the drawn layout below which the place is not believed."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Placed:
    """A target in a scan.

    Attributes
    ----------
    layout : Layout
        The target that was found.
    geometry : Geometry
        Print to scan.
    corners : dict of int to Mark
        The marks that were seen. [px of the scan]
    reduced : Reduced
        The scan made small.
    agreement : float
        Correlation of the scan with the drawn layout around the patches, up to 1.
    findings : tuple of Finding
        About size, sides and marks.
    """

    layout: Layout
    geometry: Geometry
    corners: dict[int, Mark]
    reduced: Reduced
    agreement: float
    findings: tuple[Finding, ...]


def place_target(
    source: ImageSource,
    layouts: Sequence[Layout],
    *,
    corners_px: Sequence[tuple[float, float]] = (),
    which: str | None = None,
    progress: Progress = no_progress,
) -> Placed:
    """Find a target in a scan.

    Parameters
    ----------
    source : ImageSource
        The scan, upright or turned or mirrored.
    layouts : sequence of Layout
        The targets that it may show.
    corners_px : sequence of (x, y), optional
        Mark centres pointed at by hand, in any order. [px]
    which : str, optional
        Of several prints: `left`, `right`, `top`, `bottom`, or the target's identity.
    progress : Progress
        Told how far it is.

    Returns
    -------
    Placed

    Raises
    ------
    ReadingsError
        If no target is found, another one, two, only a part of one; if the scan is
        inverted; if the print has another size than the layout.
    """
    placed = place_anyhow(
        source, layouts, corners_px=corners_px, which=which, progress=progress
    )
    layout, geometry = placed.layout, placed.geometry
    findings = (
        *check_scale(geometry, source, along_only=layout.is_strip),
        *_mirror_finding(geometry, source),
        *placed.findings,
    )
    return replace(placed, findings=findings)


def place_anyhow(
    source: ImageSource,
    layouts: Sequence[Layout],
    *,
    corners_px: Sequence[tuple[float, float]] = (),
    which: str | None = None,
    progress: Progress = no_progress,
) -> Placed:
    """Find a target of any size and side; see `place_target`."""
    reduced = reduce_source(source, progress=progress)
    found = search(source, reduced, layouts, corners_px=corners_px, which=which)
    layout = found.layout
    corners, geometry = _refined(source, reduced, found)
    registration = _registered(reduced, geometry, layout, corners)
    _check_inside(source, registration.geometry, layout)
    return Placed(
        layout=layout,
        geometry=registration.geometry,
        corners=corners,
        reduced=reduced,
        agreement=registration.agreement,
        findings=tuple(_lost_marks(corners, layout, source)),
    )


def is_inside(source: ImageSource, geometry: Geometry, box: Box) -> bool:
    """Tell whether the part of a box that is read lies in the scan."""
    part = trimmed(box)
    places = geometry.to_scan(
        [
            (x, y)
            for x in (part.left_mm, part.right_mm)
            for y in (part.top_mm, part.bottom_mm)
        ]
    )
    low, high = places.min(axis=0), places.max(axis=0)
    return bool(
        (low >= 0).all() and high[0] <= source.width and high[1] <= source.height
    )


def _refined(
    source: ImageSource, reduced: Reduced, found: Found
) -> tuple[dict[int, Mark], Geometry]:
    """Refine the marks in the scan itself; lost ones are left out where three stay."""
    factor = reduced.factor
    rough = {corner: mark.scaled(factor) for corner, mark in found.corners.items()}
    fine = {corner: refine_mark(source, mark) for corner, mark in rough.items()}
    good = {corner: mark for corner, mark in fine.items() if mark.score >= GOOD_MARK}
    if len(good) < (2 if found.layout.is_strip else 3):
        # Pointed at by hand, or hardly seen: patch edges will have to place them.
        good = {
            corner: fine[corner] if fine[corner].score > 0 else replace(mark, score=0)
            for corner, mark in rough.items()
        }
    order = tuple(sorted(good))
    geometry = fit_geometry(
        found.layout,
        [(good[each].x, good[each].y) for each in order],
        order,
        mirrored=found.geometry.mirrored,
    )
    return good, geometry


def _registered(
    reduced: Reduced, geometry: Geometry, layout: Layout, corners: dict[int, Mark]
) -> Registration:
    """Refine on patch edges, in the small picture; return it for the scan."""
    small = register(
        reduced.grey,
        geometry.scaled(1 / reduced.factor),
        layout,
        held=tuple(c for c in sorted(corners) if corners[c].score >= GOOD_MARK),
    )
    if small.agreement < LEAST_AGREEMENT:
        raise ReadingsError(
            "the marks and the number of a target are there, but the patches do not "
            f"lie where its layout has them (agreement {small.agreement:.2f} of 1)",
            where=layout.identity_text,
            fix="Is this the layout that was printed? Scan the print flat and whole.",
        )
    if len(small.hidden) > MOST_HIDDEN * len(layout.patches):
        raise ReadingsError(
            f"part of the target is covered: {len(small.hidden)} of "
            f"{len(layout.patches)} patches do not lie on the print "
            f"({first_of(small.hidden, 8)})",
            where=layout.identity_text,
            fix="Lay the whole print on the glass with nothing else over it.",
        )
    return Registration(
        geometry=small.geometry.scaled(reduced.factor),
        agreement=small.agreement,
        largest_shift_mm=small.largest_shift_mm,
    )


def _check_inside(source: ImageSource, geometry: Geometry, layout: Layout) -> None:
    outside = [
        patch.number
        for patch in layout.patches
        if not is_inside(source, geometry, patch.box)
    ]
    if outside:
        raise ReadingsError(
            f"part of the target is cut off: {len(outside)} of {len(layout.patches)} "
            f"patches lie outside the scan ({first_of(outside, 8)})",
            where=source.name,
            fix="Scan again with a larger scan area.",
        )


def _mirror_finding(geometry: Geometry, source: ImageSource) -> list[Finding]:
    if not geometry.mirrored:
        return []
    return [
        Finding(
            severity="warning",
            where=source.name,
            what="the print reads mirrored",
            fix="Was the film laid with its ink away from the coating, or did the "
            "driver mirror it, or the scanner? Ink away from the coating blurs.",
        )
    ]


def _lost_marks(
    corners: dict[int, Mark], layout: Layout, source: ImageSource
) -> list[Finding]:
    names = ("top left", "top right", "bottom right", "bottom left")
    return [
        Finding(
            severity="note",
            where=source.name,
            what=f"the {name} mark was not found; patch edges stand in for it",
        )
        for corner, name in enumerate(names[: len(layout.marks_mm)])
        if corner not in corners
    ]
