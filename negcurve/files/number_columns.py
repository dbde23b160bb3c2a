"""Small tables of numbers as CSV: strips, patches, dose series.

Checks names and numbers; what they mean is left to the task that asks for them.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from negcurve.errors import ReadingsError
from negcurve.files.text_table import (
    Problems,
    TextTable,
    names_told,
    number_in,
    read_table,
)


@dataclass(frozen=True, kw_only=True)
class NumberColumns:
    """Columns of one file, all of one length.

    Attributes
    ----------
    source : str
        File, for messages.
    keys : dict of str to str
        `# key: value` lines; the last of a name counts.
    numbers : dict of str to tuple of float
    texts : dict of str to tuple of str
    """

    source: str
    keys: dict[str, str]
    numbers: dict[str, tuple[float, ...]]
    texts: dict[str, tuple[str, ...]]


def read_columns(
    path: Path | str, *, numbers: Sequence[str], texts: Sequence[str] = ()
) -> NumberColumns:
    """Read named columns of a CSV.

    Parameters
    ----------
    path : path
    numbers, texts : sequence of str
        Columns that must be there. Rows without any of them are left out.

    Returns
    -------
    NumberColumns

    Raises
    ------
    FileError
        If the file cannot be read.
    ReadingsError
        If a column is missing, or a number is none; all bad rows are listed.
    """
    table = read_table(path)
    _check_columns(table, [*texts, *numbers])
    problems = Problems(table.source)
    found: dict[str, list[float]] = {name: [] for name in numbers}
    words: dict[str, list[str]] = {name: [] for name in texts}
    for row in table.rows:
        if not any(row.cells.get(name) for name in (*numbers, *texts)):
            continue
        for name in texts:
            words[name].append(row.cells.get(name, ""))
        for name in numbers:
            cell = row.cells.get(name, "")
            value = number_in(cell)
            if value is None:
                problems.add(row.line, f"{name} {cell!r} is no number")
            else:
                found[name].append(value)
    problems.raise_any()
    return NumberColumns(
        source=table.source,
        keys={line.key: line.value for line in table.keys},
        numbers={name: tuple(each) for name, each in found.items()},
        texts={name: tuple(each) for name, each in words.items()},
    )


def column_names(path: Path | str) -> tuple[str, ...]:
    """Return the names of a CSV's columns, small letters, spaces as underscores."""
    return read_table(path).columns


def _check_columns(table: TextTable, wanted: Sequence[str]) -> None:
    missing = [name for name in wanted if name not in table.columns]
    if missing:
        named = names_told(table.columns)
        raise ReadingsError(
            f"has no column {missing[0]}, only {named}",
            where=table.source,
            fix=f"Let the first line be {','.join(wanted)}.",
        )
    if not table.rows:
        raise ReadingsError(
            "has no rows",
            where=table.source,
            fix=f"Write a row of {','.join(wanted)} for each.",
        )
