"""`negcurve film`: printing density of the negative's levels."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from negcurve.cli.inks_text import print_inks
from negcurve.cli.options import Json, Overwrite, Quiet, Verbose
from negcurve.cli.output import print_result, progress_bar, set_voice

if TYPE_CHECKING:
    from negcurve.response.film import FilmData
    from negcurve.tasks.film import FilmResult


def film_command(
    readings: Annotated[
        list[Path],
        typer.Argument(
            help="Readings of prints, one with the steps of a tablet; or of a sheet of "
            "ink mixtures."
        ),
    ],
    output: Annotated[
        Path | None,
        typer.Option(
            "--output",
            "-o",
            help="The film data, JSON, or ranked mixtures, CSV; else only shown.",
        ),
    ] = None,
    film_data: Annotated[
        Path | None,
        typer.Option(
            "--film", help="Film data of black ink, to rank mixtures by their greys."
        ),
    ] = None,
    note: Annotated[
        list[str] | None,
        typer.Option(
            help="What they hold for: film=, ink=, lamp=, sensitizer=, glass=, "
            "interleaf=."
        ),
    ] = None,
    plot: Annotated[
        Path | None, typer.Option(help="PNG or SVG of film and paper.")
    ] = None,
    overwrite: Overwrite = False,
    as_json: Json = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Measure the printing density of film and ink, apart from the paper.

    Examples:

    \b
      negcurve read scan.tif -o r.csv --tablet 31x0.10
      negcurve film r.csv -o film.json --plot film.png
      negcurve film r.csv -o film.json --note lamp="LED 395 nm" --note ink=black
      negcurve solve --film film.json --tablet strip.csv -o new-paper.json
      negcurve film mixtures.csv -o ranked.csv

    A step tablet must have lain in the target's window during the exposure. The
    data hold for one printer path, film, ink, lamp and sensitizer family, on any
    paper.

    Of a sheet of ink mixtures (`negcurve target --mixtures`) it tells which holds
    back most UV for the least ink.
    """
    set_voice(quiet=quiet, verbose=verbose)
    from negcurve.tasks.film import FilmOptions, film
    from negcurve.tasks.inks import InksResult
    from negcurve.tasks.typed import named_texts

    options = FilmOptions(
        readings=readings,
        output=output,
        film=film_data,
        notes=named_texts(note, where="--note"),
        plot=plot,
        overwrite=overwrite,
    )
    with progress_bar() as progress:
        result = film(options, progress=progress)
    if isinstance(result, InksResult):
        print_inks(result, as_json=as_json)
        return
    print_result(
        "film",
        text=_text(result),
        result=_plain(result),
        findings=result.findings,
        as_json=as_json,
    )


LEVELS = (0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0)


def _text(result: "FilmResult") -> str:
    film, paper = result.film, result.solution.paper
    lines = [
        f"film from {film.source}: printing density 0 to {film.density_range:.2f} "
        "above clear film",
        "level  printing density",
        *(_row(film, level) for level in LEVELS if level >= film.level_nodes[0]),
        _base(film),
        _least(film),
    ]
    if paper is not None:
        lines.append(
            f"paper: D {paper.density(paper.measured[0]):.2f} to "
            f"{paper.density(0.0):.2f} through clear film"
        )
    lines += [
        f"print {each.sheet}: {each.stops:+z.2f} +-{each.standard_error:.2f} stop "
        f"against print {each.against}"
        for each in result.solution.exposures
    ]
    lines += [f"{key}: {value}" for key, value in film.notes.items()]
    lines += [f"wrote {each}" for each in (result.output, result.plot) if each]
    kept = result.output or "film.json"
    lines.append(
        f"next, for another paper: negcurve solve --film {kept} --tablet STRIP.csv "
        "-o TABLE.json"
    )
    return "\n".join(lines)


def _row(film: "FilmData", level: float) -> str:
    told = "" if level >= film.measured_from else "  continued, not measured"
    return (
        f"{level:5.2f}  {float(film.density(level)):6.3f} "
        f"+-{float(film.standard_error(level)):.3f}{told}"
    )


def _base(film: "FilmData") -> str:
    if film.base == film.base:
        return f"clear film itself: D {film.base:.2f} +-{film.base_error:.2f}"
    return "clear film itself: not known, as it lay over the tablet"


def _least(film: "FilmData") -> str:
    if film.least_ink_level == film.least_ink_level:
        return (
            f"below level {film.least_ink_level:.3f} more ink gains nothing on this "
            "paper: it prints within 0.01 D of D-min"
        )
    return "no level prints within 0.01 D of D-min on this paper"


def _plain(result: "FilmResult") -> dict[str, Any]:
    paper = result.solution.paper
    return {
        "output": result.output,
        "plot": result.plot,
        "film": result.film.document(),
        "paper": None
        if paper is None
        else {
            "log_exposure": paper.log_exposure_nodes,
            "density": paper.density_nodes,
            "standard_error": paper.error_nodes,
            "measured": paper.measured,
        },
    }
