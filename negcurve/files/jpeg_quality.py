"""How strongly a JPEG was compressed, from its quantisation table.

The quality 1 to 100 is that of the widespread open library of the Independent JPEG
Group, which scales the example tables of the standard; other programs' tables are
given the quality they come nearest to.
"""

import struct
from collections.abc import Iterable

import numpy as np

from negcurve.values import Finding, FloatArray

LUMINANCE = np.array(
    [
        [16, 11, 10, 16, 24, 40, 51, 61],
        [12, 12, 14, 19, 26, 58, 60, 55],
        [14, 13, 16, 24, 40, 57, 69, 56],
        [14, 17, 22, 29, 51, 87, 80, 62],
        [18, 22, 37, 56, 68, 109, 103, 77],
        [24, 35, 55, 64, 81, 104, 113, 92],
        [49, 64, 78, 87, 103, 121, 120, 101],
        [72, 92, 95, 98, 112, 100, 103, 99],
    ]
)
"""Example table for luminance. Source: ITU-T T.81 (1992), annex K, table K.1."""

BLOCK = 8
POOR = 75
"""Quality below which a scan is warned about: from there on the mean of a block of 8 by
8 pixels is rounded to more than one code. Ours."""

Table = tuple[int, ...]
"""64 steps in the zigzag order of the file; the first is that of the mean."""


def read_tables(segments: Iterable[bytes]) -> dict[int, Table]:
    """Read the tables of the DQT segments.

    Parameters
    ----------
    segments : iterable of bytes
        Content behind marker and length.

    Returns
    -------
    dict of int to Table
        By number, 0 to 3; what is cut off is left out.

    Notes
    -----
    Source: ITU-T T.81 (1992), B.2.4.1.
    """
    tables: dict[int, Table] = {}
    for segment in segments:
        place = 0
        while place < len(segment):
            wide, number = segment[place] >> 4, segment[place] & 15
            form = ">64H" if wide else ">64B"
            if place + 1 + struct.calcsize(form) > len(segment):
                break
            tables[number] = struct.unpack_from(form, segment, place + 1)
            place += 1 + struct.calcsize(form)
    return tables


def zigzag() -> FloatArray:
    """Return the places of the 64 steps of a table within its 8 x 8, row by row.

    Notes
    -----
    Source: ITU-T T.81 (1992), A.3.6 and figure A.6.
    """
    places = [(row, column) for row in range(BLOCK) for column in range(BLOCK)]
    # Diagonals from the top left; odd ones run down, even ones up.
    places.sort(key=lambda at: (sum(at), at[0] if sum(at) % 2 else at[1]))
    return np.array([BLOCK * row + column for row, column in places])


def scaled_table(quality: int) -> FloatArray:
    """Return the luminance table of a quality from 1 to 100, in zigzag order.

    Notes
    -----
    Source: the scaling of the Independent JPEG Group's library, `jcparam.c`, from
    memory; checked against Pillow's files in the tests.
    """
    scale = 5000 // quality if quality < 50 else 200 - 2 * quality
    table = np.clip((LUMINANCE.ravel() * scale + 50) // 100, 1, 255)
    return np.asarray(table[zigzag()])


def quality_of(table: Table) -> int:
    """Return the quality, 1 to 100, whose table comes nearest."""
    given = np.array(table, dtype=np.float64)
    off = [np.abs(scaled_table(each) - given).sum() for each in range(1, 101)]
    # Of equal ones the highest: at both ends several qualities share a table.
    return 100 - int(np.argmin(off[::-1]))


def quality_findings(table: Table | None, *, name: str) -> tuple[Finding, ...]:
    """Warn of strong compression.

    Parameters
    ----------
    table : Table or None
        Of the first component, grey or luma.
    name : str
        Of the file.

    Returns
    -------
    tuple of Finding
    """
    if table is None or quality_of(table) >= POOR:
        return ()
    step = table[0] / BLOCK
    return (
        Finding(
            severity="warning",
            where=name,
            what=f"is a JPEG of quality about {quality_of(table)} of 100, which rounds "
            f"the mean of each {BLOCK} x {BLOCK} pixels to {step:.1f} codes",
            fix="Save scans as 16-bit TIFF; of a picture use a better copy.",
        ),
    )
