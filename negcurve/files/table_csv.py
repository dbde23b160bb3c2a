"""A table as CSV, for whatever reads none of the other formats.

Columns: `image_level` and `negative_level`, or `red`, `green`, `blue` of the negative;
`# key: value` lines before them.
"""

from collections.abc import Mapping

import numpy as np

from negcurve.files.even_samples import number_text, row_text
from negcurve.files.text_table import parse_table
from negcurve.values import FloatArray

INPUT = "image_level"


def table_csv_text(
    samples: FloatArray, *, columns: tuple[str, ...], notes: Mapping[str, str]
) -> str:
    """Write a table.

    Parameters
    ----------
    samples : array, shape (n, channels)
        Wanted levels at even steps of the picture's level.
    columns : tuple of str, length channels
        What each channel is.
    notes : mapping of str to str
        For the lines before the table.

    Returns
    -------
    str
    """
    levels = np.linspace(0, 1, len(samples))
    lines = [f"# {key}: {' '.join(text.split())}" for key, text in notes.items()]
    lines.append(",".join((INPUT, *columns)))
    for level, row in zip(levels, samples, strict=True):
        lines.append(f"{number_text(level)},{row_text(row, ',')}")
    return "\n".join(lines) + "\n"


def table_csv_samples(text: str, *, where: str) -> FloatArray:
    """Read the values of a table with even steps.

    Parameters
    ----------
    text : str
        As `table_csv_text` writes it.
    where : str
        File, for messages.

    Returns
    -------
    array, shape (n, channels)
    """
    table = parse_table(text, source=where)
    names = [name for name in table.columns if name != INPUT]
    return np.array([[float(row.cells[name]) for name in names] for row in table.rows])
