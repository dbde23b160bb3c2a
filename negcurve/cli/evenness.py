"""`negcurve evenness`: lamp or coating, and which fault of either."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from negcurve.cli.options import (
    Json,
    Overwrite,
    Quiet,
    ScanGamma,
    ScannerProfile,
    Verbose,
)
from negcurve.cli.output import print_result, progress_bar, set_voice

if TYPE_CHECKING:
    from negcurve.tasks.evenness import EvennessResult


def evenness_command(
    sheets: Annotated[
        list[Path],
        typer.Argument(
            help="Readings or scan of a sheet; a second one, turned by 180 degrees."
        ),
    ],
    table: Annotated[
        Path | None, typer.Option(help="Solution, for a target of many tones.")
    ] = None,
    sheet: Annotated[
        str, typer.Option(help="Size, as 11x14in, if the readings do not show it.")
    ] = "",
    profile: ScannerProfile = None,
    gamma: ScanGamma = None,
    plot: Annotated[Path | None, typer.Option(help="PNG or SVG of the map.")] = None,
    overwrite: Overwrite = False,
    as_json: Json = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Find what makes a print uneven: lamp or coating, and which fault of either.

    Examples:

    \b
      negcurve evenness grey.tif --plot map.png
      negcurve evenness grey16.tif --gamma 1.0
      negcurve evenness first.csv turned.csv --plot map.png
      negcurve evenness target.csv --table table.json

    A sheet exposed evenly to a mid-grey (D 0.6 to 0.9) shows most. Of two files
    the second is the sheet that lay under the lamp turned by 180 degrees.
    """
    set_voice(quiet=quiet, verbose=verbose)
    from negcurve.tasks.evenness import EvennessOptions, evenness

    options = EvennessOptions(
        sheets=sheets,
        table=table,
        sheet_size=sheet,
        profile=profile,
        gamma=gamma,
        plot=plot,
        overwrite=overwrite,
    )
    with progress_bar() as progress:
        result = evenness(options, progress=progress)
    print_result(
        "evenness",
        text=_text(result),
        result=_plain(result),
        findings=result.findings,
        as_json=as_json,
    )


def _text(result: "EvennessResult") -> str:
    study = result.study
    count = len(study.sheets)
    lines = [
        f"{count} {'sheet' if count == 1 else 'sheets'} of "
        f"{study.sheets[0].width_mm:.0f} x {study.sheets[0].height_mm:.0f} mm: "
        f"{study.spread:.3f} D from the lightest to the darkest twentieth, noise "
        f"{study.noise:.3f} D",
        f"tilt {study.tilt[0]:+z.3f} D from left to right, "
        f"{study.tilt[1]:+z.3f} D from top to bottom",
    ]
    if study.lamp_tilt and study.coating_tilt:
        lines.append(
            f"of it the lamp {study.lamp_tilt[0]:+z.3f} and "
            f"{study.lamp_tilt[1]:+z.3f} D, the coating "
            f"{study.coating_tilt[0]:+z.3f} and {study.coating_tilt[1]:+z.3f} D"
        )
    if result.plot:
        lines.append(f"wrote {result.plot}")
    return "\n".join(lines)


def _plain(result: "EvennessResult") -> dict[str, Any]:
    study = result.study
    return {
        "plot": result.plot,
        "spread": study.spread,
        "noise": study.noise,
        "tilt": study.tilt,
        "lamp_tilt": study.lamp_tilt,
        "coating_tilt": study.coating_tilt,
        "not_told": study.not_told,
        "causes": [
            {
                "mark": cause.mark,
                "origin": cause.origin,
                "size": cause.size,
                "standard_error": cause.error,
                "gain": cause.gain,
                "axis": cause.shape.axis if cause.shape else None,
                "center_mm": cause.shape.center_mm if cause.shape else None,
                "height_mm": cause.shape.height_mm if cause.shape else None,
            }
            for cause in study.causes
        ],
        "maps": [
            {"x_mm": each.x_mm, "y_mm": each.y_mm, "density": each.density}
            for each in study.maps
        ],
    }
