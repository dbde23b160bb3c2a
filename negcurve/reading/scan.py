"""From a scan to the readings of one print.

The one way through this room: `placing` finds the target, `patches` averages its
patches, `tone_range`, `paper` and `flags` judge the result.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from negcurve.density import density_from_reflectance
from negcurve.encoding import Encoding
from negcurve.reading.bare_paper import bare_paper, white_limit
from negcurve.reading.code_use import code_use, depth_findings
from negcurve.reading.film_edge import FilmEdge, film_edge, film_edge_findings
from negcurve.reading.flags import patch_flags
from negcurve.reading.geometry import Geometry
from negcurve.reading.jpeg_blocks import block_findings, block_trace
from negcurve.reading.margins import margins
from negcurve.reading.marks import Mark
from negcurve.reading.paper import Whites, taped_density, white_findings
from negcurve.reading.patches import PatchValue, read_areas
from negcurve.reading.placing import Placed, is_inside, place_target
from negcurve.reading.reduced import Reduced
from negcurve.reading.sharpening import edge_overshoot, sharpening_findings
from negcurve.reading.tone_range import check_clipping, density_findings
from negcurve.readings import DensityKind, DensityZero, Readings
from negcurve.target.layout import Layout
from negcurve.values import (
    Finding,
    ImageSource,
    Progress,
    first_of,
    no_progress,
)


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
    whites : Whites
        Bare paper and taped box, where they were seen.
    film_edge : FilmEdge or None
        Densities beside and under the film, where they differ.
    encoding_name : str
        What said how the codes stand for light: a profile by its own name, the gamma,
        or a wedge.
    """

    readings: Readings
    layout: Layout
    geometry: Geometry
    corners: dict[int, Mark]
    reduced: Reduced
    agreement: float
    whites: Whites
    film_edge: FilmEdge | None
    encoding_name: str

    def with_readings(self, readings: Readings) -> "ScanReading":
        """Return the scan with readings that say more about themselves."""
        return replace(self, readings=readings)


def read_target(
    source: ImageSource,
    encoding: Encoding,
    layouts: Sequence[Layout],
    *,
    corners_px: Sequence[tuple[float, float]] = (),
    which: str | None = None,
    kind: DensityKind = "luminance",
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
    which : str, optional
        Of several prints: `left`, `right`, `top`, `bottom`, or the target's identity.
    kind : DensityKind
        What density the encoding gives.
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
    placed = place_target(
        source, layouts, corners_px=corners_px, which=which, progress=progress
    )
    return read_placed(source, encoding, placed, kind=kind, progress=progress)


def read_placed(
    source: ImageSource,
    encoding: Encoding,
    placed: Placed,
    *,
    kind: DensityKind = "luminance",
    zero: DensityZero = "scanner",
    progress: Progress = no_progress,
) -> ScanReading:
    """Read the patches of a target that was found.

    Parameters
    ----------
    source : ImageSource
        The scan.
    encoding : Encoding
        How its levels stand for light: all of it, or what one channel sees.
    placed : Placed
        Where the target lies.
    kind, zero : DensityKind, DensityZero
        What density the encoding gives.
    progress : Progress
        Told how far it is.

    Returns
    -------
    ScanReading

    Raises
    ------
    ReadingsError
        If too many patches are clipped.
    """
    layout, geometry = placed.layout, placed.geometry
    boxes = [patch.box for patch in layout.patches]
    trace = block_trace(source, geometry, layout)
    values = read_areas(
        source, encoding, geometry, boxes, rounding=trace.rounding, progress=progress
    )
    findings = check_clipping(values, source)
    readings = _readings(layout, values, source).replaced(
        density_kind=kind, density_zero=zero
    )
    whites, edge, level = _margins(source, encoding, placed, readings)
    use = code_use(source, geometry, layout, paper=level)
    findings += density_findings(
        readings.density, values, use, encoding, source, set_right=zero == "absolute"
    )
    findings += depth_findings(use, source)
    overshoot = edge_overshoot(source, geometry, layout, readings.density)
    findings += sharpening_findings(overshoot, source)
    if not any("JPEG" in each.what for each in source.findings):
        findings += block_findings(trace, source)
    findings += white_findings(whites, source) + film_edge_findings(edge, source)
    about = (*source.findings, *placed.findings, *findings, *_flag_findings(readings))
    return ScanReading(
        readings=readings.replaced(findings=about),
        layout=layout,
        geometry=geometry,
        corners=placed.corners,
        reduced=placed.reduced,
        agreement=placed.agreement,
        encoding_name=encoding.name,
        whites=whites,
        film_edge=edge,
    )


def _margins(
    source: ImageSource, encoding: Encoding, placed: Placed, readings: Readings
) -> tuple[Whites, FilmEdge | None, float | None]:
    """Read what should be white, the film's edge, and the level of bare paper."""
    layout, geometry = placed.layout, placed.geometry
    lightest = float(readings.density.min())
    taped = paper = edge = None
    box = layout.tape_box
    if box is not None and is_inside(source, geometry, box):
        (value,) = read_areas(source, encoding, geometry, [box])
        taped = taped_density(value, readings.density)
    if not layout.is_strip:
        sides = margins(placed.reduced, encoding, geometry, layout)
        limit = white_limit(sides, lightest=lightest)
        if limit is not None:
            paper = bare_paper(sides, limit=limit, lightest=lightest)
            edge = film_edge(sides, limit=limit)
    density, level = (None, None) if paper is None else (paper.density, paper.level)
    return Whites(lightest=lightest, taped=taped, paper=density), edge, level


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
            keys = first_of([readings.patch[row] for row in rows], 8)
            found.append(
                Finding(
                    severity="note",
                    where=f"{readings.source}, patch {keys}",
                    what=f"flagged {flag}: {what}",
                )
            )
    return found
