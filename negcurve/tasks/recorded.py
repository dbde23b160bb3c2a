"""The solution that a command works with: a file, or a calibration of the record."""

from dataclasses import replace
from pathlib import Path

from negcurve.files.solution_json import read_solution
from negcurve.response.solution import Solution
from negcurve.tasks.record import use


def recorded_solution(folder: Path | str | None, name: str) -> Solution:
    """Return the solution of a calibration in service.

    Parameters
    ----------
    folder : path or None
        The record.
    name : str
        Name or key of the calibration.

    Returns
    -------
    Solution
        Its notes hold the calibration's circumstances as well.

    Raises
    ------
    RecordError
        If there is none of this name in service, or it is damaged.
    InvalidValueError
        If no record folder is named.
    """
    entry, path = use(folder, name)
    solution = read_solution(path)
    told = {key: str(value) for key, value in entry.circumstances.items()}
    return replace(solution, notes={**solution.notes, **told})
