"""Apply a table to a picture: the negative, its proof, and what to know beforehand."""

from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from negcurve.darkroom.cautions import Caution, cautions_for
from negcurve.errors import InvalidValueError
from negcurve.files.layout_json import sidecar_path
from negcurve.files.pictures import open_picture
from negcurve.files.safe import check_outputs, check_suffix
from negcurve.files.solution_json import read_solution
from negcurve.negative.printer_path import printer_path
from negcurve.negative.size import Size
from negcurve.negative.tally import TonesUsed, tones_used
from negcurve.response.solution import Solution
from negcurve.response.table import LookupTable
from negcurve.target.layout import Layout
from negcurve.tasks.apply_options import ApplyOptions, border_of, film_of, size_of
from negcurve.tasks.apply_writing import (
    Job,
    edges_of,
    is_resampled,
    write_negative,
    write_proof,
    write_strip_layout,
)
from negcurve.tasks.one_source import check_one_source
from negcurve.tasks.picture import Seen, encoding_seen, refuse_own_files
from negcurve.values import Finding, Progress, no_progress

__all__ = ["ApplyOptions", "ApplyResult", "apply", "apply_table"]

CONDITIONS = (
    "exposure",
    "lamp",
    "glass",
    "paper",
    "sensitizer",
    "development",
    "drying",
)
"""What a table holds for; named as unknown where its notes do not say."""


@dataclass(frozen=True, eq=False, kw_only=True)
class ApplyResult:
    """A negative that was written.

    Attributes
    ----------
    output : Path
    proof : Path or None
    size : Size
        Of the picture.
    film : Size
        Of all that is printed, border and strip with it.
    border_px : int
        Added on each side of it.
    bottom_px : int
        Added below it; more than `border_px` where there is a strip.
    strip : Layout or None
        The edge strip.
    layout_file : Path or None
        Its layout, beside the negative.
    bits : int
    ink : str
        Full ink as codes `R,G,B`; black is 0,0,0.
    mirrored : bool
    resampled : bool
        Whether the pixels are others than the picture's.
    encoding : str
        What the picture's codes were taken for.
    table : str
        Identity of the table.
    tones : TonesUsed
    negative_low, negative_high : float
        Lowest and highest level of the negative within the picture. [1]
    notes : dict of str to str
        What the table holds for: the print must be exposed and worked alike.
    unknown : tuple of str
        Conditions that the notes do not tell.
    cautions : tuple of Caution
        For the exposure that the negative is for, and for what the notes name.
    findings : tuple of Finding
    """

    output: Path
    proof: Path | None
    size: Size
    film: Size
    border_px: int
    bottom_px: int
    strip: Layout | None
    layout_file: Path | None
    bits: int
    ink: str
    mirrored: bool
    resampled: bool
    encoding: str
    table: str
    tones: TonesUsed
    negative_low: float
    negative_high: float
    notes: dict[str, str] = field(default_factory=dict)
    unknown: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()
    findings: tuple[Finding, ...] = ()


def apply_table(
    picture: Path | str,
    output: Path | str,
    *,
    table: Path | str | Solution | LookupTable,
    progress: Progress = no_progress,
    **options: Any,
) -> ApplyResult:
    """Write the negative of a picture.

    Parameters
    ----------
    picture : path
        TIFF, PNG or JPEG, grey or RGB.
    output : path
        The negative, a TIFF.
    table : path, Solution or LookupTable
    progress : Progress
    **options
        The others of `ApplyOptions`.

    Returns
    -------
    ApplyResult

    Raises
    ------
    FileError
        If a file cannot be read or written, or the picture is none.
    InvalidValueError
        If an option has no honest meaning.
    """
    return apply(
        ApplyOptions(picture=picture, output=output, table=table, **options),
        progress=progress,
    )


def apply(options: ApplyOptions, *, progress: Progress = no_progress) -> ApplyResult:
    """Write the negative of a picture, and its proof; see `apply_table`."""
    check_one_source(options.table, options.record)
    found = list(_check_outputs(options))
    table, solution = _table(options)
    with closing(open_picture(options.picture)) as source:
        refuse_own_files(source)
        seen = Seen(
            profile=options.profile,
            gamma=options.gamma,
            weights=options.weights,
            scale_black=options.scale_black,
        )
        encoding, about_encoding = encoding_seen(source, seen)
        path = printer_path(
            solution.printer_path if solution else {},
            bits=options.bits,
            resolution_ppi=options.ppi,
            ink=options.ink,
            own_ppi=source.resolution_ppi[0] if source.resolution_ppi else None,
        )
        size = size_of(options, source, path)
        found += [*source.findings, *about_encoding, *path.findings, *size.findings]
        border = border_of(options, path, table, solution, size)
        film = film_of(size, border)
        job = Job(
            options=options,
            source=source,
            encoding=encoding,
            table=table,
            solution=solution,
            path=path,
            size=size,
            border=border,
            film=film,
        )
        found += [*film.findings, *write_strip_layout(job)]
        if options.proof is not None:
            write_proof(job)
        tally = write_negative(job, progress)
    tones = tones_used(tally, solution)
    return _result(job, tones, (*found, *tones.findings))


def _check_outputs(options: ApplyOptions) -> tuple[Finding, ...]:
    layout_file = sidecar_path(options.output) if options.edge_strip else None
    wanted = (layout_file, options.proof, options.output)
    outputs = [each for each in wanted if each is not None]
    tables = [options.table] if isinstance(options.table, (str, Path)) else []
    profiles = [] if options.profile is None else [options.profile]
    found = check_outputs(
        outputs,
        overwrite=options.overwrite,
        inputs=[options.picture, *tables, *profiles],
    )
    check_suffix(options.output, ".tif", ".tiff", kind="TIFF")
    if options.proof is not None:
        check_suffix(options.proof, ".png", kind="PNG")
    return found


def _recorded(options: ApplyOptions) -> Solution:
    from negcurve.tasks.recorded import recorded_solution  # noqa: PLC0415  loads scipy

    return recorded_solution(options.record_dir, options.record)


def _table(options: ApplyOptions) -> tuple[LookupTable, Solution | None]:
    given = options.table
    if given is None:
        given = _recorded(options)
    if isinstance(given, (str, Path)):
        given = read_solution(given)
    if isinstance(given, Solution):
        return given.table, given
    if options.proof is not None:
        raise InvalidValueError(
            "cannot be drawn from a bare table: it does not say what the paper shows",
            where="proof",
            fix="Give the whole solution as the table.",
        )
    return given, None


def _result(job: Job, tones: TonesUsed, findings: tuple[Finding, ...]) -> ApplyResult:
    notes = dict(job.solution.notes) if job.solution else {}
    edge, bottom = edges_of(job)
    strip = job.border.strip if job.border else None
    ends = job.table.negative_level(np.array([tones.tone_high, tones.tone_low]))
    return ApplyResult(
        output=Path(job.options.output),
        proof=None if job.options.proof is None else Path(job.options.proof),
        size=job.size,
        film=job.film,
        border_px=edge,
        bottom_px=bottom,
        strip=strip,
        layout_file=sidecar_path(job.options.output) if strip else None,
        bits=job.path.bits,
        ink=job.path.ink.text,
        mirrored=job.options.mirrored,
        resampled=is_resampled(job),
        encoding=job.encoding.name,
        table=job.table.identity,
        tones=tones,
        negative_low=float(ends[0]),
        negative_high=float(ends[1]),
        notes=notes,
        unknown=tuple(each for each in CONDITIONS if each not in notes),
        cautions=cautions_for(notes.values(), light=True),
        findings=findings,
    )
