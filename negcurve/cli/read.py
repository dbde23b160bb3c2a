"""`negcurve read`: from scans or lists of densities to a readings file."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from negcurve.cli.glass_text import glass_lines, glass_plain
from negcurve.cli.options import (
    Json,
    Overwrite,
    Quiet,
    ScanGamma,
    ScannerProfile,
    Verbose,
)
from negcurve.cli.output import print_result, progress_bar, set_voice
from negcurve.cli.read_film import read_film_scan
from negcurve.errors import InvalidValueError

if TYPE_CHECKING:
    from negcurve.reading.scan import ScanReading
    from negcurve.reading.wedge import WedgeReading
    from negcurve.tasks.read import ReadResult


def read_command(
    inputs: Annotated[
        list[Path],
        typer.Argument(
            metavar="SCAN|FILE...",
            help="Scans (TIFF, PNG, JPEG) or lists of an instrument (CGATS, CxF3, "
            "CSV) of one print.",
        ),
    ],
    output: Annotated[
        Path | None, typer.Option("--output", "-o", help="The readings, a CSV.")
    ] = None,
    target: Annotated[
        Path | None,
        typer.Option(
            help="Target that was printed, or its layout; else looked for beside the "
            "scan and among the ready-made ones."
        ),
    ] = None,
    profile: ScannerProfile = None,
    gamma: ScanGamma = None,
    overlay: Annotated[
        Path | None, typer.Option(help="PNG that shows what was read where.")
    ] = None,
    numbers: Annotated[
        bool, typer.Option("--numbers", help="Patch numbers on the overlay.")
    ] = False,
    sheet: Annotated[
        str | None, typer.Option(help="Name of the print; the file's by default.")
    ] = None,
    hours_dry: Annotated[
        float | None, typer.Option(help="Hours since the print was dry.", min=0)
    ] = None,
    print_state: Annotated[
        str | None, typer.Option(help="dry (default) or wet.")
    ] = None,
    corner: Annotated[
        list[str] | None,
        typer.Option(
            metavar="X,Y",
            help="Middle of a mark in pixels of the upright scan, four times, where "
            "they are not found.",
        ),
    ] = None,
    tablet: Annotated[
        str | None,
        typer.Option(
            help="Step tablet that lay in the window: 31x0.10, 21x0.15, or a CSV "
            "step,density.",
        ),
    ] = None,
    film_over: Annotated[
        bool,
        typer.Option(
            "--film-over/--no-film-over",
            help="Clear film lay over the tablet, as in the target's window.",
        ),
    ] = True,
    order: Annotated[
        str | None,
        typer.Option(
            help="In which a list's patches were read: number, rows, columns, "
            "alternating-rows, alternating-columns.",
        ),
    ] = None,
    zero: Annotated[
        str | None,
        typer.Option(
            help="What density 0 of a list is: absolute (default) or paper.",
        ),
    ] = None,
    channel: Annotated[
        str | None,
        typer.Option(
            help="Which density: luminance (default), red, green, blue, or visual "
            "from a list.",
        ),
    ] = None,
    which: Annotated[
        str | None,
        typer.Option(
            help="Of several prints in the scan: left, right, top, bottom, or the "
            "number of a target.",
        ),
    ] = None,
    wedge: Annotated[
        Path | None,
        typer.Option(
            help="CSV step,density of a reflection step wedge that lies beside the "
            "print: densities become absolute, whatever the scan's curve. Use a "
            "matt one: a glossy wedge beside matt paper errs in the darkest tones.",
        ),
    ] = None,
    wedge_box: Annotated[
        str | None,
        typer.Option(
            metavar="X,Y,W,H",
            help="Where the wedge lies, in pixels of the upright scan, where it is not "
            "found.",
        ),
    ] = None,
    correct_glass: Annotated[
        bool,
        typer.Option(
            "--correct-glass/--no-correct-glass",
            help="Take the scanner's own unevenness out where scans of the print, "
            "turned or shifted on the glass, tell it.",
        ),
    ] = True,
    film: Annotated[
        bool,
        typer.Option(
            "--film", help="The scan shows the film itself: is it fit to print with?"
        ),
    ] = False,
    ink_side: Annotated[
        str | None,
        typer.Option(help="With --film: which way the ink lay on the glass, up, down."),
    ] = None,
    overwrite: Overwrite = False,
    as_json: Json = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Read the print of a target, from a scan or an instrument.

    Examples:

    \b
      negcurve read scan.tif -o r.csv --target target.tif --overlay check.png
      negcurve read scan.tif -o r.csv --gamma 1.0
      negcurve read scan1.tif scan2.tif -o r.csv --sheet "7 May" --hours-dry 24
      negcurve read scan.tif -o r.csv --tablet 31x0.10
      negcurve read scan.tif -o r.csv --wedge wedge.csv --overlay check.png
      negcurve read two-prints.tif -o r.csv --which left
      negcurve read patches.txt -o r.csv --target target.tif --zero paper
      negcurve read film.tif --film --ink-side down --target negative.tif

    Scan the dry print flat, whole, at 300 ppi and 16 bits, with every automatic
    correction off. Look at the overlay: each outline should lie within its patch.
    """
    set_voice(quiet=quiet, verbose=verbose)
    corners = [_place(text) for text in corner or ()]
    if film:
        read_film_scan(
            inputs,
            ink_side=ink_side,
            output=output,
            target=target,
            profile=profile,
            gamma=gamma,
            corners_px=corners,
            overwrite=overwrite,
            as_json=as_json,
        )
        return
    if ink_side is not None:
        raise InvalidValueError(
            "is said of a film, but a print is read",
            where="--ink-side",
            fix="Add --film for a scan of the film, else leave it out.",
        )
    if output is None:
        raise InvalidValueError(
            "is missing: the readings need a file",
            where="--output",
            fix="Name a CSV: -o r.csv.",
        )
    from negcurve.tasks.list_words import channel_named, order_named, zero_named
    from negcurve.tasks.read import read
    from negcurve.tasks.read_options import ReadOptions

    options = ReadOptions(
        inputs=inputs,
        output=output,
        target=target,
        profile=profile,
        gamma=gamma,
        overlay=overlay,
        numbers=numbers,
        sheet=sheet,
        hours_dry=hours_dry,
        print_state=_state(print_state),  # type: ignore[arg-type]  # one of two words
        corners_px=corners,
        tablet=tablet,
        film_over=film_over,
        order=order_named(order),
        zero=zero_named(zero),
        channel=channel_named(channel),
        which=which,
        wedge=wedge,
        wedge_box=_box(wedge_box),
        correct_glass=correct_glass,
        overwrite=overwrite,
    )
    with progress_bar() as progress:
        result = read(options, progress=progress)
    print_result(
        "read",
        text=_text(result),
        result=_plain(result),
        findings=result.findings,
        as_json=as_json,
    )


def _place(text: str) -> tuple[float, float]:
    try:
        x, y = (float(part) for part in text.split(","))
    except ValueError:
        raise InvalidValueError(
            f"{text!r} is not a place",
            where="--corner",
            fix="Write it as X,Y: 310,295.",
        ) from None
    return x, y


def _box(text: str | None) -> tuple[float, float, float, float] | None:
    if text is None:
        return None
    try:
        left, top, width, height = (float(part) for part in text.split(","))
    except ValueError:
        raise InvalidValueError(
            f"{text!r} is not a box",
            where="--wedge-box",
            fix="Write left, top, width and height: 120,80,240,1700.",
        ) from None
    return left, top, width, height


def _state(text: str | None) -> str | None:
    if text not in (None, "dry", "wet"):
        raise InvalidValueError(
            f"{text!r} is not known", where="--print-state", fix="Use dry or wet."
        )
    return text


def _text(result: "ReadResult") -> str:
    readings = result.readings
    zero = {
        "absolute": "absolute",
        "paper": "above paper",
        "scanner": "from the scanner's white",
    }[readings.density_zero]
    plain = readings.density_kind == "luminance"
    kind = "" if plain else f"{readings.density_kind} "
    steps = int(readings.on_tablet.sum())
    lines = [
        f"{readings.source}: {len(readings) - steps} patches"
        + (f" and {steps} tablet steps" if steps else "")
        + " read"
        + (f" of target {readings.target}" if readings.target else ""),
        *(_scan_text(scan) for scan in result.scans),
        *(_wedge_text(each) for each in result.wedges if each is not None),
        *glass_lines(result.glass),
        f"{kind}density {readings.density.min():.2f} to {readings.density.max():.2f}, "
        f"{zero}" + _error_text(readings.standard_error),
        _flag_text(readings.flags),
        f"{result.output}: readings of print {readings.sheet}",
    ]
    if result.overlay is not None:
        lines.append(f"{result.overlay}: look whether every outline lies in its patch")
    return "\n".join(lines)


def _scan_text(scan: "ScanReading") -> str:
    geometry = scan.geometry
    sides = "reads mirrored" if geometry.mirrored else "reads right"
    return (
        f"{len(scan.corners)} of {len(scan.layout.marks_mm)} marks, turned "
        f"{geometry.turn_degrees:.1f} degrees, {sides}, "
        f"{25.4 * geometry.px_per_mm:.0f} pixels per inch of print, light by "
        f"{scan.encoding_name}"
    )


def _wedge_text(wedge: "WedgeReading") -> str:
    return (
        f"{wedge.name}: {len(wedge.density)} steps, D {wedge.density[0]:.2f} to "
        f"{wedge.density[-1]:.2f}, fit to {wedge.rms:.3f} D rms, {wedge.largest:.3f} "
        "at most"
    )


def _wedge_plain(wedge: "WedgeReading | None") -> dict[str, Any] | None:
    if wedge is None:
        return None
    return {
        "name": wedge.name,
        "density": wedge.density.tolist(),
        "residual": wedge.residual.tolist(),
        "residual_rms": wedge.rms,
        "residual_largest": wedge.largest,
        "foretold_rms": wedge.foretold,
        "contrast_departure": wedge.contrast,
        "brightness": wedge.brightness,
        "steps_clipped": wedge.unused,
        "outline_px": wedge.place.outline_px.tolist(),
    }


def _error_text(errors: Any) -> str:
    known = sorted(float(each) for each in errors if each == each)
    return f", typical standard error {known[len(known) // 2]:.4f} D" if known else ""


def _flag_text(flags: tuple[frozenset[str], ...]) -> str:
    counts = _flag_counts(flags)
    if not counts:
        return "no patch flagged"
    return "flagged: " + ", ".join(f"{count} {name}" for name, count in counts.items())


def _flag_counts(flags: tuple[frozenset[str], ...]) -> dict[str, int]:
    names = sorted({name for each in flags for name in each})
    return {name: sum(name in each for each in flags) for name in names}


def _plain(result: "ReadResult") -> dict[str, Any]:
    readings = result.readings
    return {
        "output": result.output,
        "overlay": result.overlay,
        "sheet": readings.sheet,
        "target": readings.target,
        "table": readings.table,
        "source": readings.source,
        "density_kind": readings.density_kind,
        "density_zero": readings.density_zero,
        "print_state": readings.print_state,
        "hours_dry": readings.hours_dry,
        "patches": int((~readings.on_tablet).sum()),
        "tablet_steps": int(readings.on_tablet.sum()),
        "d_min": float(readings.density.min()),
        "d_max": float(readings.density.max()),
        "flags": _flag_counts(readings.flags),
        "glass": glass_plain(result.glass),
        "scans": [
            {
                "source": scan.readings.source,
                "marks": len(scan.corners),
                "turn_degrees": scan.geometry.turn_degrees,
                "mirrored": scan.geometry.mirrored,
                "px_per_mm": scan.geometry.px_per_mm,
                "agreement": scan.agreement,
                "encoding": scan.encoding_name,
                "marks_px": {
                    str(corner): [mark.x, mark.y]
                    for corner, mark in sorted(scan.corners.items())
                },
                "wedge": _wedge_plain(wedge),
            }
            for scan, wedge in zip(result.scans, result.wedges, strict=True)
        ],
    }
