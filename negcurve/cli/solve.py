"""`negcurve solve`: readings to a lookup table."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from negcurve.cli.maps import field_map
from negcurve.cli.options import Json, Overwrite, Quiet, Verbose
from negcurve.cli.output import print_result, progress_bar, set_voice

if TYPE_CHECKING:
    from negcurve.response.solution import Solution
    from negcurve.tasks.solve import SolveResult


def solve_command(
    readings: Annotated[
        list[Path] | None,
        typer.Argument(
            help="Readings, newest last; an old solution to add them to.",
            show_default=False,
        ),
    ] = None,
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", help="The solution, JSON; else only shown."),
    ] = None,
    aim: Annotated[
        str | None,
        typer.Option(
            help="lightness (default), density, luminance, or a CSV.",
            show_default=False,
        ),
    ] = None,
    black_share: Annotated[
        float | None,
        typer.Option(
            help="Share of the density range for black; 0.98 by default.",
            show_default=False,
        ),
    ] = None,
    match: Annotated[
        Path | None,
        typer.Option(help="Match what the table of this solution prints."),
    ] = None,
    scale_aim: Annotated[
        bool | None,
        typer.Option(
            "--scale-aim/--no-scale-aim",
            help="Stretch the CSV or the match to this print's own ends.",
            show_default=False,
        ),
    ] = None,
    sheet_error: Annotated[
        float | None,
        typer.Option(
            help="Spread from print to print in density; 0.03, unverified, by default.",
            show_default=False,
        ),
    ] = None,
    follow_newest: Annotated[
        bool | None,
        typer.Option(
            "--follow-newest/--pool",
            help="The newest print differs for good, the table follows it.",
            show_default=False,
        ),
    ] = None,
    note: Annotated[
        list[str] | None,
        typer.Option(help="What the table holds for, as exposure='6 min 20 s'."),
    ] = None,
    film: Annotated[
        Path | None, typer.Option(help="Film data that negcurve film wrote.")
    ] = None,
    film_range: Annotated[
        float | None,
        typer.Option(
            help="Printing density of full ink, where it was never measured; stops "
            "are then marked as assumed."
        ),
    ] = None,
    tablet: Annotated[
        list[Path] | None,
        typer.Option(
            help="Tablet strip on a new paper, readings or a list tablet_density,"
            "density: predict its table.",
            show_default=False,
        ),
    ] = None,
    turned: Annotated[
        list[Path] | None,
        typer.Option(
            help="A strip that lay beside it head to tail.", show_default=False
        ),
    ] = None,
    fall: Annotated[
        str | None,
        typer.Option(help="Light lost along the strip to its dense end: 10%."),
    ] = None,
    stops: Annotated[
        float | None,
        typer.Option(help="Predict the table for so much more exposure: 0.3."),
    ] = None,
    process: Annotated[
        str | None, typer.Option(help="Process, as palladium or salt; for --stops.")
    ] = None,
    force: Annotated[
        bool,
        typer.Option("--force", help="Use film data of another lamp or sensitizer."),
    ] = False,
    plot: Annotated[
        Path | None, typer.Option(help="PNG or SVG of response, aim and table.")
    ] = None,
    overwrite: Overwrite = False,
    as_json: Json = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Make the lookup table from readings of a printed target.

    Examples:

    \b
      negcurve solve readings.csv -o table.json --plot table.png
      negcurve solve readings.csv -o table.json --note exposure="6 min 20 s"
      negcurve solve table.json second.csv -o better.json
      negcurve solve paper-b.csv -o b.json --match paper-a.json --scale-aim
      negcurve solve --film film.json --tablet one.csv --turned two.csv -o n.json
      negcurve solve with-tablet.csv -o longer.json --stops 0.3

    Several prints are pooled, each with its own offset and exposure. An old
    solution brings its own readings, options and notes; options given here
    replace them.
    """
    set_voice(quiet=quiet, verbose=verbose)
    from negcurve.tasks.solve import SolveOptions, solve

    options = SolveOptions(
        readings=readings or [],
        output=output,
        aim=aim,
        black_share=black_share,
        match=match,
        scale_aim=scale_aim,
        sheet_error=sheet_error,
        follow_newest=follow_newest,
        notes=_notes(note or []),
        film=film,
        film_range=film_range,
        tablet=tablet or (),
        turned=turned or (),
        fall=_share(fall),
        stops=stops,
        process=process,
        force=force,
        plot=plot,
        overwrite=overwrite,
    )
    with progress_bar() as progress:
        result = solve(options, progress=progress)
    print_result(
        "solve",
        text=_text(result),
        result=_plain(result),
        findings=result.findings,
        as_json=as_json,
    )


def _notes(given: list[str]) -> dict[str, str]:
    notes = {}
    for each in given:
        key, sign, value = each.partition("=")
        if not sign or not key.strip() or not value.strip():
            raise typer.BadParameter(
                f"{each!r} is not key=value, as exposure='6 min 20 s'",
                param_hint="--note",
            )
        notes[key.strip()] = value.strip()
    return notes


def _share(text: str | None) -> float | None:
    if text is None:
        return None
    try:
        number = float(text.strip().removesuffix("%"))
    except ValueError:
        raise typer.BadParameter(
            f"{text!r} is no share, as 10%", param_hint="--fall"
        ) from None
    return number / 100 if text.strip().endswith("%") else number


def _text(result: "SolveResult") -> str:
    solution = result.solution
    ends, response = solution.ends, solution.response
    low, high = response.domain
    count = sum(map(len, solution.readings))
    sheets = len(dict.fromkeys(each.sheet for each in solution.readings))
    error = float(response.error_nodes.mean())
    following = float(response.next_print_error(response.level_nodes).mean())
    lines = [
        f"table {solution.table.identity} {_made(result)} {count} readings of {sheets} "
        f"{'print' if sheets == 1 else 'prints'}, aim {solution.aim.name}",
        f"black  {_tone(solution, ends.black_density, ends.black_lightness)}  at level "
        f"{ends.black_level:.3f} ({100 * ends.black_share:.0f} % of D-min "
        f"{ends.d_min:.2f} to D-max {ends.d_max:.2f})",
        f"white  {_tone(solution, ends.white_density, ends.white_lightness)}  at level "
        f"{ends.white_level:.3f}",
        f"response measured and rising from level {low:.3f} to {high:.3f}",
        f"noise of one reading {solution.noise:.3f} D; 90 % band +-{1.645 * error:.3f} "
        f"D of the response, +-{1.645 * following:.3f} D of the next print",
        *_sheets(result),
        *_film_lines(result),
        *(
            line
            for each in solution.unevenness
            for line in field_map(each, stops=solution.exposure_stops(each))
        ),
        *(f"{key}: {value}" for key, value in solution.notes.items()),
    ]
    if result.output:
        lines.append(f"wrote {result.output}")
    if result.plot:
        lines.append(f"wrote {result.plot}")
    lines.append(_next_step(result))
    return "\n".join(lines)


def _tone(solution: "Solution", density: float, lightness: float) -> str:
    """Return a density, and its L* where it is no mere channel's."""
    kind = solution.readings[0].density_kind if solution.readings else "luminance"
    if kind in ("luminance", "visual"):
        return f"D {density:.2f}  L* {lightness:4.1f}"
    return f"{kind} D {density:.2f}"


def _sheets(result: "SolveResult") -> list[str]:
    return [
        f"print {each.sheet}: offset {each.offset:+z.3f} +-{each.offset_error:.3f} D, "
        f"exposure as levels {each.exposure_level:+z.3f} "
        f"+-{each.exposure_level_error:.3f}"
        for each in result.solution.sheet_effects
    ]


def _made(result: "SolveResult") -> str:
    """Say whether patches were solved or a table predicted from tablet steps."""
    readings = result.solution.readings
    steps = readings and all(each.on_tablet.all() for each in readings)
    return "predicted from film data and" if steps else "from"


def _film_lines(result: "SolveResult") -> list[str]:
    """Say film, paper and stops; nothing where film is not known."""
    solution = result.solution
    film, paper = solution.film, solution.paper
    if film is None or paper is None:
        return []
    assumed = " (assumed)" if film.assumed else ""
    lines = [
        f"film: printing density 0 to {film.density_range:.2f}{assumed}, from "
        f"{film.source}",
        f"paper: D {paper.d_min:.2f} to {float(paper.density(0.0)):.2f} through clear "
        "film",
    ]
    return lines + [
        f"print {each.sheet}: exposure {each.stops:+z.2f} +-{each.standard_error:.2f} "
        f"stop against print {each.against}{assumed}"
        for each in solution.exposures
    ]


def _film_plain(result: "SolveResult") -> dict[str, Any]:
    film, paper = result.solution.film, result.solution.paper
    if film is None or paper is None:
        return {}
    return {
        "film": film.document(),
        "paper": {
            "log_exposure": paper.log_exposure_nodes,
            "density": paper.density_nodes,
            "standard_error": paper.error_nodes,
            "measured": paper.measured,
        },
        "exposures": [vars(each) for each in result.solution.exposures],
    }


def _next_step(result: "SolveResult") -> str:
    if not result.output:
        return "next: keep the table with -o table.json"
    if not result.solution.ends.black_reached:
        return (
            "next: black is not reached, so print the target again with more exposure"
        )
    return (
        f"next: negcurve target second.tif --table {result.output}, print and check; "
        f"or negcurve apply PICTURE -o NEGATIVE.tif --table {result.output}"
    )


def _plain(result: "SolveResult") -> dict[str, Any]:
    solution = result.solution
    ends, response = solution.ends, solution.response
    return {
        "output": result.output,
        "plot": result.plot,
        "table": {
            "identity": solution.table.identity,
            "image_tone": solution.table.tone_nodes,
            "negative_level": solution.table.level_nodes,
        },
        "aim": solution.aim.name,
        "ends": {
            "d_min": ends.d_min,
            "d_max": ends.d_max,
            "black_density": ends.black_density,
            "black_lightness": ends.black_lightness,
            "black_level": ends.black_level,
            "white_density": ends.white_density,
            "white_lightness": ends.white_lightness,
            "white_level": ends.white_level,
            "black_share": ends.black_share,
            "black_reached": ends.black_reached,
        },
        "domain": response.domain,
        "noise": solution.noise,
        "sheet_error": response.sheet_error,
        "response": {
            "negative_level": response.level_nodes,
            "density": response.density_nodes,
            "standard_error": response.error_nodes,
        },
        "sheets": [
            {
                "sheet": each.sheet,
                "offset": each.offset,
                "offset_error": each.offset_error,
                "exposure_level": each.exposure_level,
                "exposure_level_error": each.exposure_level_error,
            }
            for each in solution.sheet_effects
        ],
        "unevenness": [
            {
                "sheet": each.sheet,
                "x_mm": each.x_mm,
                "y_mm": each.y_mm,
                "exposure_level": each.exposure_level,
                "exposure_stops": solution.exposure_stops(each),
                "coating": each.coating,
                "at_mid_tone": each.at_mid_tone,
            }
            for each in solution.unevenness
        ],
        "notes": solution.notes,
        **_film_plain(result),
    }
