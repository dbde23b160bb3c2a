"""Solve readings to a table, or repeat an old solution with more."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.files.aim_csv import read_aim
from negcurve.files.readings_csv import read_readings
from negcurve.files.safe import check_outputs, check_suffix
from negcurve.files.solution_json import read_solution, write_solution
from negcurve.plots.response_plot import response_figure
from negcurve.plots.style import save_figure
from negcurve.readings import Readings
from negcurve.response.aim import AIMS, Aim
from negcurve.response.film import FilmData, check_conditions
from negcurve.response.solution import Solution, measured_aim
from negcurve.response.solving import solve as solve_readings
from negcurve.response.solving import solve_again
from negcurve.response.transfer import is_predicted, predict_again
from negcurve.tasks.solve_film import check_stops, known_film, predicted
from negcurve.values import Finding, Progress, no_progress


@dataclass(frozen=True, eq=False, kw_only=True)
class SolveOptions:
    """What `solve` takes.

    Attributes
    ----------
    readings : sequence of path
        Readings files, the newest last; one old solution may stand among them, whose
        readings, options and notes are then used again.
    output : path, optional
        The solution; nothing is written without it.
    aim : str, optional
        `lightness` (by default), `density`, `luminance`, or an aim CSV.
    black_share : float, optional
        Share of the density range that black asks for; 0.98 by default. [1]
    match : path, optional
        Another solution: match what its table prints.
    scale_aim : bool, optional
        Stretch the CSV's or the matched tones to this print's own ends.
    sheet_error : float, optional
        Spread from print to print, standard deviation. [D]
    follow_newest : bool, optional
        The newest sheet differs for good: let the table follow it.
    notes : mapping of str to str
        What the table holds for.
    film : path, optional
        Film data: exposures are then in stops; with `tablet` a table for a new paper
        is predicted.
    film_range : float, optional
        Printing density of full ink, typed instead: stops are marked as assumed. [D]
    tablet, turned : sequence of path
        Readings of strips of a tablet on a new paper, in place of `readings`; those
        in `turned` lay beside the others head to tail.
    fall : float, optional
        Share of the light lost along a strip, from its clear to its dense end. [1]
    stops : float, optional
        Predict the table for so much more exposure. [stops]
    process : str, optional
        Word of the process; one that prints out carries one stop at most.
    force : bool
        Use film data of another lamp or sensitizer.
    plot : path, optional
        PNG or SVG of response, aim and table.
    overwrite : bool
        Replace output files that exist.
    """

    readings: Sequence[Path | str]
    output: Path | str | None = None
    aim: str | None = None
    black_share: float | None = None
    match: Path | str | None = None
    scale_aim: bool | None = None
    sheet_error: float | None = None
    follow_newest: bool | None = None
    notes: Mapping[str, str] = field(default_factory=dict)
    film: Path | str | None = None
    film_range: float | None = None
    tablet: Sequence[Path | str] = ()
    turned: Sequence[Path | str] = ()
    fall: float | None = None
    stops: float | None = None
    process: str | None = None
    force: bool = False
    plot: Path | str | None = None
    overwrite: bool = False


@dataclass(frozen=True, eq=False, kw_only=True)
class SolveResult:
    """What came of it.

    Attributes
    ----------
    solution : Solution
    output, plot : path or None
        Files that were written.
    findings : tuple of Finding
    """

    solution: Solution
    output: Path | None
    plot: Path | None
    findings: tuple[Finding, ...]


def solve(options: SolveOptions, *, progress: Progress = no_progress) -> SolveResult:
    """Solve readings files and write solution and plot.

    Parameters
    ----------
    options : SolveOptions
    progress : Progress

    Returns
    -------
    SolveResult

    Raises
    ------
    NegcurveError
        If inputs cannot be used or outputs cannot be written.
    """
    if options.output is not None:
        check_suffix(options.output, ".json", kind="solution")
    outputs = [each for each in (options.output, options.plot) if each is not None]
    found = check_outputs(outputs, overwrite=options.overwrite, inputs=_inputs(options))
    progress("reading", 0.0)
    found += check_stops(options.stops or 0.0, options.process)
    progress("solving", 0.2)
    solution, about = _solution(options)
    found += about
    progress("writing", 0.8)
    if options.plot is not None:
        figure = response_figure(solution)
        save_figure(figure, options.plot, overwrite=options.overwrite)
    if options.output is not None:
        write_solution(solution, options.output, overwrite=options.overwrite)
    return SolveResult(
        solution=solution,
        output=None if options.output is None else Path(options.output),
        plot=None if options.plot is None else Path(options.plot),
        findings=(*found, *solution.findings),
    )


def _inputs(options: SolveOptions) -> list[Path | str]:
    named = [options.match] if options.match is not None else []
    if options.aim is not None and options.aim not in AIMS:
        named.append(options.aim)
    named += [options.film] if options.film is not None else []
    return [*options.readings, *options.tablet, *options.turned, *named]


def _solution(options: SolveOptions) -> tuple[Solution, tuple[Finding, ...]]:
    """Solve, repeat, or predict, by what was named."""
    film = known_film(options.film, options.film_range)
    if options.tablet:
        return _from_strips(options, film)
    if options.turned or options.fall is not None:
        raise InvalidValueError(
            "strips are described, but none is named",
            where="--turned, --fall",
            fix="Name the strip with --tablet.",
        )
    old, readings = _given(options.readings)
    if options.match is not None:
        before = () if old is None else old.readings
        _check_match(options.match, [*before, *readings])
    about: tuple[Finding, ...] = ()
    if film is not None:
        about = check_conditions(film, options.notes, force=options.force)
    return _solved(options, old, readings, film), about


def _check_match(match: Path | str, readings: Sequence[Readings]) -> None:
    """Refuse to match prints whose densities are of another kind, or above paper."""
    theirs, ours = (
        {
            f"{each.density_kind} density"
            + (" above paper" if each.density_zero == "paper" else "")
            for each in one
        }
        for one in (read_solution(match).readings, readings)
    )
    if ours and theirs and ours != theirs:
        raise ReadingsError(
            f"was solved from {', '.join(sorted(theirs))}, the readings are of "
            f"{', '.join(sorted(ours))}",
            where=str(match),
            fix="Read both prints the same way.",
        )


def _from_strips(
    options: SolveOptions, film: FilmData | None
) -> tuple[Solution, tuple[Finding, ...]]:
    if options.readings or film is None:
        what = (
            "readings of a target and strips are both named"
            if options.readings
            else "a strip alone gives no table without film data"
        )
        raise InvalidValueError(
            what, where="--tablet", fix="Write solve --film FILM.json --tablet R.csv."
        )
    chosen = {
        **_shared(options),
        "fall": options.fall,
        "stops": options.stops,
    }
    given = {key: value for key, value in chosen.items() if value is not None}
    return predicted(film, options.tablet, options.turned, given, force=options.force)


def _given(paths: Sequence[Path | str]) -> tuple[Solution | None, list[Readings]]:
    """Read what was named; solutions are told from readings by their ending."""
    if not paths:
        raise InvalidValueError(
            "no readings named",
            where="readings",
            fix="Name what `negcurve read` wrote: negcurve solve R.csv -o T.json.",
        )
    solutions = [path for path in paths if Path(path).suffix.lower() == ".json"]
    if len(solutions) > 1:
        raise InvalidValueError(
            f"{len(solutions)} old solutions named",
            where=", ".join(map(str, solutions)),
            fix="Name one; it holds its own readings.",
        )
    readings = [read_readings(path) for path in paths if path not in solutions]
    return (read_solution(solutions[0]) if solutions else None), readings


def _solved(
    options: SolveOptions,
    old: Solution | None,
    readings: Sequence[Readings],
    film: FilmData | None,
) -> Solution:
    chosen = {
        **_shared(options),
        "follow_newest": options.follow_newest,
        "film": film,
        "stops": options.stops,
    }
    given = {key: value for key, value in chosen.items() if value is not None}
    if old is not None and is_predicted(old):
        if readings:
            raise InvalidValueError(
                "a prediction and readings are both named",
                where="readings",
                fix="Solve the readings alone: what was printed replaces what was "
                "predicted.",
            )
        for name in ("film", "follow_newest"):
            given.pop(name, None)
        return predict_again(old, **given)
    if old is not None:
        return solve_again(old, readings, **given)
    return solve_readings(readings, **given)


def _shared(options: SolveOptions) -> dict[str, Any]:
    return {
        "aim": _aim(options),
        "black_share": options.black_share,
        "scale_aim": options.scale_aim,
        "sheet_error": options.sheet_error,
        "notes": options.notes,
    }


def _aim(options: SolveOptions) -> str | Aim | None:
    if options.match is not None:
        if options.aim is not None:
            raise InvalidValueError(
                "an aim and a solution to match are both given",
                where=str(options.match),
                fix="Leave out one of them.",
            )
        return measured_aim(
            read_solution(options.match), name=f"match {Path(options.match).name}"
        )
    if options.aim is None or options.aim in AIMS:
        return options.aim
    if not Path(options.aim).exists():
        raise InvalidValueError(
            f"{options.aim!r} is neither an aim that is known nor a file",
            where="aim",
            fix=f"Write {', '.join(AIMS)}, or name a CSV with image_tone,density or "
            "image_tone,lightness.",
        )
    return read_aim(options.aim)
