"""Weights of Lanczos-3 along one side, cut into small dense products.

Knows which source pixels a wanted pixel is the sum of, and with which weights; what is
summed and where it comes from is left to `resampling`.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from negcurve.values import CodeArray, FloatArray

LOBES = 3


@dataclass(frozen=True, eq=False, kw_only=True)
class Weights:
    """Lanczos-3 weights along one side.

    Attributes
    ----------
    first : array of int, shape (wanted,)
        Source pixel that the first weight belongs to; may lie before the picture.
    weights : array, shape (wanted, taps)
        Rows add up to 1; 0 outside the picture.
    source : int
        Source pixels.
    """

    first: npt.NDArray[np.intp]
    weights: FloatArray
    source: int


def lanczos_weights(source: int, wanted: int) -> Weights:
    """Weights that turn `source` pixels into `wanted` ones over the same length.

    Parameters
    ----------
    source, wanted : int
        1 or more.

    Returns
    -------
    Weights

    Notes
    -----
    w(x) = sinc(x) sinc(x/3) for |x| < 3, else 0; x in pixels of the coarser of the
    two grids; pixel centres at whole numbers and a half. Beyond the edge there is no
    picture: the weights inside are scaled to add up to 1. Source: K. Turkowski,
    Filters for common resampling tasks, Graphics Gems, 1990 (from memory).
    """
    scale = max(source / wanted, 1.0)
    centre = (np.arange(wanted) + 0.5) * (source / wanted) - 0.5
    reach = LOBES * scale
    first = np.ceil(centre - reach).astype(np.intp)
    taps = int(np.floor(2 * reach)) + 1
    places = first[:, np.newaxis] + np.arange(taps)
    distance = (places - centre[:, np.newaxis]) / scale
    weights = np.sinc(distance) * np.sinc(distance / LOBES)
    outside = (np.abs(distance) >= LOBES) | (places < 0) | (places >= source)
    weights[outside] = 0.0
    return Weights(
        first=first,
        weights=weights / weights.sum(axis=1, keepdims=True),
        source=source,
    )


@dataclass(frozen=True, eq=False, kw_only=True)
class Piece:
    """Neighbouring wanted pixels, summed in blocks that all look alike.

    Block i is `blocks[i]` times the source pixels from low + i * step on. So one call
    of `numpy.matmul` forms all blocks of a piece.

    Attributes
    ----------
    start, stop : int
        Wanted pixels.
    low, high : int
        Source pixels; some may lie outside the picture, their weights are 0.
    step : int
        Source pixels from one block to the next.
    blocks : array, shape (n, wanted pixels a block, source pixels a block)
        Weights; 0 from pixel `stop` on.
    source : int
        Source pixels of the picture.
    """

    start: int
    stop: int
    low: int
    high: int
    step: int
    blocks: CodeArray
    source: int

    @property
    def length(self) -> int:
        """Wanted pixels of all blocks, those from `stop` on among them."""
        return int(self.blocks.shape[0] * self.blocks.shape[1])

    @property
    def needed(self) -> tuple[int, int]:
        """Source pixels that lie in the picture, from and up to."""
        return max(0, self.low), min(self.source, self.high)


def pieces(
    weights: Weights, *, span: float, block: float, precision: npt.DTypeLike
) -> tuple[Piece, ...]:
    """Cut a side into pieces.

    Parameters
    ----------
    weights : Weights
    span : float
        About how many pixels of the finer grid a piece covers.
    block : float
        About how many of them a block covers. Short blocks take many calls, long ones
        multiply more zeros.
    precision : float type
        Of the blocks.

    Returns
    -------
    tuple of Piece
        From the first pixel to the last. The same for the same sides, whatever is
        asked for of them, so that no cut into strips changes a sum.
    """
    wanted = len(weights.first)
    scale = weights.source / wanted
    coarser = max(scale, 1.0)
    length = _block_length(scale, min(wanted, max(1, round(block / coarser))), wanted)
    count = max(1, int(span / coarser / length))
    step = round(length * scale)
    return tuple(
        _piece(weights, start, count=count, length=length, step=step, kind=precision)
        for start in range(0, wanted, count * length)
    )


def _block_length(scale: float, about: int, wanted: int) -> int:
    """Length near `about` that comes nearest to a whole number of source pixels."""
    lengths = range(max(1, about * 3 // 4), min(wanted, about * 5 // 4) + 1)

    def drift(length: int) -> tuple[float, int]:
        return abs(length * scale - round(length * scale)) / length, -length

    return min(lengths, key=drift)


def _piece(
    weights: Weights,
    start: int,
    *,
    count: int,
    length: int,
    step: int,
    kind: npt.DTypeLike,
) -> Piece:
    stop = min(start + count * length, len(weights.first))
    count = -(-(stop - start) // length)
    block, inside = np.divmod(np.arange(stop - start), length)
    # Where each pixel's weights begin, were every block the first.
    begins = weights.first[start:stop] - step * block
    low, taps = int(begins.min()), weights.weights.shape[1]
    reach = int(begins.max()) + taps - low
    blocks = np.zeros((count, length, reach), kind)
    places = (begins - low)[:, np.newaxis] + np.arange(taps)
    blocks[block[:, np.newaxis], inside[:, np.newaxis], places] = weights.weights[
        start:stop
    ]
    return Piece(
        start=start,
        stop=stop,
        low=low,
        high=low + (count - 1) * step + reach,
        step=step,
        blocks=blocks,
        source=weights.source,
    )
