"""A scan made small: the whole of it at once, for finding and for showing.

Knows how to average blocks of pixels strip by strip; what the codes stand for is left
to `negcurve.encoding`.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from negcurve.values import CodeArray, FloatArray, ImageSource, Progress, no_progress

SmallArray = npt.NDArray[np.float32]

LONGEST = 1600
"""Longest side of the small picture, in its pixels. [px]"""

STRIP_BYTES = 16_000_000


@dataclass(frozen=True, eq=False, kw_only=True)
class Reduced:
    """A scan averaged over blocks of `factor` by `factor` pixels.

    Attributes
    ----------
    levels : array, shape (rows, columns, channels)
        Mean level of each block, 0..1.
    factor : int
        Side of a block. [px]
    """

    levels: SmallArray
    factor: int

    @property
    def grey(self) -> SmallArray:
        """Mean of the channels, shape (rows, columns)."""
        return np.asarray(self.levels.mean(axis=2), dtype=np.float32)


def reduce_source(
    source: ImageSource, *, longest: int = LONGEST, progress: Progress = no_progress
) -> Reduced:
    """Average a scan over square blocks, reading it once from top to bottom.

    Parameters
    ----------
    source : ImageSource
        The scan.
    longest : int
        No side of the result is longer. [px]
    progress : Progress
        Told how far it is.

    Returns
    -------
    Reduced
        Pixels beyond the last whole block are left out.
    """
    factor = max(1, -(-max(source.height, source.width) // longest))
    rows, columns = source.height // factor, source.width // factor
    small = np.empty((rows, columns, source.channels), dtype=np.float32)
    row_bytes = source.width * source.channels * source.dtype.itemsize * factor
    step = max(1, STRIP_BYTES // row_bytes)
    for start in range(0, rows, step):
        stop = min(rows, start + step)
        strip = source.rows(start * factor, stop * factor)
        small[start:stop] = block_means(strip, factor, two_rows=True)
        progress("looking at the scan", stop / rows)
    small *= np.float32(1 / largest_code(source.dtype))
    return Reduced(levels=small, factor=factor)


def block_means(codes: CodeArray, factor: int, *, two_rows: bool = False) -> FloatArray:
    """Average blocks of pixels.

    Parameters
    ----------
    codes : array, shape (rows, columns, channels)
        `rows` is a multiple of `factor`.
    factor : int
        Side of a block. [px]
    two_rows : bool
        Average only two rows of each block, which lie even about its middle: enough
        for a picture to look at, and several times as fast.

    Returns
    -------
    array, shape (rows // factor, columns // factor, channels)
        In codes.
    """
    height, width, channels = codes.shape
    columns = width // factor
    wide = np.uint32 if codes.dtype.kind == "u" else np.float64
    summed = codes[:, : columns * factor].reshape(
        height // factor, factor, columns * factor, channels
    )
    if two_rows and factor > 2:
        first = factor // 4
        summed = summed[:, first : factor - first : factor - 1 - 2 * first]
    count = summed.shape[1] * factor
    summed = np.add.reduce(summed, axis=1, dtype=wide)
    summed = summed.reshape(height // factor, columns, factor, channels)
    return np.asarray(np.add.reduce(summed, axis=2, dtype=wide) / count)


def largest_code(dtype: np.dtype[Any]) -> float:
    """Return the code that stands for level 1: 255, 65535, or 1 for floats."""
    return float(np.iinfo(dtype).max) if dtype.kind == "u" else 1.0
