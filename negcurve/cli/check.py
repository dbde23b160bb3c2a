"""`negcurve check`: how far a print is from its aim."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from negcurve.cli.maps import field_map
from negcurve.cli.options import Json, Overwrite, Quiet, Verbose
from negcurve.cli.output import print_result, progress_bar, set_voice

if TYPE_CHECKING:
    from negcurve.response.verdict import Check
    from negcurve.tasks.check import CheckResult

SHOWN = 11
"""Tones shown in the text; the CSV has them all."""


def check_command(
    readings: Annotated[
        list[Path], typer.Argument(help="Readings of one print made through the table.")
    ],
    table: Annotated[
        Path, typer.Option(help="The solution that it was printed through.")
    ],
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", help="CSV of the errors, tone by tone."),
    ] = None,
    plot: Annotated[
        Path | None, typer.Option(help="PNG or SVG of print, aim and error.")
    ] = None,
    sheet_error: Annotated[
        float | None,
        typer.Option(
            help="Spread from print to print in density; the solution's by default.",
            show_default=False,
        ),
    ] = None,
    overwrite: Overwrite = False,
    as_json: Json = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Tell how far a print is from its aim, and whether the difference is real.

    Examples:

    \b
      negcurve check second.csv --table table.json
      negcurve check second.csv --table table.json --plot check.png -o check.csv
      negcurve check second.csv --table table.json --sheet-error 0.02

    The verdict is accept, refine, or look for a cause. The exit code is 0
    whatever it is.
    """
    set_voice(quiet=quiet, verbose=verbose)
    from negcurve.tasks.check import CheckOptions, check

    options = CheckOptions(
        readings=readings,
        table=table,
        output=output,
        plot=plot,
        sheet_error=sheet_error,
        overwrite=overwrite,
    )
    with progress_bar() as progress:
        result = check(options, progress=progress)
    print_result(
        "check",
        text=_text(result),
        result=_plain(result),
        findings=result.findings,
        as_json=as_json,
    )


def _text(result: "CheckResult") -> str:
    check = result.check
    verified = "" if check.sheet_error_verified else " (common practice, unverified)"
    lines = [
        f"print {check.sheet} against table {result.solution.table.identity}, "
        f"{len(check.image_tone)} tones",
        f"error  {check.rms:.2f} L* rms, 95 % within {check.percentile_95:.2f}, worst "
        f"{check.worst:+z.2f} L*; {check.density_rms:.3f} D rms",
        f"mean   {check.offset:+z.3f} D; a new sheet alone explains "
        f"+-{1.645 * check.offset_error:.3f} D{verified}",
        "",
        " tone   aim L*  print L*  error L*   aim D  print D  error D",
        *_rows(check),
        "",
        *([] if check.unevenness is None else [*field_map(check.unevenness), ""]),
        f"verdict: {check.verdict}. {check.advice}",
    ]
    if result.output:
        lines.append(f"wrote {result.output}")
    if result.plot:
        lines.append(f"wrote {result.plot}")
    return "\n".join(lines)


def _rows(check: "Check") -> list[str]:
    count = len(check.image_tone)
    places = sorted({round(k * (count - 1) / (SHOWN - 1)) for k in range(SHOWN)})
    return [
        f"{check.image_tone[k]:5.3f}  {check.aim_lightness[k]:7.1f}  "
        f"{check.printed_lightness[k]:8.1f}  {check.lightness_error[k]:+z8.1f}  "
        f"{check.aim_density[k]:6.2f}  {check.printed_density[k]:7.2f}  "
        f"{check.density_error[k]:+z7.3f}"
        for k in places
    ]


def _plain(result: "CheckResult") -> dict[str, Any]:
    check = result.check
    field = check.unevenness
    return {
        "output": result.output,
        "plot": result.plot,
        "sheet": check.sheet,
        "table": result.solution.table.identity,
        "verdict": check.verdict,
        "advice": check.advice,
        "real": check.real,
        "chi_square": check.chi_square,
        "sheet_error": check.sheet_error,
        "sheet_error_verified": check.sheet_error_verified,
        "lightness": {
            "rms": check.rms,
            "percentile_95": check.percentile_95,
            "worst": check.worst,
        },
        "density": {"rms": check.density_rms, "mean": check.offset},
        "tones": {
            "image_tone": check.image_tone,
            "aim_lightness": check.aim_lightness,
            "printed_lightness": check.printed_lightness,
            "aim_density": check.aim_density,
            "printed_density": check.printed_density,
            "standard_error": check.standard_error,
        },
        "unevenness": None
        if field is None
        else {
            "x_mm": field.x_mm,
            "y_mm": field.y_mm,
            "at_mid_tone": field.at_mid_tone,
        },
    }
