"""Cube text tables of one dimension.

Source: Cube LUT Specification 1.0 (2013), from memory: keywords, rows of three numbers,
at most 65536 of them, lines of at most 250 bytes in ASCII, `#` for comments; straight
lines between samples.
"""

import textwrap
from collections.abc import Iterable

import numpy as np

from negcurve.errors import FileError
from negcurve.files.even_samples import row_text
from negcurve.values import FloatArray

MOST_SAMPLES = 65536
LINE_BYTES = 250

_KEYWORDS = ("TITLE", "LUT_1D_SIZE", "DOMAIN_MIN", "DOMAIN_MAX")


def cube_text(samples: FloatArray, *, title: str, notes: Iterable[str]) -> str:
    """Write a table.

    Parameters
    ----------
    samples : array, shape (n, 1) or (n, 3)
        Wanted levels at even steps of the picture's level; one column serves all three.
    title : str
    notes : iterable of str
        Comments; long ones are broken.

    Returns
    -------
    str
        ASCII.
    """
    columns = np.broadcast_to(samples, (len(samples), 3))
    plain = title.replace('"', "'")[: LINE_BYTES - 20]
    lines = [f'TITLE "{plain}"']
    for note in notes:
        lines += [f"# {line}" for line in textwrap.wrap(note, LINE_BYTES - 10)]
    lines += [f"LUT_1D_SIZE {len(samples)}", "DOMAIN_MIN 0 0 0", "DOMAIN_MAX 1 1 1"]
    lines += [row_text(row) for row in columns]
    text = "\n".join(lines) + "\n"
    return text.encode("ascii", "replace").decode("ascii")


def cube_samples(text: str, *, where: str) -> FloatArray:
    """Read the rows of a table with the domain 0..1.

    Parameters
    ----------
    text : str
        As `cube_text` writes it.
    where : str
        File, for messages.

    Returns
    -------
    array, shape (n, 3)

    Raises
    ------
    FileError
        If rows are missing or are no three numbers.
    """
    rows, size = [], 0
    for line in text.splitlines():
        words = line.split()
        if not words or words[0].startswith("#"):
            continue
        if words[0] == "LUT_1D_SIZE":
            size = int(words[1])
        elif words[0] not in _KEYWORDS:
            rows.append([float(each) for each in words])
    if len(rows) != size or any(len(row) != 3 for row in rows):
        raise FileError(f"has {len(rows)} rows for {size}", where=where)
    return np.array(rows)
