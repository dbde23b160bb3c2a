"""Make a target: the file to print, its layout, a preview, and what to know of it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

import numpy as np

from negcurve.errors import FileError, InvalidValueError
from negcurve.files.layout_json import (
    DESCRIPTION_START,
    description,
    sidecar_path,
    write_layout,
)
from negcurve.files.png import write_png
from negcurve.files.safe import check_outputs
from negcurve.files.solution_json import read_solution
from negcurve.files.tiff import Compression, GreyTiffWriter
from negcurve.response.solution import Solution
from negcurve.response.table import LookupTable
from negcurve.target.colouring import ColouredDrawing
from negcurve.target.composition import Design, compose
from negcurve.target.drawing import Drawing
from negcurve.target.edge_strip import TONES, StripDesign, compose_strip
from negcurve.target.ink import BLACK, Ink, film_ink
from negcurve.target.layout import Layout, Patch
from negcurve.target.mixtures import DEFAULT, ink_mixtures
from negcurve.target.placement import correlations
from negcurve.target.preview import preview
from negcurve.target.sizes import length_units
from negcurve.values import Finding, Progress, no_progress

DEFAULT_PPI = 360
DEFAULT_LEVELS = 51

SHEET_ONLY = (
    "sheet",
    "margin",
    "levels",
    "repeats",
    "patch",
    "tablet_window",
    "mixtures",
)
"""Options that mean nothing for a strip."""

LARGEST_CORRELATION = 0.1
"""Above this an uneven print may pass for a change of tone, and the user is told."""

_STRIP_ROWS = 256


@dataclass(frozen=True, eq=False, kw_only=True)
class TargetOptions:
    """What `target` takes.

    Attributes
    ----------
    output : path
        The target, a TIFF. Its layout goes beside it as `NAME.layout.json`.
    sheet : str
        `A2` to `A6`, or width x height with a unit: `8x10in`, `20x25cm`.
    margin : str, optional
        Clear edge with its unit; 12 mm, or 8 mm on sheets narrower than 120 mm.
    ppi : int, optional
        Pixels per inch; the table's, else 360.
    levels, repeats, seed : int
        Number of levels, 51 by default, or of mixtures, 48; how often each occurs, and
        what scatters them.
    patch : str, optional
        Side of a patch with its unit; as large as fits by default.
    mirrored : bool
        For the ink side on the coating.
    table : path, Solution or LookupTable, optional
        Print through this table, for a second round.
    tablet_window : bool, optional
        Clear film for a step tablet; by default from about 8 x 10 in up.
    preview : path, optional
        PNG of film and print.
    mode : {"grey", "rgb"}, optional
    bits : {8, 16}, optional
        Of the file; the table's, else 16-bit grey.
    ink : str, optional
        Colour of full ink as codes `R,G,B`, 0..255; the table's, else black. Written
        as RGB.
    mixtures : bool
        Compare ink mixtures at full ink in place of levels.
    strip : bool
        A strip of 14 patches, as under a negative with an edge strip, in place of a
        sheet: 11 tones through the table and 3 raw levels; 14 levels without a table.
    compression : {"none", "lzw", "deflate"}
    overwrite : bool
        Replace output files that exist.
    """

    output: Path | str
    sheet: str = "8x10in"
    margin: str | None = None
    ppi: int | None = None
    levels: int | None = None
    repeats: int = 2
    seed: int = 1
    patch: str | None = None
    mirrored: bool = True
    table: Path | str | Solution | LookupTable | None = None
    tablet_window: bool | None = None
    preview: Path | str | None = None
    mode: str | None = None
    bits: int | None = None
    ink: str | None = None
    mixtures: bool = False
    strip: bool = False
    compression: Compression = "deflate"
    overwrite: bool = False


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
    layout, about_path = _layout(options)
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
    _check_suffix(options.output, ".tif", ".tiff", kind="TIFF")
    if options.preview is not None:
        _check_suffix(options.preview, ".png", kind="PNG")
    tables = [options.table] if isinstance(options.table, (str, Path)) else []
    return check_outputs(
        [each for each in outputs if each is not None],
        overwrite=options.overwrite,
        inputs=tables,
    )


def _check_suffix(path: Path | str, *suffixes: str, kind: str) -> None:
    if Path(path).suffix.lower() not in suffixes:
        raise FileError(
            f"would be a {kind} under another kind's name",
            where=str(path),
            fix=f"Give it a name that ends in {suffixes[0]}.",
        )


def _layout(options: TargetOptions) -> tuple[Layout, tuple[Finding, ...]]:
    if options.strip:
        _check_strip(options)
    design, found = _design(options)
    if not options.strip:
        return compose(design), found
    strip = StripDesign(
        resolution_ppi=design.resolution_ppi,
        mirrored=design.mirrored,
        mode=design.mode,
        bits=design.bits,
        tone_levels=design.negative_levels,
        table=design.table,
        seed=design.seed,
        ink=design.ink,
    )
    return compose_strip(strip), found


def _check_strip(options: TargetOptions) -> None:
    """Refuse what is asked of a sheet, where a strip is wanted."""
    for field in fields(TargetOptions):
        if field.name in SHEET_ONLY and getattr(options, field.name) != field.default:
            raise InvalidValueError(
                "a strip has its own size and levels",
                where=field.name.replace("_", " "),
                fix="Leave the option out, or leave --strip out for a sheet.",
            )


def _design(options: TargetOptions) -> tuple[Design, tuple[Finding, ...]]:
    table, path = _table(options)
    ink = _ink(options, path)
    mixtures = _mixtures(options, ink)
    usual = len(TONES) if options.strip else len(mixtures) or DEFAULT_LEVELS
    levels = usual if options.levels is None else options.levels
    tones = np.arange(levels) / max(levels - 1, 1)
    design = Design(
        sheet=options.sheet,
        levels=levels,
        repeats=options.repeats,
        seed=options.seed,
        resolution_ppi=options.ppi or round(float(path.get("ppi", DEFAULT_PPI))),
        margin=_length(options.margin, "margin"),
        patch=_length(options.patch, "patch"),
        mirrored=options.mirrored,
        tablet_window=options.tablet_window,
        mode=_mode(options, path, coloured=ink is not None or options.mixtures),
        bits=options.bits or int(path.get("bits", 16)),
        negative_levels=tuple(table.negative_level(tones).tolist()) if table else (),
        image_tones=tuple(tones.tolist()) if table else (),
        table=table.identity if table else "",
        ink=ink,
        mixtures=mixtures,
    )
    return design, tuple(_changes(options, design, path))


def _changes(
    options: TargetOptions, design: Design, path: Mapping[str, str]
) -> Iterator[Finding]:
    """Name what differs from the target of the table, if there is one."""
    if not path:
        return
    now = {
        "ppi": options.ppi and str(options.ppi),
        "bits": options.bits and str(options.bits),
        "mode": options.mode,
        "ink": options.ink and (design.ink or BLACK).text,
    }
    for name, value in now.items():
        first = path.get(name, BLACK.text if name == "ink" else "")
        if value and first and value != first:
            yield _changed(name, first, value)


def _ink(options: TargetOptions, path: Mapping[str, str]) -> Ink | None:
    text = options.ink or path.get("ink")
    ink = film_ink(text) if text else BLACK
    return None if ink == BLACK else ink


def _mixtures(options: TargetOptions, ink: Ink | None) -> tuple[Ink, ...]:
    if not options.mixtures:
        return ()
    if options.table is not None or ink is not None:
        raise InvalidValueError(
            "compare inks with each other, so they take neither a table nor an ink",
            where="mixtures",
            fix="Find the ink with them first; then print a target with --ink R,G,B.",
        )
    return ink_mixtures(DEFAULT if options.levels is None else options.levels)


def _mode(options: TargetOptions, path: Mapping[str, str], *, coloured: bool) -> str:
    if not coloured:
        return options.mode or path.get("mode", "grey")
    if options.mode == "grey":
        raise InvalidValueError(
            "grey cannot hold coloured ink",
            where="mode",
            fix="Leave it out, the file is then written as RGB; or use --ink 0,0,0.",
        )
    return "rgb"


def _table(options: TargetOptions) -> tuple[LookupTable | None, dict[str, str]]:
    """Table and the printer path that it was made for, empty where not known."""
    given = options.table
    if isinstance(given, (str, Path)):
        given = read_solution(given)
    if isinstance(given, Solution):
        return given.table, dict(given.printer_path)
    return given, {}


def _length(text: str | None, where: str) -> int | None:
    return None if text is None else length_units(text, where=where)


def _changed(setting: str, first: str, now: str) -> Finding:
    return Finding(
        severity="warning",
        where=setting,
        what=f"is {now} here and was {first} in the target of the table, so the "
        "printer may lay down other ink than the table was made for",
        fix="Leave the option out to print the first target's way.",
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
