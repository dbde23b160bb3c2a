"""From a scan to the readings of one print.

The one way through this room: find the marks, know the target by its printed identity,
place its patches, average them, judge the result.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from negcurve.density import density_from_reflectance
from negcurve.encoding import Encoding
from negcurve.errors import ReadingsError
from negcurve.reading.finding import Found
from negcurve.reading.geometry import Geometry, fit_geometry
from negcurve.reading.marks import Mark, refine_mark
from negcurve.reading.patches import PatchValue, read_areas, trimmed
from negcurve.reading.quality import (
    check_clipping,
    check_scale,
    density_findings,
    patch_flags,
    taped_white_findings,
)
from negcurve.reading.reduced import Reduced, reduce_source
from negcurve.reading.registration import Registration, register
from negcurve.reading.search import search
from negcurve.readings import Readings
from negcurve.target.layout import Box, Layout
from negcurve.values import (
    Finding,
    FloatArray,
    ImageSource,
    Progress,
    no_progress,
)

GOOD_MARK = 0.5
"""Share of a mark's edges that must be seen for its refined centre to count."""

LEAST_AGREEMENT = 0.5
"""Correlation with the drawn layout below which the place is not believed."""


@dataclass(frozen=True, eq=False, kw_only=True)
class ScanReading:
    """A scan that was read.

    Attributes
    ----------
    readings : Readings
        One row per patch, in the order of the layout.
    layout : Layout
        The target that was found.
    geometry : Geometry
        Print to scan.
    corners : dict of int to Mark
        The marks that were seen: 0 top left, 1 top right, 2 bottom right, 3 bottom
        left. [px of the scan]
    reduced : Reduced
        The scan made small, for showing.
    agreement : float
        Correlation of the scan with the drawn layout around the patches, up to 1.
    """

    readings: Readings
    layout: Layout
    geometry: Geometry
    corners: dict[int, Mark]
    reduced: Reduced
    agreement: float

    def with_readings(self, readings: Readings) -> "ScanReading":
        """Return the scan with readings that say more about themselves."""
        return replace(self, readings=readings)


def read_target(
    source: ImageSource,
    encoding: Encoding,
    layouts: Sequence[Layout],
    *,
    corners_px: Sequence[tuple[float, float]] = (),
    progress: Progress = no_progress,
) -> ScanReading:
    """Find a target in a scan and read its patches.

    Parameters
    ----------
    source : ImageSource
        The scan, upright or turned or mirrored.
    encoding : Encoding
        How its levels stand for light.
    layouts : sequence of Layout
        The targets that it may show.
    corners_px : sequence of (x, y), optional
        Four mark centres pointed at by hand, in any order. [px]
    progress : Progress
        Told how far it is.

    Returns
    -------
    ScanReading
        Densities count from the scanner's white.

    Raises
    ------
    ReadingsError
        If no target is found, another one, two, only a part of one; if the scan is
        inverted or clipped; if the print has another size than the layout.
    """
    reduced = reduce_source(source, progress=progress)
    found = search(source, reduced, layouts, corners_px=corners_px)
    corners, geometry = _refined(source, reduced, found)
    registration = _registered(reduced, geometry, found.layout, corners)
    geometry = registration.geometry
    along = found.layout.is_strip
    findings = [
        *check_scale(geometry, source, along_only=along),
        *_mirror_finding(geometry, source),
    ]
    findings += _lost_marks(corners, found.layout, source)
    _check_inside(source, geometry, found.layout)
    boxes = [patch.box for patch in found.layout.patches]
    values = read_areas(source, encoding, geometry, boxes, progress=progress)
    findings += check_clipping(values, source)
    readings = _readings(found.layout, values, source)
    findings += density_findings(readings.density, values, source)
    if found.layout.tape_box is not None:
        box = found.layout.tape_box
        findings += _taped_white(source, encoding, geometry, box, readings)
    return ScanReading(
        readings=readings.replaced(
            findings=(*source.findings, *findings, *_flag_findings(readings))
        ),
        layout=found.layout,
        geometry=geometry,
        corners=corners,
        reduced=reduced,
        agreement=registration.agreement,
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
    return Registration(
        geometry=small.geometry.scaled(reduced.factor),
        agreement=small.agreement,
        largest_shift_mm=small.largest_shift_mm,
    )


def _check_inside(source: ImageSource, geometry: Geometry, layout: Layout) -> None:
    outside = [
        patch.number
        for patch in layout.patches
        if not _inside(source, geometry.to_scan(_corners(trimmed(patch.box))))
    ]
    if outside:
        shown = ", ".join(str(number) for number in outside[:8])
        more = " and more" if len(outside) > 8 else ""
        raise ReadingsError(
            f"part of the target is cut off: {len(outside)} of {len(layout.patches)} "
            f"patches lie outside the scan ({shown}{more})",
            where=source.name,
            fix="Scan again with a larger scan area.",
        )


def _corners(box: Box) -> list[tuple[float, float]]:
    return [
        (x, y) for x in (box.left_mm, box.right_mm) for y in (box.top_mm, box.bottom_mm)
    ]


def _inside(source: ImageSource, places_px: FloatArray) -> bool:
    low, high = places_px.min(axis=0), places_px.max(axis=0)
    return bool(
        (low >= 0).all() and high[0] <= source.width and high[1] <= source.height
    )


def _taped_white(
    source: ImageSource,
    encoding: Encoding,
    geometry: Geometry,
    box: Box,
    readings: Readings,
) -> list[Finding]:
    """Say what the box reads that may have been taped, if it was."""
    if not _inside(source, geometry.to_scan(_corners(trimmed(box)))):
        return []
    (value,) = read_areas(source, encoding, geometry, [box])
    return taped_white_findings(value, readings.density, source)


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


def _readings(
    layout: Layout, values: Sequence[PatchValue], source: ImageSource
) -> Readings:
    reflectance = np.array([value.reflectance for value in values])
    error = np.array([value.standard_error for value in values])
    density = density_from_reflectance(reflectance)
    level = np.array([patch.negative_level for patch in layout.patches])
    centres = np.array([patch.box.center for patch in layout.patches])
    tones = [patch.image_tone for patch in layout.patches]
    inks = _mixtures(layout)
    # Rounded far below what a scan can tell, so that files are easy to look at.
    return Readings(
        negative_level=level,
        density=np.round(density, 5),
        patch=tuple(str(patch.number) for patch in layout.patches),
        image_tone=np.array([np.nan if tone is None else tone for tone in tones]),
        standard_error=np.round(error / reflectance / np.log(10), 6),
        x_mm=np.round(centres[:, 0], 3),
        y_mm=np.round(centres[:, 1], 3),
        ink=inks,
        flags=patch_flags(level, density, values, groups=inks),
        target=layout.identity_text,
        table=layout.table,
        density_kind="luminance",
        density_zero="scanner",
        source=source.name,
        printer_path=layout.printer_path,
    )


def _mixtures(layout: Layout) -> tuple[str, ...]:
    """Name the ink of each patch, empty on a target of levels."""
    if not layout.has_mixtures:
        return ()
    return tuple(patch.ink.text if patch.ink else "" for patch in layout.patches)


def _flag_findings(readings: Readings) -> list[Finding]:
    meaning = {
        "stray": "far from what neighbouring levels say",
        "covered": "more than a quarter covered by something foreign",
        "uneven": "uneven in themselves",
    }
    found = []
    for flag, what in meaning.items():
        rows = np.flatnonzero(readings.flagged(flag))
        if len(rows):
            keys = ", ".join(readings.patch[row] for row in rows[:8])
            more = " and more" if len(rows) > 8 else ""
            found.append(
                Finding(
                    severity="note",
                    where=f"{readings.source}, patch {keys}{more}",
                    what=f"flagged {flag}: {what}",
                )
            )
    return found
