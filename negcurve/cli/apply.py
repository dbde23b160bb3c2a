"""`negcurve apply`: the negative of a picture."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from negcurve.cli.options import (
    Compression,
    Json,
    OrRecord,
    Overwrite,
    Quiet,
    RecordDir,
    Verbose,
)
from negcurve.cli.output import print_result, progress_bar, set_voice
from negcurve.errors import InvalidValueError

if TYPE_CHECKING:
    from negcurve.negative.size import Size
    from negcurve.tasks.apply import ApplyResult


def apply_command(
    picture: Annotated[Path, typer.Argument(help="TIFF, PNG or JPEG, grey or RGB.")],
    output: Annotated[
        Path, typer.Option("--output", "-o", help="The negative, a TIFF: NAME.tif.")
    ],
    table: Annotated[
        Path | None, typer.Option(help="Solution written by `negcurve solve`.")
    ] = None,
    record: OrRecord = "",
    record_dir: RecordDir = None,
    width: Annotated[
        str | None, typer.Option(help="Printed width with its unit: 8in, 20cm.")
    ] = None,
    height: Annotated[str | None, typer.Option(help="Printed height.")] = None,
    long_edge: Annotated[
        str | None, typer.Option(help="Printed length of the longer side.")
    ] = None,
    fit: Annotated[
        str | None, typer.Option(help="Sheet that the picture is to fill: 8x10in, A4.")
    ] = None,
    margin: Annotated[
        str, typer.Option(help="Free on each side of the sheet that is filled.")
    ] = "12mm",
    border: Annotated[
        str | None,
        typer.Option(help="Border with ticks and caption around the picture: 8mm."),
    ] = None,
    surround: Annotated[
        str, typer.Option(help="Border: clear (prints black) or ink (prints white).")
    ] = "clear",
    edge_strip: Annotated[
        bool,
        typer.Option(
            "--edge-strip",
            help="14 small patches below the picture: every print is a check.",
        ),
    ] = False,
    ppi: Annotated[
        float | None, typer.Option(help="Pixels per inch; the target's by default.")
    ] = None,
    proof: Annotated[
        Path | None, typer.Option(help="PNG: how the print should look.")
    ] = None,
    colour: Annotated[
        str, typer.Option(help="Image colour of the proof: neutral, warm, blue.")
    ] = "neutral",
    not_mirrored: Annotated[
        bool,
        typer.Option(
            "--not-mirrored", help="For printing with the ink away from the coating."
        ),
    ] = False,
    compression: Compression = "none",
    bits: Annotated[
        int | None,
        typer.Option(help="16 or 8 (dithered); the target's by default."),
    ] = None,
    ink: Annotated[
        str | None,
        typer.Option(
            help="Code of full ink, R,G,B from 0 to 255; the target's by default.",
            show_default=False,
        ),
    ] = None,
    profile: Annotated[
        Path | None, typer.Option(help="ICC profile of the picture, not its own.")
    ] = None,
    gamma: Annotated[
        float | None, typer.Option(help="Gamma of the picture, not its profile.")
    ] = None,
    weights: Annotated[
        str | None,
        typer.Option(help="Red, green, blue shares, as under a filter: 0.6,0.3,0.1."),
    ] = None,
    keep_black: Annotated[
        bool,
        typer.Option("--keep-black", help="Print a profile's raised black as a grey."),
    ] = False,
    overwrite: Overwrite = False,
    as_json: Json = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Make the negative of a picture through a table.

    Examples:

    \b
      negcurve apply picture.tif -o negative.tif --table t.json
      negcurve apply picture.jpg -o negative.tif --table t.json --width 8in
      negcurve apply picture.tif -o negative.tif --table t.json --proof p.png
      negcurve apply picture.tif -o negative.tif --table t.json --fit 8x10in
      negcurve apply picture.tif -o negative.tif --table t.json --edge-strip
      negcurve apply picture.tif -o negative.tif --record spring --record-dir rec

    The negative is mirrored, so that its ink lies on the coating. Without a
    size, each pixel of the picture becomes one pixel of the negative.
    """
    set_voice(quiet=quiet, verbose=verbose)
    from negcurve.tasks.apply import ApplyOptions, apply

    options = ApplyOptions(
        picture=picture,
        output=output,
        table=table,
        record=record,
        record_dir=record_dir,
        width=width,
        height=height,
        long_edge=long_edge,
        fit=fit,
        margin=margin,
        border=border,
        surround=surround,  # type: ignore[arg-type]  # checked by the task
        edge_strip=edge_strip,
        ppi=ppi,
        proof=proof,
        colour=colour,  # type: ignore[arg-type]  # checked by the task
        mirrored=not not_mirrored,
        compression=compression,  # type: ignore[arg-type]  # checked by the task
        bits=bits,
        ink=ink,
        profile=profile,
        gamma=gamma,
        weights=None if weights is None else _three_numbers(weights),
        scale_black=not keep_black,
        overwrite=overwrite,
    )
    with progress_bar() as progress:
        result = apply(options, progress=progress)
    print_result(
        "apply",
        text=_text(result),
        result=_plain(result),
        findings=result.findings,
        as_json=as_json,
    )


def _three_numbers(text: str) -> tuple[float, float, float]:
    try:
        red, green, blue = (float(each) for each in text.split(","))
    except ValueError:
        raise InvalidValueError(
            f"{text!r} is not three numbers",
            where="--weights",
            fix="Give shares of red, green and blue: --weights 0.6,0.3,0.1.",
        ) from None
    return red, green, blue


def _text(result: "ApplyResult") -> str:
    from negcurve.darkroom.cautions import DEFER

    size, film, tones = result.size, result.film, result.tones
    sides = "mirrored" if result.mirrored else "not mirrored"
    kept = "resampled" if result.resampled else "pixel for pixel"
    ink = "" if result.ink == "0,0,0" else f" RGB, full ink {result.ink}"
    picture = f", the picture {_inches(size)}" if result.border_px else ""
    lines = [
        f"{result.output}: {film.width_px} x {film.height_px} pixels, {result.bits} "
        f"bits{ink}, {sides}, {kept}, through table {result.table}",
        f"prints {_inches(film)} at {size.resolution_ppi:g} ppi{picture}: set the "
        "driver to 100 %, no scaling",
        f"image tones {tones.tone_low:.3f}..{tones.tone_high:.3f}, negative levels "
        f"{result.negative_low:.3f}..{result.negative_high:.3f}",
        f"pixels at black {_percent(tones.share_black)}, at white "
        f"{_percent(tones.share_white)}" + _near_ends(result),
    ]
    if result.border_px:
        mm = 25.4 / size.resolution_ppi
        border = f"with a border of {result.border_px * mm:.1f} mm on each side"
        if result.strip:
            border += (
                f", {result.bottom_px * mm:.1f} mm below with strip "
                f"{result.strip.identity_text}"
            )
        lines.insert(2, border)
    if result.layout_file is not None:
        lines.append(f"{result.layout_file}: keep it, the strip is read with it")
    if result.proof is not None:
        lines.append(f"{result.proof}: how the print should look, and uncorrected")
    known = "; ".join(f"{key} {text}" for key, text in result.notes.items())
    lines.append(f"expose as the target: {known or 'its conditions were not noted'}")
    if result.unknown:
        lines.append(f"not known: {', '.join(result.unknown)}")
    lines += [f"{each.subject}: {each.care}" for each in result.cautions]
    lines.append(DEFER)
    return "\n".join(lines)


def _inches(size: "Size") -> str:
    """Write a printed size in both units."""
    return (
        f"{size.width_mm:.1f} x {size.height_mm:.1f} mm "
        f"({size.width_mm / 25.4:.2f} x {size.height_mm / 25.4:.2f} in)"
    )


def _near_ends(result: "ApplyResult") -> str:
    first, last = result.tones.share_first, result.tones.share_last
    if first != first:  # without a response there are no ends
        return ""
    return f"; within 1 L* of the print's black {_percent(first)}, of its white " + (
        _percent(last)
    )


def _percent(share: float) -> str:
    return f"{100 * share:.2f} %"


def _plain(result: "ApplyResult") -> dict[str, Any]:
    size, tones = result.size, result.tones
    return {
        "output": result.output,
        "proof": result.proof,
        "width_px": size.width_px,
        "height_px": size.height_px,
        "border_px": result.border_px,
        "bottom_px": result.bottom_px,
        "strip": result.strip.identity_text if result.strip else None,
        "layout": result.layout_file,
        "width_mm": size.width_mm,
        "height_mm": size.height_mm,
        "film_width_px": result.film.width_px,
        "film_height_px": result.film.height_px,
        "film_width_mm": result.film.width_mm,
        "film_height_mm": result.film.height_mm,
        "resolution_ppi": size.resolution_ppi,
        "bits": result.bits,
        "ink": result.ink,
        "mirrored": result.mirrored,
        "resampled": result.resampled,
        "encoding": result.encoding,
        "table": result.table,
        "image_tone_range": [tones.tone_low, tones.tone_high],
        "negative_level_range": [result.negative_low, result.negative_high],
        "share_black": tones.share_black,
        "share_white": tones.share_white,
        "share_within_1_of_print_black": tones.share_first,
        "share_within_1_of_print_white": tones.share_last,
        "counted_pixels": tones.counted_pixels,
        "density_edges": tones.density_edges,
        "density_counts": tones.density_counts,
        "notes": result.notes,
        "unknown": result.unknown,
        "cautions": [each.as_plain() for each in result.cautions],
    }
