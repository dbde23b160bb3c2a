"""A printed step tablet from a scan, for `tablet`."""

from contextlib import closing
from pathlib import Path

import numpy as np

from negcurve.darkroom.tablet import Strip
from negcurve.errors import InvalidValueError
from negcurve.files.pictures import open_picture
from negcurve.reading.step_strip import StripBox, StripReading, read_step_strip
from negcurve.tasks.read_options import is_scan as is_scan
from negcurve.tasks.scan_encoding import scan_encoding
from negcurve.tasks.typed import typed_numbers
from negcurve.values import Finding, Progress, no_progress

DARKEST, LIGHTEST = 2.2, 0.25
"""Densities beyond which a scan's gamma is doubted; common practice, no source. [D]"""


def strip_box(text: str | None, *, where: str) -> StripBox | None:
    """Read a rectangle typed as X,Y,W,H in pixels of the upright scan.

    Raises
    ------
    InvalidValueError
        If it is not four numbers.
    """
    if text is None:
        return None
    numbers = typed_numbers(text, where=where)
    if len(numbers) != 4:
        raise InvalidValueError(
            f"{len(numbers)} numbers where four are needed",
            where=where,
            fix="Write left, top, width and height in pixels: 120,340,1800,160.",
        )
    left, top, width, height = numbers
    return StripBox(left=left, top=top, width=width, height=height)


def scan_strip(
    path: Path | str,
    *,
    steps: int,
    box: StripBox | None,
    profile: Path | str | None = None,
    gamma: float | None = None,
    progress: Progress = no_progress,
) -> tuple[Strip, tuple[Finding, ...]]:
    """Read a printed tablet in a scan.

    Parameters
    ----------
    path : path
    steps : int
        Of the tablet; all of them must lie in the scan.
    box : StripBox, optional
        Where the strip lies; else it is looked for.
    profile, gamma : optional
        What the codes stand for, instead of what the file says.
    progress : Progress

    Returns
    -------
    strip : Strip
    findings : tuple of Finding
        Where the strip was found, and what to doubt.

    Raises
    ------
    FileError
        If the scan cannot be read.
    ReadingsError
        If there is no strip, or its codes may stand for anything.
    """
    with closing(open_picture(path)) as source:
        encoding, about = scan_encoding(source, profile=profile, gamma=gamma)
        found = read_step_strip(
            source, encoding, steps=steps, box=box, progress=progress
        )
        name = source.name
    findings = (*about, *_place(found, name, given=box), *_doubts(found, name))
    step = np.arange(1.0, steps + 1)
    return Strip(step=step, density=found.density), findings


def _place(
    found: StripReading, name: str, *, given: StripBox | None
) -> tuple[Finding, ...]:
    if given is not None:
        return ()
    box = found.box
    return (
        Finding(
            severity="note",
            where=name,
            what="strip found at "
            f"{box.left:.0f},{box.top:.0f},{box.width:.0f},{box.height:.0f}, darkest "
            f"step D {found.density[0]:.2f}",
            fix="If that is not the whole strip, give --strip-box X,Y,W,H.",
        ),
    )


def _doubts(found: StripReading, name: str) -> tuple[Finding, ...]:
    darkest, lightest = float(found.density.max()), float(found.density.min())
    if darkest <= DARKEST and 0 <= lightest <= LIGHTEST:
        return ()
    return (
        Finding(
            severity="warning",
            where=name,
            what=f"densities run from {lightest:.2f} to {darkest:.2f}, which "
            "hand-coated paper hardly shows",
            fix="The scan's gamma may be another than assumed: a linear scan needs "
            "--gamma 1.0, automatic contrast must be off.",
        ),
    )
