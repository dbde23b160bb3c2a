"""Film data from prints that carry a step tablet."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.files.film_json import write_film
from negcurve.files.readings_csv import read_readings
from negcurve.files.safe import check_outputs
from negcurve.plots.film_plot import film_figure
from negcurve.plots.style import save_figure
from negcurve.readings import Readings
from negcurve.response.film import CONDITIONS, FilmData
from negcurve.response.solution import Solution
from negcurve.response.solving import solve
from negcurve.tasks.inks import InksResult, rank_print
from negcurve.values import Finding, Progress, no_progress


@dataclass(frozen=True, eq=False, kw_only=True)
class FilmOptions:
    """What `film` takes.

    Attributes
    ----------
    readings : sequence of path
        Readings of prints of one target, one of them at least with a step tablet; or
        of one sheet of ink mixtures.
    output : path, optional
        The film data, JSON, or the ranked mixtures, CSV; nothing is written without it.
    film : path, optional
        Film data of black ink, by which mixtures get printing densities.
    notes : mapping of str to str
        What the data hold for: film, ink, lamp, sensitizer, glass, interleaf.
    plot : path, optional
        PNG or SVG of film and paper.
    overwrite : bool
        Replace output files that exist.
    """

    readings: Sequence[Path | str]
    output: Path | str | None = None
    film: Path | str | None = None
    notes: Mapping[str, str] = field(default_factory=dict)
    plot: Path | str | None = None
    overwrite: bool = False


@dataclass(frozen=True, eq=False, kw_only=True)
class FilmResult:
    """What came of it.

    Attributes
    ----------
    film : FilmData
    solution : Solution
        Of the same prints, with the paper's characteristic curve.
    output, plot : path or None
        Files that were written.
    findings : tuple of Finding
    """

    film: FilmData
    solution: Solution
    output: Path | None
    plot: Path | None
    findings: tuple[Finding, ...]


def film(
    options: FilmOptions, *, progress: Progress = no_progress
) -> FilmResult | InksResult:
    """Measure film and write its data, or rank ink mixtures.

    Parameters
    ----------
    options : FilmOptions
    progress : Progress

    Returns
    -------
    FilmResult, or InksResult for a sheet of mixtures

    Raises
    ------
    ReadingsError
        If no print carries a usable step tablet.
    NegcurveError
        If inputs cannot be used or outputs cannot be written.
    """
    outputs = [each for each in (options.output, options.plot) if each is not None]
    found = check_outputs(outputs, overwrite=options.overwrite, inputs=_inputs(options))
    progress("reading", 0.0)
    readings = [read_readings(path) for path in options.readings]
    if any(each.has_mixtures for each in readings):
        return _ranked(options, readings)
    if options.film is not None:
        raise InvalidValueError(
            "known film data help to rank ink mixtures, not to measure film",
            where="film",
            fix="Leave it out, or name the readings of a sheet of mixtures.",
        )
    progress("telling film from paper", 0.3)
    solution = solve(readings)
    if solution.film is None:
        raise ReadingsError(
            "no print carries a step tablet that can be used",
            where=", ".join(str(path) for path in options.readings),
            fix="Lay a step tablet in the target's window during the exposure, and "
            "read the print with --tablet 31x0.10.",
        )
    data = replace(solution.film, notes=dict(options.notes))
    progress("writing", 0.8)
    if options.plot is not None:
        figure = film_figure(data, solution.paper, solution.readings)
        save_figure(figure, options.plot, overwrite=options.overwrite)
    if options.output is not None:
        write_film(data, options.output, overwrite=options.overwrite)
    return FilmResult(
        film=data,
        solution=solution,
        output=None if options.output is None else Path(options.output),
        plot=None if options.plot is None else Path(options.plot),
        findings=(*found, *_about_film(solution), *_unknown(options.notes)),
    )


def _inputs(options: FilmOptions) -> list[Path | str]:
    return [*options.readings, *([] if options.film is None else [options.film])]


def _ranked(options: FilmOptions, readings: Sequence[Readings]) -> InksResult:
    if len(readings) > 1:
        raise InvalidValueError(
            f"{len(readings)} prints were named, one of them of ink mixtures",
            where="readings",
            fix="Rank one print of mixtures at a time.",
        )
    if options.plot is not None:
        raise InvalidValueError(
            "is not drawn for ink mixtures",
            where="plot",
            fix="Leave it out; -o NAME.csv writes the list.",
        )
    return rank_print(
        readings[0],
        film=options.film,
        output=options.output,
        overwrite=options.overwrite,
    )


def _about_film(solution: Solution) -> tuple[Finding, ...]:
    """Keep what matters to the film; ends and bands are the table's."""
    apart = ("black", "white", "band")
    return tuple(each for each in solution.findings if each.where not in apart)


def _unknown(notes: Mapping[str, str]) -> tuple[Finding, ...]:
    missing = [key for key in CONDITIONS if not notes.get(key)]
    if not missing:
        return ()
    return (
        Finding(
            severity="note",
            where="film",
            what=f"not known with these data: {', '.join(missing)}",
            fix="State them, as --note lamp='LED 395 nm': film data hold for one "
            "lamp and one sensitizer family.",
        ),
    )
