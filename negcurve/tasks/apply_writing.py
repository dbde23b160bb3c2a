"""The files of a negative: its strip's layout, its proof, and itself."""

from dataclasses import dataclass

import numpy as np

from negcurve.encoding import Encoding
from negcurve.errors import InvalidValueError
from negcurve.files.layout_json import (
    STRIP_START,
    sidecar_path,
    strip_description,
    write_layout,
)
from negcurve.files.png import write_png
from negcurve.files.safe import check_output
from negcurve.files.tiff import GreyTiffWriter
from negcurve.negative.border import Border, BorderedSink
from negcurve.negative.ink_sink import InkColour, ThreeChannels
from negcurve.negative.printer_path import PrinterPath
from negcurve.negative.proof import DESCRIPTION as PROOF_DESCRIPTION
from negcurve.negative.proof import proof
from negcurve.negative.rendering import Rendering, render
from negcurve.negative.resampling import Resampler
from negcurve.negative.size import MM_PER_INCH, Size
from negcurve.negative.tally import Tally
from negcurve.response.solution import Solution
from negcurve.response.table import LookupTable
from negcurve.tasks.apply_options import ApplyOptions
from negcurve.tasks.apply_strip import strip_finding
from negcurve.values import Finding, ImageSource, Progress, StripSink

DESCRIPTION = "negcurve negative"


@dataclass(frozen=True, eq=False, kw_only=True)
class Job:
    """All that was decided before the first row is read."""

    options: ApplyOptions
    source: ImageSource
    encoding: Encoding
    table: LookupTable
    solution: Solution | None
    path: PrinterPath
    size: Size
    border: Border | None
    film: Size


def write_strip_layout(job: Job) -> tuple[Finding, ...]:
    """Write the strip's layout before the negative, and say what it takes."""
    border = job.border
    if border is None or border.strip is None:
        return ()
    output = sidecar_path(job.options.output)
    write_layout(border.strip, output, overwrite=job.options.overwrite)
    mm = MM_PER_INCH / border.resolution_ppi
    return (strip_finding(border.width_px * mm, border.bottom_px * mm),)


def write_proof(job: Job) -> None:
    """Draw how the print should look."""
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


def write_negative(job: Job, progress: Progress) -> Tally:
    """Write the negative; return the pixels by image tone."""
    options, path = job.options, job.path
    width, height = job.film.width_px, job.film.height_px
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


def edges_of(job: Job) -> tuple[int, int]:
    """Pixels of border on each side, and below the picture."""
    return (job.border.width_px, job.border.bottom_px) if job.border else (0, 0)


def _sink(job: Job, writer: GreyTiffWriter) -> StripSink:
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


def _resampler(job: Job) -> Resampler | None:
    if not is_resampled(job):
        return None
    return Resampler(
        (job.source.height, job.source.width),
        (job.size.height_px, job.size.width_px),
    )


def is_resampled(job: Job) -> bool:
    """Tell whether the pixels are others than the picture's."""
    source, size = job.source, job.size
    return (source.width, source.height) != (size.width_px, size.height_px)


def _description(job: Job) -> str:
    """Say what the file is, with the strip's layout last; ASCII, as TIFF 6.0 asks."""
    side = "mirrored" if job.options.mirrored else "not mirrored"
    parts = [f"{DESCRIPTION}, table {job.table.identity}, {side}"]
    parts += [f"ink {job.path.ink.text}"] if job.path.coloured else []
    notes = job.solution.notes if job.solution else {}
    parts += [f"{key}: {text}" for key, text in notes.items()]
    said = "; ".join(parts).replace(STRIP_START, "").encode("ascii", "replace")
    strip = job.border.strip if job.border else None
    return said.decode("ascii") + (strip_description(strip) if strip else "")
