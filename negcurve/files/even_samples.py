"""Values at even steps of a level, as every one-dimensional table format has them.

Knows how to follow them as a reader does; the formats themselves are `clf`, `cube`,
`table_csv` and `icc_lut`.
"""

from collections.abc import Iterable

import numpy as np
import numpy.typing as npt

from negcurve.values import FloatArray

DECIMALS = 9
"""Written after the point: far finer than the 32-bit floats of most readers."""


def followed(samples: FloatArray, level: npt.ArrayLike) -> FloatArray:
    """Values at levels, straight between the samples.

    Parameters
    ----------
    samples : array, shape (n, channels)
        At even steps of the level from 0 to 1.
    level : array, shape (m,)
        0..1; beyond, the nearer end is taken.

    Returns
    -------
    array, shape (m, channels)
    """
    given = np.asarray(level, dtype=np.float64)
    places = np.linspace(0, 1, len(samples))
    return np.column_stack([np.interp(given, places, each) for each in samples.T])


def number_text(value: float) -> str:
    """Write a number with `DECIMALS` places, without needless zeros."""
    text = f"{value:.{DECIMALS}f}".rstrip("0").rstrip(".")
    return "0" if text in ("", "-0") else text


def row_text(values: Iterable[float], separator: str = " ") -> str:
    """Write numbers in a line."""
    return separator.join(number_text(each) for each in values)
