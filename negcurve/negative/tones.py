"""The one map there is: codes of a picture to codes of its negative.

Knows how encoding and lookup table compose, exactly for every code of a grey picture
and by a fine map over light for all else; going through pictures is left to `painting`.
"""

import math
from dataclasses import replace
from typing import Literal

import numpy as np
import numpy.typing as npt

from negcurve.density import lightness_from_reflectance
from negcurve.encoding import (
    CurveEncoding,
    Encoding,
    black_is_scaled,
    black_luminance,
    image_tone,
)
from negcurve.errors import InvalidValueError
from negcurve.response.table import LookupTable
from negcurve.values import CodeArray, FloatArray

LARGEST_CODE = 65535
"""Of the negative; an 8-bit one is dithered from these codes."""

ROOT_CELLS = 2**17
"""Cells of the map over the square root of luminance. Between table nodes straight
lines over so many cells stay within 0.02 code of the curve; see the tests."""

STRAIGHT = LookupTable(
    tone_nodes=np.array([0.0, 1.0]), level_nodes=np.array([1.0, 0.0])
)
"""The uncorrected negative: negative level = 1 - image tone."""


def code_map(
    encoding: Encoding,
    table: LookupTable,
    bits: Literal[8, 16] = 16,
    *,
    scale_black: bool = True,
) -> npt.NDArray[np.uint16]:
    """Negative code for every code of a grey picture.

    Parameters
    ----------
    encoding : Encoding
        Of the picture; an RGB encoding is taken at equal channels.
    table : LookupTable
        Image tone to negative level.
    bits : {8, 16}
        Of the picture.
    scale_black : bool
        See `image_tone`.

    Returns
    -------
    array of uint16, shape (2**bits,)
        Non-increasing for every encoding that rises. Clipped, rounded half to even.
    """
    return rounded_codes(
        table.negative_level(tone_map(encoding, bits, scale_black=scale_black))
    )


def tone_map(
    encoding: Encoding, bits: Literal[8, 16] = 16, *, scale_black: bool = True
) -> FloatArray:
    """Image tone of every code of a grey picture, shape (2**bits,)."""
    level = np.linspace(0.0, 1.0, 2**bits)[:, np.newaxis]
    if encoding.channels != 1:
        level = np.repeat(level, encoding.channels, axis=1)
    return image_tone(encoding, level, scale_black=scale_black)


def rounded_codes(negative_level: FloatArray) -> npt.NDArray[np.uint16]:
    """16-bit codes of negative levels, any shape: clip, round half to even, cast."""
    scaled = np.clip(negative_level, 0.0, 1.0) * LARGEST_CODE
    return np.rint(scaled).astype(np.uint16)


def root_tones(cells: int = ROOT_CELLS) -> FloatArray:
    """Image tone at even steps of the square root of luminance.

    Parameters
    ----------
    cells : int
        Steps from root 0 to root 1.

    Returns
    -------
    array, shape (cells + 1,)

    Notes
    -----
    Over the root of luminance the slope of L* is bounded on both sides, which it is not
    over luminance itself (near black) nor over its cube root (no shorter to compute).
    """
    root = np.linspace(0.0, 1.0, cells + 1)
    return np.clip(lightness_from_reflectance(root * root) / 100, 0.0, 1.0)


def root_codes(table: LookupTable, cells: int = ROOT_CELLS) -> npt.NDArray[np.float32]:
    """Unrounded negative codes along the square root of luminance, cell by cell.

    Parameters
    ----------
    table : LookupTable
    cells : int
        Steps from root 0 to root 1.

    Returns
    -------
    array of float32, shape (2, cells + 1)
        Code at the lower edge of the cell, and how much it changes to the upper edge;
        the last cell is the end itself.
    """
    level = table.negative_level(root_tones(cells))
    codes = np.clip(level, 0.0, 1.0) * LARGEST_CODE
    changes = np.append(np.diff(codes), 0.0)
    return np.stack([codes, changes]).astype(np.float32)


def weighted(encoding: Encoding, weights: tuple[float, float, float]) -> CurveEncoding:
    """Weigh the channels as a lens filter does, instead of by luminance.

    Parameters
    ----------
    encoding : Encoding
        RGB with one curve a channel.
    weights : three float
        Shares of red, green, blue in linear light; scaled so that white stays white.

    Returns
    -------
    CurveEncoding

    Raises
    ------
    InvalidValueError
        If the weights do not add up to more than 0, one is negative, or the encoding
        has no separate channels.
    """
    total = sum(weights)
    if len(weights) != 3 or min(weights) < 0 or not 0 < total < np.inf:
        raise InvalidValueError(
            f"{','.join(f'{each:g}' for each in weights)} cannot weigh the channels",
            where="weights",
            fix="Give three shares of red, green, blue, such as 0.6,0.3,0.1.",
        )
    if not isinstance(encoding, CurveEncoding) or encoding.channels != 3:
        raise InvalidValueError(
            f"{encoding.name} has no separate red, green and blue light",
            where="weights",
            fix="Convert the picture to sRGB or another RGB working space first, or "
            "leave out the weights.",
        )
    red, green, blue = (each / total for each in weights)
    return replace(
        encoding, name=f"{encoding.name}, weighted", weights=(red, green, blue)
    )


class Light:
    """Linear light of blocks of a picture, black scaled, to a chosen power.

    Parameters
    ----------
    encoding : Encoding
        Of the picture.
    dtype : dtype
        Of the picture's samples: uint8, uint16 or float32.
    power : {1.0, 0.5}
        1 gives luminance, 0.5 its square root.
    precision : float type
        Of what is returned.
    scale_black : bool
        See `image_tone`.
    unit : float
        What white comes out as.
    """

    def __init__(
        self,
        encoding: Encoding,
        dtype: npt.DTypeLike,
        *,
        power: float = 0.5,
        precision: type[np.float32 | np.float64] = np.float32,
        scale_black: bool = True,
        unit: float = 1.0,
    ) -> None:
        self._encoding = encoding
        self._power = power
        self.precision = precision
        # Luminance of white, so that only tables and no pixels are multiplied.
        self._white = unit ** (1 / power)
        scaled = scale_black and black_is_scaled(encoding)
        self._black = black_luminance(encoding) if scaled else 0.0
        kind = np.dtype(dtype)
        self._largest = 1.0 if kind.kind == "f" else float(np.iinfo(kind).max)
        self.tables: list[CodeArray] = []
        if kind.kind != "f" and isinstance(encoding, CurveEncoding):
            self.tables = self._channel_tables(encoding, int(self._largest))

    def reader(self) -> "LightReader":
        """Return a reader for one thread."""
        return LightReader(self)

    def computed(self, block: CodeArray) -> CodeArray:
        """Light of a block where there are no tables: float samples, mixed channels."""
        level = block.astype(np.float64) / self._largest
        luminance = self._scaled(self._encoding.luminance(level) - self._black)
        return self.raised(luminance).astype(self.precision, copy=False)

    def raised(self, luminance: CodeArray) -> CodeArray:
        """Clip luminance, in place, and raise it to the power."""
        np.clip(luminance, 0.0, self._white, out=luminance)
        if self._power == 0.5:
            np.sqrt(luminance, out=luminance)
        return luminance

    def _scaled(self, luminance: FloatArray) -> FloatArray:
        scaled: FloatArray = luminance * (self._white / (1 - self._black))
        return scaled

    def _channel_tables(self, encoding: CurveEncoding, largest: int) -> list[CodeArray]:
        level = np.linspace(0.0, 1.0, largest + 1)
        shares = [
            weight * curve(level)
            for curve, weight in zip(encoding.curves, encoding.weights, strict=True)
        ]
        shares[0] = shares[0] - self._black
        tables = [self._scaled(each) for each in shares]
        if len(tables) == 1:
            tables = [self.raised(tables[0])]
        return [each.astype(self.precision) for each in tables]


class LightReader:
    """Reads light in one thread; keeps its buffers from block to block."""

    def __init__(self, light: Light) -> None:
        self._light = light
        self._index: CodeArray = np.empty(0, np.intp)
        self._found: CodeArray = np.empty(0, light.precision)
        self._share: CodeArray = np.empty(0, light.precision)

    def of(self, block: CodeArray, out: CodeArray | None = None) -> CodeArray:
        """Light of a block.

        Parameters
        ----------
        block : array, shape (rows, columns, channels)
            Samples of the picture.
        out : array, shape (rows, columns), optional
            Of the precision; is filled.

        Returns
        -------
        array, shape (rows, columns)
            Luminance to the power, 0..unit. The caller may change it; without `out`
            the next block overwrites it.
        """
        shape = block.shape[:2]
        if out is None:
            self._found = _at_least(self._found, shape)
        light = _part(self._found, shape) if out is None else out
        if not self._light.tables:
            light[:] = self._light.computed(block)
            return light
        first, *others = self._light.tables
        self._look_up(first, block[..., 0], light)
        if not others:
            return light
        self._share = _at_least(self._share, shape)
        share = _part(self._share, shape)
        for place, table in enumerate(others, start=1):
            self._look_up(table, block[..., place], share)
            light += share
        return self._light.raised(light)

    def _look_up(self, table: CodeArray, codes: CodeArray, out: CodeArray) -> None:
        self._index = _at_least(self._index, codes.shape)
        index = _part(self._index, codes.shape)
        np.copyto(index, codes)
        # Every index is a code of the table, so "clip" only spares a check.
        np.take(table, index, out=out, mode="clip")


def _at_least(room: CodeArray, shape: tuple[int, ...]) -> CodeArray:
    """Return memory that holds a shape: the same where it does."""
    size = math.prod(shape)
    return room if room.size >= size else np.empty(size, room.dtype)


def _part(room: CodeArray, shape: tuple[int, ...]) -> CodeArray:
    part: CodeArray = room[: math.prod(shape)].reshape(shape)
    return part
