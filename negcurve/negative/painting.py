"""Painters: rows of a picture in, rows of negative codes out, tones counted on the way.

Knows how to do that quickly in blocks that stay in the processor's cache. A painter
belongs to one thread; sharing out the work is left to `rendering`.
"""

import math
from dataclasses import dataclass
from typing import Literal, Protocol

import numpy as np
import numpy.typing as npt

from negcurve.encoding import Encoding
from negcurve.negative.tones import (
    ROOT_CELLS,
    Light,
    code_map,
    root_codes,
    root_tones,
    tone_map,
)
from negcurve.response.table import LookupTable
from negcurve.values import CodeArray, FloatArray

BLOCK_PIXELS = 2**19
"""Pixels that are mapped at a time. Threads wait for each other at every call: blocks
that fit the second-level cache left the second core half idle, by measurement."""

LIGHT_BINS = 2**12
"""Bins of the root of luminance that `LightPainter` counts; the first and the last
hold black and white to 0.0001 of image tone."""

_BIN_SHIFT = (ROOT_CELLS // LIGHT_BINS).bit_length() - 1
_HALF_BIN = ROOT_CELLS // LIGHT_BINS // 2

Codes = npt.NDArray[np.uint16]


class Painter(Protocol):
    """Paints negative codes; one for each thread."""

    counts: npt.NDArray[np.int64]

    def paint(self, rows: CodeArray, *, mirrored: bool, counted_from: int) -> Codes:
        """Paint rows.

        Parameters
        ----------
        rows : array, shape (n, width, channels)
            Of the picture.
        mirrored : bool
            Whether each row is turned end for end.
        counted_from : int
            Row from which on every `stride`-th is counted, so that a cut into strips
            changes nothing.

        Returns
        -------
        array of uint16, shape (n, width)
        """
        ...


@dataclass(frozen=True, eq=False, kw_only=True)
class GreyMap:
    """The code map of an integer grey picture; makes painters."""

    codes: Codes
    tone: FloatArray

    def greys(self, counts: npt.NDArray[np.int64]) -> FloatArray:
        """Return the image tones that occur, for `Tally`."""
        return self.tone[counts > 0]

    @classmethod
    def composed(
        cls,
        encoding: Encoding,
        table: LookupTable,
        dtype: npt.DTypeLike,
        *,
        scale_black: bool = True,
    ) -> "GreyMap":
        """Compose encoding and table for samples of uint8 or uint16."""
        bits: Literal[8, 16] = 8 if np.dtype(dtype) == np.uint8 else 16
        return cls(
            codes=code_map(encoding, table, bits, scale_black=scale_black),
            tone=tone_map(encoding, bits, scale_black=scale_black),
        )

    def painter(self, stride: int = 1) -> "GreyPainter":
        """Return a painter for one thread, which counts every stride-th row."""
        return GreyPainter(self, stride)


class GreyPainter:
    """Paints an integer grey picture through its code map."""

    def __init__(self, grey_map: GreyMap, stride: int) -> None:
        self._codes = grey_map.codes
        self._stride = stride
        self.counts = np.zeros(len(grey_map.codes), np.int64)
        self._index = np.empty(BLOCK_PIXELS, np.intp)

    def paint(self, rows: CodeArray, *, mirrored: bool, counted_from: int) -> Codes:
        """See `Painter`."""
        grey = rows[..., 0]
        painted = np.empty(grey.shape, np.uint16)
        turned = grey[:, ::-1] if mirrored else grey
        for part in blocks(grey.shape):
            block = turned[part]
            if block.size > len(self._index):
                self._index = np.empty(block.size, np.intp)
            index = self._index[: block.size].reshape(block.shape)
            np.copyto(index, block)
            # Every index is a code of the map, so "clip" only spares a check.
            np.take(self._codes, index, out=painted[part], mode="clip")
        self._count(grey, counted_from)
        return painted

    def _count(self, grey: CodeArray, counted_from: int) -> None:
        """Count once a strip: each count runs through all 65536 codes."""
        counted = grey[(-counted_from) % self._stride :: self._stride]
        if counted.size:
            self.counts += np.bincount(counted.ravel(), minlength=len(self.counts))


@dataclass(frozen=True, eq=False, kw_only=True)
class LightMap:
    """The map over light, for colour, float samples and resampled pictures.

    Attributes
    ----------
    light : Light
        Gives the square root of luminance in cells of the map.
    codes : array of float32, shape (2, ROOT_CELLS + 1)
        Unrounded negative codes, see `root_codes`.
    tone : array, shape (LIGHT_BINS + 1,)
    all_greys : array, shape (256,) or (0,)
        Image tones of the greys of an 8-bit picture, empty for others.
    """

    light: Light
    codes: npt.NDArray[np.float32]
    tone: FloatArray
    all_greys: FloatArray

    def greys(self, _counts: npt.NDArray[np.int64]) -> FloatArray:
        """Return the image tones of an 8-bit picture's greys, for `Tally`."""
        return self.all_greys

    @classmethod
    def composed(
        cls,
        encoding: Encoding,
        table: LookupTable,
        dtype: npt.DTypeLike,
        *,
        scale_black: bool = True,
    ) -> "LightMap":
        """Compose encoding and table for samples of any type."""
        return cls(
            light=Light(
                encoding, dtype, scale_black=scale_black, unit=float(ROOT_CELLS)
            ),
            codes=root_codes(table),
            tone=root_tones(LIGHT_BINS),
            all_greys=(
                tone_map(encoding, 8, scale_black=scale_black)
                if np.dtype(dtype) == np.uint8
                else np.empty(0)
            ),
        )

    def painter(self, stride: int = 1) -> "LightPainter":
        """Return a painter for one thread, which counts every stride-th row."""
        return LightPainter(self, stride)


class LightPainter:
    """Paints any picture through light."""

    def __init__(self, light_map: LightMap, stride: int) -> None:
        self._light = light_map.light.reader()
        self._edges, self._changes = light_map.codes
        self._stride = stride
        self.counts = np.zeros(len(light_map.tone), np.int64)
        self._whole = np.empty(0, np.int32)
        self._index = np.empty(0, np.intp)
        self._values = np.empty(0, np.float32)

    def paint(self, rows: CodeArray, *, mirrored: bool, counted_from: int) -> Codes:
        """See `Painter`."""
        painted = np.empty(rows.shape[:2], np.uint16)
        for part in blocks(painted.shape):
            block = rows[part]
            light = self._light.of(block[:, ::-1] if mirrored else block)
            self.paint_light(
                light, painted[part], counted_from=part.start + counted_from
            )
        return painted

    def paint_light(
        self, root: npt.NDArray[np.float32], out: Codes, *, counted_from: int
    ) -> None:
        """Paint a block of square roots of luminance.

        Parameters
        ----------
        root : array of float32, shape (rows, columns)
            In cells of the map, white is `ROOT_CELLS`; is used up. Below black it
            falls into the first cell, which spans 5e-10 of image tone, and above
            white into the last one, which spans none.
        out : array of uint16, same shape
            Is filled.
        counted_from : int
            See `Painter`.
        """
        whole, index, values = self._buffers(root.shape)
        np.copyto(whole, root, casting="unsafe")
        np.copyto(index, whole)
        np.floor(root, out=values)
        root -= values
        np.take(self._changes, index, out=values, mode="clip")
        root *= values
        np.take(self._edges, index, out=values, mode="clip")
        root += values
        np.rint(root, out=root)
        np.copyto(out, root, casting="unsafe")
        counted = whole[(-counted_from) % self._stride :: self._stride]
        if counted.size:
            bins = (counted.ravel() + _HALF_BIN) >> _BIN_SHIFT
            np.clip(bins, 0, LIGHT_BINS, out=bins)
            self.counts += np.bincount(bins, minlength=len(self.counts))

    def _buffers(
        self, shape: tuple[int, ...]
    ) -> tuple[npt.NDArray[np.int32], npt.NDArray[np.intp], npt.NDArray[np.float32]]:
        size = math.prod(shape)
        if self._index.size < size:
            self._whole = np.empty(size, np.int32)
            self._index = np.empty(size, np.intp)
            self._values = np.empty(size, np.float32)
        return (
            self._whole[:size].reshape(shape),
            self._index[:size].reshape(shape),
            self._values[:size].reshape(shape),
        )


def blocks(shape: tuple[int, ...]) -> list[slice]:
    """Cut rows into blocks of about `BLOCK_PIXELS`."""
    rows, width = shape[:2]
    step = max(1, BLOCK_PIXELS // max(width, 1))
    return [slice(top, min(top + step, rows)) for top in range(0, rows, step)]
