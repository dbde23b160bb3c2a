"""Densities of a step wedge or step tablet as CSV: `step,density`."""

from dataclasses import dataclass
from pathlib import Path

import numpy as np

from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.files.text_table import Problems, Row, number_in, read_table
from negcurve.values import FloatArray, frozen

DENSITY_RANGE = (-0.1, 6.0)
"""Of any step: a little below 0 against a white that is not perfect."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Steps:
    """The known densities of a wedge or tablet.

    Attributes
    ----------
    step : tuple of str, length n
        Names of the steps, in the order in which they lie.
    density : array, shape (n,)
        [D]
    source : str
        File, for messages.
    """

    step: tuple[str, ...]
    density: FloatArray
    source: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "density", frozen(self.density, "density"))
        if len(self.step) != len(self.density):
            raise InvalidValueError(
                f"{len(self.step)} steps have {len(self.density)} densities",
                where=self.source or "steps",
            )


def read_steps(path: Path | str) -> Steps:
    """Read the densities of a step wedge or step tablet.

    Parameters
    ----------
    path : path
        CSV with a column `density`, and `step` if the steps have names; one row a
        step, in the order in which they lie.

    Returns
    -------
    Steps

    Raises
    ------
    FileError
        If the file cannot be read.
    ReadingsError
        If rows cannot be used, steps are named twice, or there are less than three.
    """
    source = Path(path).name
    table = read_table(path)
    if "density" not in table.columns:
        named = ", ".join(name for name in table.columns if name)
        raise ReadingsError(
            f"has no column density, only {named}",
            where=source,
            fix="Let the first line be step,density.",
        )
    problems = Problems(source)
    step: list[str] = []
    density: list[float] = []
    for place, row in enumerate(table.rows, start=1):
        name = row.cells.get("step", "") or str(place)
        if name in step:
            problems.add(row.line, f"step {name} is named twice")
        step.append(name)
        density.append(_density(row, problems))
    problems.raise_any()
    if len(step) < 3:
        raise ReadingsError(
            f"has {len(step)} steps, three are needed at least",
            where=source,
            fix="Add the others: step,density, a line each.",
        )
    return Steps(step=tuple(step), density=np.array(density), source=source)


def _density(row: Row, problems: Problems) -> float:
    text = row.cells.get("density", "")
    value = number_in(text)
    low, high = DENSITY_RANGE
    if value is None:
        problems.add(row.line, f"density {text!r} is not a number")
        return float("nan")
    if not low <= value <= high:
        problems.add(row.line, f"density {value:g} lies outside {low:g}..{high:g}")
    return value
