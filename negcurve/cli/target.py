"""`negcurve target`: the sheet of grey steps to print first."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from negcurve.cli.options import Compression, Json, Overwrite, Quiet, Verbose
from negcurve.cli.output import print_result, progress_bar, set_voice

if TYPE_CHECKING:
    from negcurve.tasks.target import TargetResult

CAUTION = (
    "UV light harms eyes and skin, and sensitizers may be toxic or corrosive: shield "
    "the lamp, wear gloves and goggles, follow the safety data sheets and local rules."
)


def target_command(
    output: Annotated[
        Path, typer.Argument(help="The target, a TIFF; NAME.layout.json goes beside.")
    ],
    sheet: Annotated[
        str, typer.Option(help="A2 to A6, or width x height: 8x10in, 20x25cm.")
    ] = "8x10in",
    margin: Annotated[
        str | None,
        typer.Option(
            help="Clear edge with its unit; 12mm, or 8mm on sheets under 120 mm wide.",
            show_default=False,
        ),
    ] = None,
    ppi: Annotated[
        int | None,
        typer.Option(help="Pixels per inch; the table's, else 360.", min=1),
    ] = None,
    levels: Annotated[
        int | None,
        typer.Option(
            help="Grey levels, 2 to 256; 51 by default, 48 mixtures.",
            show_default=False,
        ),
    ] = None,
    repeats: Annotated[int, typer.Option(help="Patches of each level.")] = 2,
    seed: Annotated[int, typer.Option(help="Another number, another scatter.")] = 1,
    patch: Annotated[
        str | None,
        typer.Option(help="Side of a patch: 8mm; as large as fits by default."),
    ] = None,
    mirrored: Annotated[
        bool,
        typer.Option(
            "--mirrored/--not-mirrored", help="For the ink side on the coating."
        ),
    ] = True,
    table: Annotated[
        Path | None,
        typer.Option(help="Print through this solution, for a second round."),
    ] = None,
    tablet_window: Annotated[
        bool | None,
        typer.Option(
            "--tablet-window/--no-tablet-window",
            help="Clear film for a step tablet; by default from 20x25cm up.",
        ),
    ] = None,
    preview: Annotated[
        Path | None, typer.Option(help="PNG of the file and of the print.")
    ] = None,
    mode: Annotated[
        str | None, typer.Option(help="grey or rgb; the table's, else grey.")
    ] = None,
    bits: Annotated[
        int | None, typer.Option(help="16 or 8; the table's, else 16.")
    ] = None,
    ink: Annotated[
        str | None,
        typer.Option(
            help="Code of full ink, R,G,B from 0 to 255; the table's, else black.",
            show_default=False,
        ),
    ] = None,
    mixtures: Annotated[
        bool,
        typer.Option(
            "--mixtures",
            help="Ink mixtures in place of greys: which holds back most UV?",
        ),
    ] = False,
    strip: Annotated[
        bool,
        typer.Option(
            "--strip", help="A strip of 14 patches to watch a calibration with."
        ),
    ] = False,
    compression: Compression = "deflate",
    overwrite: Overwrite = False,
    as_json: Json = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Make the target: grey steps to print, expose, scan and read.

    Examples:

    \b
      negcurve target target.tif
      negcurve target target.tif --sheet A4 --ppi 720 --preview target.png
      negcurve target small.tif --sheet 4x5in --levels 21
      negcurve target second.tif --table table.json --seed 2
      negcurve target strip.tif --table table.json --strip
      negcurve target mixtures.tif --mixtures
      negcurve target coloured.tif --ink 0,96,32

    Print it on film at 100 %, without scaling or colour management, the way that
    negatives will be printed. The layout beside it is needed to read the print.
    """
    set_voice(quiet=quiet, verbose=verbose)
    from negcurve.tasks.target import TargetOptions, target

    options = TargetOptions(
        output=output,
        sheet=sheet,
        margin=margin,
        ppi=ppi,
        levels=levels,
        repeats=repeats,
        seed=seed,
        patch=patch,
        mirrored=mirrored,
        table=table,
        tablet_window=tablet_window,
        preview=preview,
        mode=mode,
        bits=bits,
        ink=ink,
        mixtures=mixtures,
        strip=strip,
        compression=compression,  # type: ignore[arg-type]  # checked by the task
        overwrite=overwrite,
    )
    with progress_bar() as progress:
        result = target(options, progress=progress)
    print_result(
        "target",
        text=_text(result),
        result=_plain(result),
        findings=result.findings,
        as_json=as_json,
    )


def _text(result: "TargetResult") -> str:
    layout = result.layout
    width, height = layout.size_px
    box = layout.patches[0].box
    kind = "RGB" if layout.mode == "rgb" else layout.mode
    kind += f", full ink {layout.ink.text}" if layout.ink else ""
    steps = "ink mixtures" if layout.has_mixtures else "levels"
    scattered = "amount of ink" if layout.has_mixtures else "level"
    sides = "mirrored" if layout.mirrored else "not mirrored"
    through = f" through table {layout.table}" if layout.table else ""
    kind_of = "strip" if layout.is_strip else "target"
    count = f"{layout.levels} {steps} x {layout.repeats}"
    if layout.is_strip and layout.table:
        count, through = f"11 tones{through} and 3 raw levels", ""
    worst = max(abs(each) for each in result.correlations.values())
    lines = [
        f"{result.output}: {width} x {height} pixels, {layout.bits}-bit {kind}, "
        f"{sides}",
        f"prints {layout.width_mm:.1f} x {layout.height_mm:.1f} mm "
        f"({layout.width_mm / 25.4:.2f} x {layout.height_mm / 25.4:.2f} in) at "
        f"{layout.resolution_ppi} ppi: set the driver to 100 %, no scaling",
        f"{kind_of} {layout.identity_text}: {count}{through}, patches of "
        f"{box.width_mm:.1f} x {box.height_mm:.1f} mm",
        f"{scattered} against place on the sheet: |r| at most {worst:.2f}",
        f"{result.layout_file}: keep it, the print is read with it",
    ]
    if result.preview is not None:
        lines.append(f"{result.preview}: the file and the print")
    lines += _handling(result)
    return "\n".join(lines)


def _handling(result: "TargetResult") -> list[str]:
    layout = result.layout
    side = "on" if layout.mirrored else "away from"
    way = "backwards" if layout.mirrored else "right"
    lines = [
        f"Expose with the ink side {side} the coating: there the caption reads {way}."
    ]
    if layout.tablet_window is not None:
        lines.append("A step tablet may lie in the long frame.")
    if layout.tape_box is not None:
        lines.append(
            "Opaque tape over the small frame keeps the white of unexposed coating."
        )
    return [*lines, CAUTION]


def _plain(result: "TargetResult") -> dict[str, Any]:
    layout = result.layout
    width, height = layout.size_px
    box = layout.patches[0].box
    return {
        "output": result.output,
        "layout": result.layout_file,
        "preview": result.preview,
        "identity": layout.identity_text,
        "sheet": layout.sheet,
        "width_px": width,
        "height_px": height,
        "width_mm": layout.width_mm,
        "height_mm": layout.height_mm,
        "margin_mm": layout.margin_mm,
        "printer_path": layout.printer_path,
        "mirrored": layout.mirrored,
        "levels": layout.levels,
        "mixtures": [patch.ink.text for patch in layout.patches if patch.ink],
        "repeats": layout.repeats,
        "seed": layout.seed,
        "patches": len(layout.patches),
        "patch_mm": [box.width_mm, box.height_mm],
        "tablet_window": layout.tablet_window is not None,
        "tape_box": layout.tape_box is not None,
        "table": layout.table,
        "correlations": result.correlations,
    }
