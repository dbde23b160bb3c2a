"""Look at a printed film through its scan, before paper is coated for it."""

from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from negcurve.errors import ReadingsError
from negcurve.files.layout_json import layouts_known
from negcurve.files.pictures import open_picture
from negcurve.files.safe import check_outputs, write_text
from negcurve.reading.film import FilmReading, InkSide, film_density, read_film
from negcurve.tasks.scan_encoding import scan_encoding
from negcurve.values import Finding, ImageSource, Progress, no_progress

COLUMNS = ("patch", "negative_level", "film_density", "standard_error", "x_mm", "y_mm")
"""Of the CSV. These are no readings of a print, so `solve` does not take them."""


@dataclass(frozen=True, eq=False, kw_only=True)
class FilmOptions:
    """What `read --film` takes.

    Attributes
    ----------
    scan : path
        Of the film, light where it is clear.
    ink_side : {"up", "down"}
        Which way the inked side lay on the glass.
    output : path, optional
        CSV of what the scan sees of each patch.
    target : path, optional
        The target or negative that was printed, or its layout. Else it is looked for
        beside the scan and among the ready-made ones.
    profile : path, optional
        ICC profile of the scanner, instead of the one that the scan carries.
    gamma : float, optional
        Of the scan, instead of a profile.
    corners_px : sequence of (x, y)
        Mark centres pointed at by hand. [px of the upright scan]
    overwrite : bool
        Replace an output file that exists.
    """

    scan: Path | str
    ink_side: InkSide
    output: Path | str | None = None
    target: Path | str | None = None
    profile: Path | str | None = None
    gamma: float | None = None
    corners_px: Sequence[tuple[float, float]] = ()
    overwrite: bool = False


@dataclass(frozen=True, eq=False, kw_only=True)
class FilmResult:
    """What was seen.

    Attributes
    ----------
    film : FilmReading
    output : Path or None
    findings : tuple of Finding
    """

    film: FilmReading
    output: Path | None
    findings: tuple[Finding, ...]


def film(options: FilmOptions, *, progress: Progress = no_progress) -> FilmResult:
    """Look at a film.

    Parameters
    ----------
    options : FilmOptions
    progress : Progress

    Returns
    -------
    FilmResult

    Raises
    ------
    FileError
        If a file cannot be read or written.
    ReadingsError
        If no target or strip is found on it.
    """
    output = options.output
    named = [each for each in (options.target, options.profile) if each is not None]
    about = check_outputs(
        [] if output is None else [output],
        overwrite=options.overwrite,
        inputs=[options.scan, *named],
    )
    layouts = layouts_known(options.target, beside=options.scan)
    with closing(open_picture(options.scan)) as source:
        _refuse_own_file(source)
        encoding, assumed = scan_encoding(
            source, profile=options.profile, gamma=options.gamma
        )
        found = read_film(
            source,
            encoding,
            layouts,
            ink_side=options.ink_side,
            corners_px=options.corners_px,
            progress=progress,
        )
    if output is not None:
        write_text(output, _csv(found), overwrite=options.overwrite)
    return FilmResult(
        film=found,
        output=None if output is None else Path(output),
        findings=(*about, *assumed, *found.findings),
    )


def _refuse_own_file(source: ImageSource) -> None:
    for kind in ("target", "negative", "proof"):
        if source.description.startswith(f"negcurve {kind}"):
            raise ReadingsError(
                f"this is the {kind} file itself, not a scan of the film",
                where=source.name,
                fix="Print it on film and scan that.",
            )


def _csv(film: FilmReading) -> str:
    density, error = film_density(film), film.steps.patch_error
    lines = [
        f"# film of {film.layout.identity_text}, density above its clearest patch as "
        "the scan sees it",
        ",".join(COLUMNS),
    ]
    for place, patch in enumerate(film.layout.patches):
        x, y = patch.box.center
        values = (patch.negative_level, density[place], error[place], x, y)
        lines.append(",".join([str(patch.number), *(_number(each) for each in values)]))
    return "\n".join(lines) + "\n"


def _number(value: float) -> str:
    return f"{np.round(value, 6):g}"
