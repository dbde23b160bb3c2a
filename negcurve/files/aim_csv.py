"""An aim as CSV: `image_tone,density` or `image_tone,lightness`."""

from itertools import pairwise
from pathlib import Path
from typing import Literal

import numpy as np

from negcurve.density import density_from_lightness
from negcurve.errors import ReadingsError
from negcurve.files.text_table import (
    Problems,
    Row,
    TextTable,
    number_in,
    read_table,
)
from negcurve.response.aim import Aim

DENSITY_RANGE = (-0.5, 4.5)
LIGHTNESS_RANGE = (0.0, 100.0)

_Point = tuple[float, float, int]
"""Image tone, density or lightness, line in the file."""


def read_aim(path: Path | str) -> Aim:
    """Read an aim.

    Parameters
    ----------
    path : path
        CSV with the columns `image_tone`, from 0 to 1, and `density` or `lightness`;
        rows in any order.

    Returns
    -------
    Aim
        It runs straight in the quantity that the file gives.

    Raises
    ------
    FileError
        If the file cannot be read.
    ReadingsError
        If rows cannot be used, tones 0 or 1 are missing, a tone is given twice, or
        the print would not get lighter from tone 0 to 1.
    """
    source = Path(path).name
    table = read_table(path)
    quantity = _quantity(table)
    problems = Problems(source)
    points = sorted(_point(row, quantity, problems) for row in table.rows)
    problems.raise_any()
    _check(points, quantity, source)
    values = np.array([value for _, value, _ in points])
    return Aim(
        name=source,
        tone_nodes=np.array([tone for tone, _, _ in points]),
        density_nodes=(
            density_from_lightness(values) if quantity == "lightness" else values
        ),
        scale=quantity,
    )


def _quantity(table: TextTable) -> Literal["density", "lightness"]:
    in_density = "density" in table.columns
    in_lightness = "lightness" in table.columns
    if "image_tone" not in table.columns or in_density == in_lightness:
        named = ", ".join(name for name in table.columns if name)
        raise ReadingsError(
            f"has the columns {named}",
            where=table.source,
            fix="An aim has image_tone and either density or lightness.",
        )
    return "density" if in_density else "lightness"


def _point(row: Row, quantity: str, problems: Problems) -> _Point:
    tone = _number(row, "image_tone", (0.0, 1.0), problems)
    limits = DENSITY_RANGE if quantity == "density" else LIGHTNESS_RANGE
    value = _number(row, quantity, limits, problems)
    if quantity == "lightness" and value == 0:
        problems.add(row.line, "lightness 0 cannot be printed")
    return tone, value, row.line


def _number(
    row: Row, name: str, limits: tuple[float, float], problems: Problems
) -> float:
    text = row.cells.get(name, "")
    value = number_in(text)
    if value is None:
        problems.add(row.line, f"{name} {text!r} is not a number")
        return -1.0
    if not limits[0] <= value <= limits[1]:
        problems.add(
            row.line, f"{name} {value:g} lies outside {limits[0]:g}..{limits[1]:g}"
        )
    return value


def _check(points: list[_Point], quantity: str, source: str) -> None:
    if len(points) < 2 or points[0][0] != 0 or points[-1][0] != 1:
        raise ReadingsError(
            "does not run from image_tone 0 to 1",
            where=source,
            fix="Give a row for image_tone 0 (black) and one for 1 (white).",
        )
    problems = Problems(source)
    sign = 1 if quantity == "lightness" else -1
    for before, after in pairwise(points):
        if after[0] == before[0]:
            problems.add(after[2], f"image_tone {after[0]:g} is given twice")
        elif sign * (after[1] - before[1]) < 0:
            problems.add(
                after[2],
                f"{quantity} {after[1]:g} at tone {after[0]:g} is darker than "
                f"{before[1]:g} at tone {before[0]:g}",
            )
    problems.raise_any(fix="A print gets lighter from image_tone 0 to 1.")
    if points[0][1] == points[-1][1]:
        raise ReadingsError(
            "is the same for every tone",
            where=source,
            fix="Let it fall from dark to light: density 1.4 at image tone 0, say, and "
            "0.1 at 1.",
        )
