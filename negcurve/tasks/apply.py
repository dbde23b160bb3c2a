"""Apply a table to a picture: the negative, its proof, and what to know beforehand."""

from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from negcurve.darkroom.cautions import Caution, cautions_for
from negcurve.encoding import Encoding
from negcurve.errors import InvalidValueError
from negcurve.files.layout_json import (
    STRIP_START,
    sidecar_path,
    strip_description,
    write_layout,
)
from negcurve.files.pictures import open_picture
from negcurve.files.png import write_png
from negcurve.files.safe import check_output, check_outputs
from negcurve.files.solution_json import read_solution
from negcurve.files.tiff import GreyTiffWriter
from negcurve.negative.border import Border, BorderedSink
from negcurve.negative.ink_sink import InkColour, ThreeChannels
from negcurve.negative.printer_path import PrinterPath, printer_path
from negcurve.negative.proof import DESCRIPTION as PROOF_DESCRIPTION
from negcurve.negative.proof import proof
from negcurve.negative.rendering import Rendering, render
from negcurve.negative.size import MM_PER_INCH, Size
from negcurve.negative.tally import Tally, TonesUsed, tones_used
from negcurve.response.solution import Solution
from negcurve.response.table import LookupTable
from negcurve.target.layout import Layout
from negcurve.tasks.apply_options import ApplyOptions, border_of, size_of
from negcurve.tasks.apply_strip import strip_finding
from negcurve.tasks.one_source import check_one_source
from negcurve.tasks.picture import Seen, encoding_seen, refuse_own_files
from negcurve.values import Finding, ImageSource, Progress, StripSink, no_progress

if TYPE_CHECKING:
    from negcurve.negative.resampling import Resampler

__all__ = ["ApplyOptions", "ApplyResult", "apply", "apply_table"]

DESCRIPTION = "negcurve negative"

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
        job = _Job(
            options=options,
            source=source,
            encoding=encoding,
            table=table,
            solution=solution,
            path=path,
            size=size,
            border=border_of(options, path, table, solution, size),
        )
        found += _write_strip_layout(job)
        if options.proof is not None:
            _write_proof(job)
        tally = _write_negative(job, progress)
    tones = tones_used(tally, solution)
    return _result(job, tones, (*found, *tones.findings))


@dataclass(frozen=True, eq=False, kw_only=True)
class _Job:
    """All that was decided before the first row is read."""

    options: ApplyOptions
    source: ImageSource
    encoding: Encoding
    table: LookupTable
    solution: Solution | None
    path: PrinterPath
    size: Size
    border: Border | None


def _check_outputs(options: ApplyOptions) -> tuple[Finding, ...]:
    layout_file = sidecar_path(options.output) if options.edge_strip else None
    wanted = (layout_file, options.proof, options.output)
    outputs = [each for each in wanted if each is not None]
    tables = [options.table] if isinstance(options.table, (str, Path)) else []
    profiles = [] if options.profile is None else [options.profile]
    return check_outputs(
        outputs,
        overwrite=options.overwrite,
        inputs=[options.picture, *tables, *profiles],
    )


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


def _write_strip_layout(job: _Job) -> tuple[Finding, ...]:
    """Write the strip's layout before the negative, and say what it takes."""
    border = job.border
    if border is None or border.strip is None:
        return ()
    output = sidecar_path(job.options.output)
    write_layout(border.strip, output, overwrite=job.options.overwrite)
    mm = MM_PER_INCH / border.resolution_ppi
    return (strip_finding(border.width_px * mm, border.bottom_px * mm),)


def _write_proof(job: _Job) -> None:
    if job.solution is None or job.options.proof is None:
        raise InvalidValueError("needs a solution", where="proof")
    drawn = proof(
        job.source,
        encoding=job.encoding,
        solution=job.solution,
        colour=job.options.colour,
        scale_black=job.options.scale_black,
    )
    write_png(
        job.options.proof,
        drawn.picture,
        overwrite=job.options.overwrite,
        description=f"{PROOF_DESCRIPTION}, table {job.table.identity}",
    )


def _write_negative(job: _Job, progress: Progress) -> Tally:
    options, path = job.options, job.path
    edge, bottom = _edges(job)
    width = job.size.width_px + 2 * edge
    height = job.size.height_px + edge + bottom
    if options.compression == "none":
        check_output(
            options.output,
            overwrite=options.overwrite,
            needed_bytes=width * height * path.channels * path.bits // 8,
        )
    how = Rendering(
        mirrored=options.mirrored,
        resampler=_resampler(job),
        scale_black=options.scale_black,
        bits=_rendered_bits(path),
        threads=options.threads,
    )
    with GreyTiffWriter(
        options.output,
        width=width,
        height=height,
        resolution_ppi=job.size.resolution_ppi,
        description=_description(job),
        bits=path.bits,
        compression=options.compression,
        channels=path.channels,
        overwrite=options.overwrite,
        workers=options.threads,
    ) as writer:
        return render(
            job.source,
            _sink(job, writer),
            encoding=job.encoding,
            table=job.table,
            how=how,
            progress=progress,
        )


def _edges(job: _Job) -> tuple[int, int]:
    """Pixels of border on each side, and below the picture."""
    return (job.border.width_px, job.border.bottom_px) if job.border else (0, 0)


def _sink(job: _Job, writer: GreyTiffWriter) -> StripSink:
    sink: StripSink = writer
    if job.path.coloured:
        ink, bits = job.path.ink, job.path.bits
        sink = InkColour(writer, ink, width=writer.width, bits=bits)
    elif job.path.channels == 3:
        sink = ThreeChannels(writer)
    if job.border is None:
        return sink
    return BorderedSink(
        sink,
        job.border,
        width=job.size.width_px,
        height=job.size.height_px,
        dtype=np.dtype(np.uint8 if _rendered_bits(job.path) == 8 else np.uint16),
    )


def _rendered_bits(path: PrinterPath) -> int:
    """Bits of the levels before they become colours; dithering then comes last."""
    return 16 if path.coloured else path.bits


def _resampler(job: _Job) -> "Resampler | None":
    if not _is_resampled(job):
        return None
    from negcurve.negative.resampling import Resampler  # noqa: PLC0415  loads scipy

    return Resampler(
        (job.source.height, job.source.width),
        (job.size.height_px, job.size.width_px),
        mirrored=job.options.mirrored,
    )


def _is_resampled(job: _Job) -> bool:
    source, size = job.source, job.size
    return (source.width, source.height) != (size.width_px, size.height_px)


def _description(job: _Job) -> str:
    """Say what the file is, with the strip's layout last; ASCII, as TIFF 6.0 asks."""
    side = "mirrored" if job.options.mirrored else "not mirrored"
    parts = [f"{DESCRIPTION}, table {job.table.identity}, {side}"]
    parts += [f"ink {job.path.ink.text}"] if job.path.coloured else []
    notes = job.solution.notes if job.solution else {}
    parts += [f"{key}: {text}" for key, text in notes.items()]
    said = "; ".join(parts).replace(STRIP_START, "").encode("ascii", "replace")
    strip = job.border.strip if job.border else None
    return said.decode("ascii") + (strip_description(strip) if strip else "")


def _result(job: _Job, tones: TonesUsed, findings: tuple[Finding, ...]) -> ApplyResult:
    notes = dict(job.solution.notes) if job.solution else {}
    edge, bottom = _edges(job)
    strip = job.border.strip if job.border else None
    ends = job.table.negative_level(np.array([tones.tone_high, tones.tone_low]))
    return ApplyResult(
        output=Path(job.options.output),
        proof=None if job.options.proof is None else Path(job.options.proof),
        size=job.size,
        border_px=edge,
        bottom_px=bottom,
        strip=strip,
        layout_file=sidecar_path(job.options.output) if strip else None,
        bits=job.path.bits,
        ink=job.path.ink.text,
        mirrored=job.options.mirrored,
        resampled=_is_resampled(job),
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
