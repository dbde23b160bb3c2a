"""Make a target: the file to print, its layout, a preview, and what to know of it."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from negcurve.files.layout_json import (
    DESCRIPTION_START,
    description,
    sidecar_path,
    write_layout,
)
from negcurve.files.png import write_png
from negcurve.files.safe import check_outputs, check_suffix
from negcurve.files.tiff import GreyTiffWriter
from negcurve.target.colouring import ColouredDrawing
from negcurve.target.drawing import Drawing
from negcurve.target.layout import Layout, Patch
from negcurve.target.placement import correlations
from negcurve.target.preview import preview
from negcurve.tasks.target_options import TargetOptions, layout_of
from negcurve.values import Finding, Progress, no_progress

__all__ = ["TargetOptions", "TargetResult", "make_target", "target"]

LARGEST_CORRELATION = 0.1
"""Above this an uneven print may pass for a change of tone, and the user is told."""

_STRIP_ROWS = 256


@dataclass(frozen=True, eq=False, kw_only=True)
class TargetResult:
    """A target that was written.

    Attributes
    ----------
    output, layout_file : Path
    preview : Path or None
    layout : Layout
    correlations : dict of str to float
        Of level, or of image tone through a table, with place on the sheet.
    findings : tuple of Finding
    """

    output: Path
    layout_file: Path
    preview: Path | None
    layout: Layout
    correlations: dict[str, float]
    findings: tuple[Finding, ...] = ()


def make_target(
    output: Path | str, *, progress: Progress = no_progress, **options: Any
) -> TargetResult:
    """Write a target to print, and its layout beside it.

    Parameters
    ----------
    output : path
        The target, a TIFF.
    progress : Progress
    **options
        The others of `TargetOptions`.

    Returns
    -------
    TargetResult

    Raises
    ------
    InvalidValueError
        If an option has no honest meaning, or the sheet is too small.
    FileError
        If a file cannot be read or written.
    """
    return target(TargetOptions(output=output, **options), progress=progress)


def target(options: TargetOptions, *, progress: Progress = no_progress) -> TargetResult:
    """Write a target, its layout and its preview; see `make_target`."""
    output, layout_file = Path(options.output), sidecar_path(options.output)
    picture = None if options.preview is None else Path(options.preview)
    found = list(_check_outputs(options, [layout_file, picture, output]))
    layout, about_path = layout_of(options)
    shares = _correlations(layout)
    found += [*about_path, *_about_scatter(shares)]
    write_layout(layout, layout_file, overwrite=options.overwrite)
    if picture is not None:
        write_png(
            picture,
            preview(layout, progress=progress),
            overwrite=options.overwrite,
            description=f"{DESCRIPTION_START} {layout.identity_text}, preview",
        )
    _write_tiff(layout, options, progress)
    return TargetResult(
        output=output,
        layout_file=layout_file,
        preview=picture,
        layout=layout,
        correlations=shares,
        findings=tuple(found),
    )


def _check_outputs(
    options: TargetOptions, outputs: list[Path | None]
) -> tuple[Finding, ...]:
    check_suffix(options.output, ".tif", ".tiff", kind="TIFF")
    if options.preview is not None:
        check_suffix(options.preview, ".png", kind="PNG")
    tables = [options.table] if isinstance(options.table, (str, Path)) else []
    return check_outputs(
        [each for each in outputs if each is not None],
        overwrite=options.overwrite,
        inputs=tables,
    )


def _correlations(layout: Layout) -> dict[str, float]:
    return correlations(
        [patch.box.center for patch in layout.patches],
        [
            patch.negative_level if layout.is_strip else _scattered(patch)
            for patch in layout.patches
        ],
    )


def _scattered(patch: Patch) -> float:
    """Return what must not go along with the place of a patch."""
    if patch.ink is not None:
        return patch.ink.amount
    return patch.negative_level if patch.image_tone is None else patch.image_tone


def _about_scatter(shares: dict[str, float]) -> tuple[Finding, ...]:
    name, worst = max(shares.items(), key=lambda each: abs(each[1]))
    if abs(worst) <= LARGEST_CORRELATION:
        return ()
    return (
        Finding(
            severity="warning",
            where="target",
            what=f"level goes along with {name} on the sheet (r = {worst:+.2f}), so an "
            "uneven print may pass for a change of tone",
            fix="Use more levels or repeats, or another --seed.",
        ),
    )


def _write_tiff(layout: Layout, options: TargetOptions, progress: Progress) -> None:
    rgb = layout.mode == "rgb"
    drawing = ColouredDrawing(layout) if rgb else Drawing(layout)
    with GreyTiffWriter(
        options.output,
        width=drawing.width,
        height=drawing.height,
        resolution_ppi=layout.resolution_ppi,
        description=description(layout),
        bits=layout.bits,
        compression=options.compression,
        channels=3 if rgb else 1,
        overwrite=options.overwrite,
    ) as sink:
        for start in range(0, drawing.height, _STRIP_ROWS):
            stop = min(start + _STRIP_ROWS, drawing.height)
            sink.write(drawing.rows(start, stop))
            progress("drawing", stop / drawing.height)
