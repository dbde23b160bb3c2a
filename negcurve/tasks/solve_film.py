"""Film data for `solve`: known film, strips of a new paper, other exposures."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from negcurve.darkroom.processes import MASKING_STOPS, check_extrapolation, process
from negcurve.errors import FileError, InvalidValueError, ReadingsError
from negcurve.files.film_json import read_film
from negcurve.files.number_columns import column_names, read_columns
from negcurve.files.readings_csv import read_readings
from negcurve.readings import Readings
from negcurve.response.film import FilmData, assumed_film, check_conditions
from negcurve.response.solution import Solution
from negcurve.response.transfer import predict
from negcurve.tasks.read_options import is_scan
from negcurve.tasks.tablet_input import read_wet
from negcurve.values import Finding

MOST_STOPS = 1.15
"""More exposure than that leaves what tablet and film showed of the paper."""


def known_film(path: Path | str | None, film_range: float | None) -> FilmData | None:
    """Return the film that the user named or typed; None for neither.

    Raises
    ------
    InvalidValueError
        If both are given.
    FileError
        If the film data cannot be read.
    """
    if path is not None and film_range is not None:
        raise InvalidValueError(
            "film data and a film range are both given",
            where="film",
            fix="Leave out one of them; measured data are better.",
        )
    if film_range is not None:
        return assumed_film(film_range)
    return None if path is None else read_film(path)


def check_stops(stops: float, name: str | None) -> tuple[Finding, ...]:
    """Refuse changes of exposure that no test carries.

    Parameters
    ----------
    stops : float
        [stops]
    name : str or None
        Process, as `negcurve tablet --process` takes it.

    Returns
    -------
    tuple of Finding

    Raises
    ------
    ReadingsError
        If the process prints out and the change is over one stop, or if it leaves
        what was measured.
    """
    work = None if name is None else process(name)
    check_extrapolation(work, stops)
    if stops > MOST_STOPS:
        raise ReadingsError(
            f"{stops:+z.2f} stop lies beyond what the test shows of the paper",
            where="stops",
            fix=f"Stay below {MOST_STOPS:+z.2f} stop, or print a test nearer to that "
            "exposure.",
        )
    if work is None and abs(stops) > MASKING_STOPS:
        return (
            Finding(
                severity="warning",
                where="stops",
                what=f"{stops:+z.2f} stop is carried by a developed-out process only; "
                "one that prints out shields itself",
                fix="Name the process with --process.",
            ),
        )
    return ()


def predicted(
    film: FilmData,
    strips: Sequence[Path | str],
    turned: Sequence[Path | str],
    options: Mapping[str, Any],
    *,
    force: bool = False,
) -> tuple[Solution, tuple[Finding, ...]]:
    """Predict a table from strips; see `negcurve.response.transfer.predict`.

    Parameters
    ----------
    film : FilmData
    strips, turned : sequence of path
        Strips, and those that lay head to tail beside them: readings, or lists
        `tablet_density,density` of strips over clear film.
    options : mapping
        Further arguments of `predict`.
    force : bool
        Use the film data although lamp or sensitizer differ.

    Returns
    -------
    Solution, tuple of Finding
    """
    if film.assumed:
        raise InvalidValueError(
            "a table for a new paper needs measured film, not a range",
            where="--film-range",
            fix="Measure the film once with negcurve film, then give --film.",
        )
    found = check_conditions(film, options.get("notes") or {}, force=force)
    solution = predict(
        film,
        [_strip(path) for path in strips],
        turned=[_strip(path) for path in turned],
        **options,
    )
    return solution, found


def _strip(path: Path | str) -> Readings:
    """Read a strip: readings with a tablet, or a list of a strip by itself."""
    if is_scan(path):
        raise FileError(
            "is a scan, but densities of a strip are needed",
            where=str(path),
            fix="List them: first line tablet_density,density, a row a step.",
        )
    if "negative_level" in column_names(path):
        return read_readings(path)
    table = read_columns(path, numbers=("tablet_density", "density"))
    if table.keys.get("print_state", "dry") == "wet":
        raise read_wet(table.source)
    density = np.asarray(table.numbers["density"])
    return Readings(
        negative_level=np.ones(len(density)),
        density=density,
        tablet_density=np.asarray(table.numbers["tablet_density"]),
        sheet=Path(path).stem,
        source=table.source,
    )
