"""Solutions as `negcurve/solution/1` JSON: every number, so that solving can repeat.

Knows how values become plain JSON and back; what they mean is in `negcurve.response`.
"""

import json
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

import numpy as np

from negcurve.errors import FileError, InvalidValueError
from negcurve.files.own_json import read_document
from negcurve.files.safe import write_text
from negcurve.readings import Readings
from negcurve.response.aim import Aim
from negcurve.response.ends import Ends
from negcurve.response.film import FilmData
from negcurve.response.paper import PaperCurve, SheetExposure
from negcurve.response.response import Response
from negcurve.response.solution import SheetEffect, Solution, Unevenness
from negcurve.response.table import LookupTable
from negcurve.values import Finding

SCHEMA_KIND, SCHEMA_VERSION = "solution", 1


def solution_text(solution: Solution) -> str:
    """Write a solution as JSON.

    Parameters
    ----------
    solution : Solution

    Returns
    -------
    str
        Numbers keep every digit; not known is null.
    """
    document = {
        "schema": f"negcurve/{SCHEMA_KIND}/{SCHEMA_VERSION}",
        "identity": solution.table.identity,
        **_plain(solution),
    }
    return json.dumps(document, indent=1, allow_nan=False) + "\n"


def write_solution(
    solution: Solution, path: Path | str, *, overwrite: bool = False
) -> None:
    """Write a solution.

    Parameters
    ----------
    solution : Solution
    path : path
    overwrite : bool
        Replace a file that exists.

    Raises
    ------
    FileError
        If the file exists or cannot be written.
    """
    write_text(path, solution_text(solution), overwrite=overwrite)


def read_solution(path: Path | str) -> Solution:
    """Read a solution; equal to what was written.

    Parameters
    ----------
    path : path

    Returns
    -------
    Solution

    Raises
    ------
    FileError
        If the file cannot be read, is no solution, is damaged, or is newer than this
        program.
    """
    where = Path(path).name
    document = read_document(
        path,
        SCHEMA_KIND,
        SCHEMA_VERSION,
        holds="solution",
        cure="Name a solution that `negcurve solve` wrote.",
    )
    try:
        solution = _solution(document)
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise FileError(
            f"is damaged: {_reason(error)}",
            where=where,
            fix="Solve the readings again.",
        ) from error
    if document.get("identity") != solution.table.identity:
        raise FileError(
            f"has a table {solution.table.identity} that is not the "
            f"{document.get('identity')} it was written with",
            where=where,
            fix="The file was changed; solve the readings again.",
        )
    return solution


def _reason(error: Exception) -> str:
    if isinstance(error, KeyError):
        return f"{error.args[0]!r} is missing"
    if isinstance(error, InvalidValueError):
        return str(error).splitlines()[0]
    return str(error)


def _plain(value: Any) -> Any:
    if isinstance(value, np.ndarray):
        return [None if np.isnan(each) else float(each) for each in value]
    if is_dataclass(value):
        return {each.name: _plain(getattr(value, each.name)) for each in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): _plain(each) for key, each in value.items()}
    if isinstance(value, frozenset):
        return sorted(value)
    if isinstance(value, (list, tuple)):
        return [_plain(each) for each in value]
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float) and np.isnan(value):
        return None
    return value


def _solution(document: Mapping[str, Any]) -> Solution:
    return Solution(
        table=LookupTable(**document["table"]),
        response=Response(**document["response"]),
        aim=Aim(**document["aim"]),
        ends=Ends(**document["ends"]),
        noise=document["noise"],
        weights=np.array(_numbers(document["weights"])),
        unevenness=tuple(Unevenness(**each) for each in document["unevenness"]),
        sheet_effects=tuple(SheetEffect(**each) for each in document["sheet_effects"]),
        findings=_findings(document["findings"]),
        notes=dict(document["notes"]),
        readings=tuple(_readings(each) for each in document["readings"]),
        options=dict(document["options"]),
        printer_path=dict(document["printer_path"]),
        **_film_and_paper(document),
    )


def _film_and_paper(document: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a solution has where film is known; older ones have nothing."""
    film, paper = document.get("film"), document.get("paper")
    exposures = document.get("exposures", ())
    return {
        "film": None if film is None else FilmData.from_document(film),
        "paper": None if paper is None else PaperCurve(**paper),
        "exposures": tuple(SheetExposure(**each) for each in exposures),
    }


def _readings(document: Mapping[str, Any]) -> Readings:
    kept: dict[str, Any] = dict(document)
    for name, value in kept.items():
        if isinstance(value, list) and name not in (
            "patch",
            "ink",
            "flags",
            "findings",
        ):
            kept[name] = _numbers(value)
    kept["patch"] = tuple(kept["patch"])
    kept["ink"] = tuple(kept.get("ink", ()))
    kept["flags"] = tuple(frozenset(each) for each in kept["flags"])
    kept["findings"] = _findings(kept["findings"])
    return Readings(**kept)


def _numbers(values: list[float | None]) -> list[float]:
    return [np.nan if each is None else each for each in values]


def _findings(documents: list[dict[str, Any]]) -> tuple[Finding, ...]:
    return tuple(Finding(**each) for each in documents)
