"""Another number of pixels by Lanczos-3, tile by tile, exact.

Knows in which domain of light the sums are formed, and forms them in tiles that stay
in the processor's cache; the weights are `lanczos`'s, and where rows come from and go
to is left to `rendering`.
"""

import math
from collections.abc import Iterator

import numpy as np
import numpy.typing as npt
from numpy.lib.stride_tricks import as_strided

from negcurve.negative.lanczos import Piece, Weights, lanczos_weights, pieces
from negcurve.negative.tones import LightReader
from negcurve.values import CodeArray

TILE_ROWS, TILE_COLUMNS = 128, 4096
"""Size of a tile, in pixels of the finer grid.

Chosen by measurement: threads wait for each other at every call, so that calls on
smaller tiles left the second core idle, though their sums stayed nearer in cache.
"""

BLOCK_ROWS, BLOCK_COLUMNS = 16, 32
"""Size of the products that a tile is made of, in pixels of the finer grid. Chosen by
measurement."""

PRODUCT_SIZE = 2**18
"""Multiplications in one product, at most: OpenBLAS forms those in one thread (its
`interface/gemm.c`), so that its threads stay out of ours and change no sum."""


def domain_power(source: int, wanted: int) -> float:
    """Power of luminance in which to resample: 0.5 to enlarge, 1 to reduce.

    Parameters
    ----------
    source, wanted : int
        Pixels along one side before and after.

    Returns
    -------
    float

    Notes
    -----
    Chosen by measurement, see `tests/benchmarks/resampling_domain.py`: invented scenes
    (grain, foliage, discs, dark twigs, lit wires) rendered finely, averaged as light
    to two numbers of pixels, one resampled to the other and compared in L*. Enlarged
    by 1.33, lit wires err by 12.6 L* rms in luminance, whose dark rims are cut off at
    black, by 10.2 in its root and by 9.6 in L*; elsewhere the root is within 0.12 of
    the best, and it keeps mean tone best where that is hard: 0.32 L*, against 0.43
    and 0.50. Reduced to a third, lit wires lose 3.9 L* of mean tone in the root and
    5.6 in L*, against 0.6 in luminance, where light simply adds up.
    """
    return 0.5 if wanted >= source else 1.0


class Resampler:
    """How to resample one picture; makes workers.

    Parameters
    ----------
    source, wanted : (height, width)
        Pixels before and after.

    Attributes
    ----------
    wanted : (height, width)
    power : {0.5, 1}
        Of luminance, in which the sums are formed.
    precision : float type
        Of the sums.
    bands : tuple of Piece
        The rows, as they are to be resampled: a whole band at a time.
    columns : tuple of Piece
    """

    def __init__(self, source: tuple[int, int], wanted: tuple[int, int]) -> None:
        self.wanted = wanted
        self.power = domain_power(source[1], wanted[1])
        # In luminance a code near black is 2 millionths of white: too fine for float32
        # sums that reach across an edge.
        self.precision: type[np.float32 | np.float64] = (
            np.float32 if self.power < 1 else np.float64
        )
        down: Weights = lanczos_weights(source[0], wanted[0])
        across = lanczos_weights(source[1], wanted[1])
        self.bands = pieces(
            down, span=TILE_ROWS, block=BLOCK_ROWS, precision=self.precision
        )
        self.columns = pieces(
            across, span=TILE_COLUMNS, block=BLOCK_COLUMNS, precision=self.precision
        )

    def worker(self, reader: LightReader) -> "TileResampler":
        """Return a worker for one thread.

        Parameters
        ----------
        reader : LightReader
            Gives luminance to `power`, of the precision; its unit goes through.
        """
        return TileResampler(self, reader)


class TileResampler:
    """Resamples bands in one thread; keeps its buffers from tile to tile."""

    def __init__(self, resampler: Resampler, reader: LightReader) -> None:
        self._resampler = resampler
        self._reader = reader
        self.width = resampler.wanted[1]
        # Shape (n, source pixels a block, wanted pixels a block).
        self._across = [
            np.ascontiguousarray(piece.blocks.transpose(0, 2, 1))
            for piece in resampler.columns
        ]
        self._rooms: dict[str, CodeArray] = {}

    def tiles(
        self, band: Piece, rows: CodeArray
    ) -> Iterator[tuple[slice, npt.NDArray[np.float32]]]:
        """Resample a band of rows.

        Parameters
        ----------
        band : Piece
            One of the resampler's.
        rows : array, shape (needed rows, source width, channels)
            Samples of the picture.

        Yields
        ------
        columns : slice
            Where the tile lies in the wanted rows.
        root : array of float32, shape (rows of the band, columns of the tile)
            Square root of luminance, in units of the reader's; may overshoot. The
            caller may change it; the next tile overwrites it.
        """
        for piece, weights in zip(self._resampler.columns, self._across, strict=True):
            light = self._light(band, piece, rows)
            between = self._down(band, light)
            tile = self._sideways(piece, weights, between)
            size = piece.stop - piece.start
            root = self._root(tile[: band.stop - band.start, :size])
            yield slice(piece.start, piece.stop), root

    def _light(self, band: Piece, piece: Piece, rows: CodeArray) -> CodeArray:
        """Light that a tile needs, 0 where it lies outside the picture.

        As wide as whole products, a few columns more than the tile draws on.
        """
        columns = piece.high - piece.low
        count = _products(band, columns)
        shape = (band.high - band.low, count * -(-columns // count))
        top, bottom = (each - band.low for each in band.needed)
        left = piece.needed[0] - piece.low
        right = min(piece.source - piece.low, shape[1])
        light = self._room("light", shape)
        if (bottom - top, right - left) != shape:
            light[:] = 0
        wanted = slice(piece.low + left, piece.low + right)
        self._reader.of(rows[:, wanted], out=light[top:bottom, left:right])
        return light

    def _down(self, band: Piece, light: CodeArray) -> CodeArray:
        """Form the sums down, shape (rows of all blocks, source columns)."""
        count, length, reach = band.blocks.shape
        columns = light.shape[1]
        products = _products(band, columns)
        wide = columns // products
        down, across = light.strides
        windows = as_strided(
            light,
            (count, products, reach, wide),
            (band.step * down, wide * across, down, across),
        )
        between = self._room("between", (count * length, columns))
        sums = between.reshape(count, length, products, wide).swapaxes(1, 2)
        np.matmul(band.blocks[:, np.newaxis], windows, out=sums)
        return between

    def _sideways(
        self, piece: Piece, weights: CodeArray, between: CodeArray
    ) -> CodeArray:
        """Form the sums across, shape (rows of all blocks, columns of all blocks)."""
        count, reach, length = weights.shape
        height = len(between)
        down, across = between.strides
        windows = as_strided(
            between, (count, height, reach), (piece.step * across, down, across)
        )
        tile = self._room("tile", (height, count * length))
        blocks = tile.reshape(height, count, length).transpose(1, 0, 2)
        np.matmul(windows, weights, out=blocks)
        return tile

    def _root(self, tile: CodeArray) -> npt.NDArray[np.float32]:
        if self._resampler.power < 1:
            return tile
        np.maximum(tile, 0, out=tile)
        np.sqrt(tile, out=tile)
        return tile.astype(np.float32)

    def _room(self, name: str, shape: tuple[int, ...]) -> CodeArray:
        """Return memory for one use, kept from tile to tile."""
        size = math.prod(shape)
        room = self._rooms.get(name)
        if room is None or room.size < size:
            room = self._rooms[name] = np.empty(size, self._resampler.precision)
        return room[:size].reshape(shape)


def _products(band: Piece, columns: int) -> int:
    """How many products a band forms side by side."""
    _, length, reach = band.blocks.shape
    most: int = max(1, PRODUCT_SIZE // (length * reach))
    return -(-columns // most)
