"""A scan of the film itself, judged before paper is coated for it.

Finds the target or strip on the film, whose tones are the print's reverse, and looks at
size, side, levels and lines; what the film will print is not known from it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal, get_args

import numpy as np

from negcurve.density import density_from_reflectance
from negcurve.encoding import Encoding
from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.reading.film_steps import FilmSteps, film_steps, step_findings
from negcurve.reading.geometry import Geometry
from negcurve.reading.patches import read_areas
from negcurve.reading.placing import Placed, place_anyhow
from negcurve.reading.print_size import check_scale
from negcurve.reading.reduced import largest_code
from negcurve.reading.streaks import Streak, Streaks, find_streaks
from negcurve.target.layout import Layout
from negcurve.values import (
    CodeArray,
    Finding,
    FloatArray,
    ImageSource,
    Progress,
    first_of,
    no_progress,
)

InkSide = Literal["up", "down"]
"""Which way the inked side of the film lay: down on the glass, or up."""

Verdict = Literal["print with it", "look at it first", "do not print with it"]

FINE_PPI = 600
"""From this resolution on a line one nozzle wide is seen; common practice, no source.
"""

CLEAR_LEVEL = 0.97
"""Patches above this hold too little ink to show that some is missing. [1]"""

STRONG_STREAK = 0.03
"""Change of light from which a line will show in a print for certain; common practice,
no source. [1]"""

SHOWN = 8


@dataclass(frozen=True, eq=False, kw_only=True)
class FilmReading:
    """A film that was looked at.

    Attributes
    ----------
    source : str
        Name of the scan.
    layout : Layout
        Target or strip that is on it.
    geometry : Geometry
        Print to scan.
    scales : (float, float) or None
        Printed size against wanted, across and down; None where the scan states no
        resolution. [1]
    mirrored : bool
        Whether lettering read backwards as the film lay on the glass.
    ink_side : {"up", "down"}
        Which way it lay.
    right_side : bool
        Whether the ink is on the side that will lie as the layout means it.
    steps : FilmSteps
        Density of each level.
    streaks : Streaks
    verdict : {"print with it", "look at it first", "do not print with it"}
    findings : tuple of Finding
    """

    source: str
    layout: Layout
    geometry: Geometry
    scales: tuple[float, float] | None
    mirrored: bool
    ink_side: InkSide
    right_side: bool
    steps: FilmSteps
    streaks: Streaks
    verdict: Verdict
    findings: tuple[Finding, ...]


class _Reversed:
    """A scan with black and white exchanged: a film then looks as its print will."""

    def __init__(self, source: ImageSource) -> None:
        self._source = source

    def __getattr__(self, name: str) -> Any:
        return getattr(self._source, name)

    def rows(self, start: int, stop: int) -> CodeArray:
        """Return whole rows, reversed."""
        return self._turned(self._source.rows(start, stop))

    def window(self, top: int, left: int, height: int, width: int) -> CodeArray:
        """Return a rectangle, reversed."""
        return self._turned(self._source.window(top, left, height, width))

    def _turned(self, codes: CodeArray) -> CodeArray:
        largest = largest_code(codes.dtype)
        return np.asarray(largest - codes, dtype=codes.dtype)


def read_film(
    source: ImageSource,
    encoding: Encoding,
    layouts: Sequence[Layout],
    *,
    ink_side: InkSide,
    corners_px: Sequence[tuple[float, float]] = (),
    progress: Progress = no_progress,
) -> FilmReading:
    """Look at a film through a scan of it.

    Parameters
    ----------
    source : ImageSource
        The film scanned as a reflecting original on white, or by transmission; light
        where it is clear.
    encoding : Encoding
        How its levels stand for light.
    layouts : sequence of Layout
        The targets or strips that it may show.
    ink_side : {"up", "down"}
        Which way the inked side lay on the glass.
    corners_px : sequence of (x, y), optional
        Mark centres pointed at by hand. [px]
    progress : Progress
        Told how far it is.

    Returns
    -------
    FilmReading

    Raises
    ------
    ReadingsError
        If no target is found on it, or it is a print.
    InvalidValueError
        If the side is neither up nor down.
    """
    if ink_side not in get_args(InkSide):
        raise InvalidValueError(
            f"{ink_side!r} is not known",
            where="ink_side",
            fix="Say down where the inked side lay on the glass, else up.",
        )
    placed = _placed(source, layouts, corners_px, progress)
    layout, geometry = placed.layout, placed.geometry
    boxes = [patch.box for patch in layout.patches]
    values = read_areas(source, encoding, geometry, boxes, progress=progress)
    steps = film_steps(layout, values)
    inked = [
        patch.box for patch in layout.patches if patch.negative_level < CLEAR_LEVEL
    ]
    streaks = find_streaks(source, encoding, geometry, inked)
    right_side = geometry.mirrored == (layout.mirrored == (ink_side == "down"))
    serious, doubtful = _scale_findings(placed, source)
    serious += [] if right_side else [_wrong_side(placed, source, ink_side)]
    stepped = ([], []) if layout.has_mixtures else step_findings(steps, source)
    for found in (stepped, _streak_findings(streaks, source)):
        serious += found[0]
        doubtful += found[1]
    known = source.resolution_ppi
    return FilmReading(
        source=source.name,
        layout=layout,
        geometry=geometry,
        scales=None if known is None else geometry.scales(known),
        mirrored=geometry.mirrored,
        ink_side=ink_side,
        right_side=right_side,
        steps=steps,
        streaks=streaks,
        verdict=_verdict(serious, doubtful),
        findings=(
            *source.findings,
            *placed.findings,
            *serious,
            *doubtful,
            *_limits(streaks, geometry, source),
        ),
    )


def _verdict(serious: list[Finding], doubtful: list[Finding]) -> Verdict:
    if serious:
        return "do not print with it"
    warned = any(each.severity == "warning" for each in doubtful)
    return "look at it first" if warned else "print with it"


def _placed(
    source: ImageSource,
    layouts: Sequence[Layout],
    corners_px: Sequence[tuple[float, float]],
    progress: Progress,
) -> Placed:
    try:
        return place_anyhow(
            _Reversed(source), layouts, corners_px=corners_px, progress=progress
        )
    except ReadingsError as error:
        try:
            placed = place_anyhow(source, layouts, corners_px=corners_px)
        except ReadingsError:
            raise error from None
    raise ReadingsError(
        f"target {placed.layout.identity_text} is light on dark here, as on a print; "
        "on film it is dark on light",
        where=source.name,
        fix="Read a print without --film. Scan film on white as a reflecting original, "
        "or by transmission as a positive.",
    )


def _scale_findings(
    placed: Placed, source: ImageSource
) -> tuple[list[Finding], list[Finding]]:
    try:
        along = placed.layout.is_strip
        found = check_scale(placed.geometry, source, along_only=along)
        return [], list(found)
    except ReadingsError as error:
        finding = Finding(
            severity="warning", where=source.name, what=error.what, fix=error.fix
        )
        return [finding], []


def _wrong_side(placed: Placed, source: ImageSource, ink_side: InkSide) -> Finding:
    now, wanted = ("right", "backwards")[:: -1 if placed.geometry.mirrored else 1]
    return Finding(
        severity="warning",
        where=source.name,
        what=f"the lettering reads {now} in this scan; with the ink side {ink_side} "
        f"it must read {wanted}",
        fix="Either the driver mirrored it: switch that off and print it again. Or the "
        "other side is the inked one, a drop of water tells: then read again.",
    )


def _streak_findings(
    streaks: Streaks, source: ImageSource
) -> tuple[list[Finding], list[Finding]]:
    serious: list[Finding] = []
    doubtful: list[Finding] = []
    for direction, side in (("across", "top"), ("down", "left")):
        lines = [
            each for each in streaks.lines if each.direction == direction and each.sure
        ]
        if not lines:
            continue
        deepest = max((each.depth for each in lines), key=abs)
        kind = "lighter: ink is missing" if deepest > 0 else "darker: ink lies double"
        count = f"{len(lines)} fine line" + "s" * (len(lines) > 1)
        strong = abs(deepest) >= STRONG_STREAK and deepest > 0
        (serious if strong else doubtful).append(
            Finding(
                severity="warning",
                where=source.name,
                what=f"{count} {direction} the film, up to {abs(deepest):.1%} {kind}; "
                f"{_places(lines)} mm from the {side}",
                fix="Print the nozzle check, clean the head, align it, and print the "
                "film again.",
            )
        )
    return serious, doubtful + _hair_findings(streaks, source)


def _hair_findings(streaks: Streaks, source: ImageSource) -> list[Finding]:
    lines = [each for each in streaks.lines if not each.sure]
    if not lines:
        return []
    return [
        Finding(
            severity="note",
            where=source.name,
            what=f"{len(lines)} fine line{'s' * (len(lines) > 1)} in one patch alone, "
            + ", ".join(
                f"{each.direction} at {each.place_mm:.1f} mm" for each in lines[:SHOWN]
            ),
            fix="Look there with a loupe: a hair or a scratch, or a nozzle of an ink "
            "that only this tone uses?",
        )
    ]


def _places(lines: Sequence[Streak]) -> str:
    return first_of([f"{each.place_mm:.1f}" for each in lines], SHOWN)


def _limits(streaks: Streaks, geometry: Geometry, source: ImageSource) -> list[Finding]:
    """Say what could not have been seen."""
    found = []
    ppi = 25.4 * geometry.px_per_mm
    if ppi < 0.95 * FINE_PPI:
        found.append(
            Finding(
                severity="note",
                where=source.name,
                what=f"at {ppi:.0f} pixels per inch a single missing nozzle may stay "
                "unseen",
                fix=f"Scan film at {FINE_PPI} ppi or more.",
            )
        )
    if np.isfinite(streaks.limit):
        down, across = streaks.seen_mm
        found.append(
            Finding(
                severity="note",
                where=source.name,
                what=f"lines were looked for in the patches, which show {down:.0f} mm "
                f"down and {across:.0f} mm across the sheet; lines fainter than "
                f"{streaks.limit:.1%} in one patch were not called",
            )
        )
    return found


def film_density(reading: FilmReading) -> FloatArray:
    """Density of each patch above the clearest one, as the scan sees it, shape (n,)."""
    density = density_from_reflectance(reading.steps.reflectance)
    return np.asarray(density - density.min())
