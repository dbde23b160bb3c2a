"""Tables within ICC profiles, written, read and followed as a reader would.

Source: ICC.1:2010 (ISO 15076-1), clauses 10.10 lut16Type and 10.12 lutAToBType; clause
numbers from memory.
"""

import struct
from dataclasses import dataclass
from itertools import product
from typing import Self

import numpy as np
import numpy.typing as npt

from negcurve.encoding import TransferCurve
from negcurve.errors import FileError
from negcurve.files.icc_curves import parse_curve
from negcurve.values import FloatArray

MOST_ENTRIES = 4096
"""Of an input or output table. Source: as above."""

LARGEST = 65535

_IDENTITY = (65536, 0, 0, 0, 65536, 0, 0, 0, 65536)
_HEAD = ">4s4xBBBx9iHH"
_CURVES_HEAD = ">4s4xBB2xI16x"
_CURVES_HEAD_ALL = ">4s4xBB2x5I"
_CURVES_AT = struct.calcsize(_CURVES_HEAD)

Codes = npt.NDArray[np.uint16]


@dataclass(frozen=True, eq=False, kw_only=True)
class Lut16:
    """A table a channel, then a grid of several dimensions, then a table a channel.

    Attributes
    ----------
    inputs : array of uint16, shape (i, n)
    grid : array of uint16, shape (g, ..., g, o)
        With i axes before the last.
    outputs : array of uint16, shape (o, m)
    """

    inputs: Codes
    grid: Codes
    outputs: Codes

    def tag(self) -> bytes:
        """Return the tag's data."""
        head = struct.pack(
            _HEAD,
            b"mft2",
            len(self.inputs),
            len(self.outputs),
            self.grid.shape[0],
            *_IDENTITY,
            self.inputs.shape[1],
            self.outputs.shape[1],
        )
        parts = (self.inputs, self.grid, self.outputs)
        return head + b"".join(part.astype(">u2").tobytes() for part in parts)

    @classmethod
    def from_tag(cls, tag: bytes, *, where: str) -> Self:
        """Read a tag.

        Parameters
        ----------
        tag : bytes
        where : str
            File, for messages.

        Returns
        -------
        Lut16

        Raises
        ------
        FileError
            If it is of another type, or its length is not what it says.
        """
        size = struct.calcsize(_HEAD)
        if tag[:4] != b"mft2" or len(tag) < size:
            raise FileError("holds no table of type mft2", where=where)
        _, ins, outs, points, *rest = struct.unpack(_HEAD, tag[:size])
        entries_in, entries_out = rest[-2:]
        shapes = ((ins, entries_in), (*(points,) * ins, outs), (outs, entries_out))
        counts = [int(np.prod(shape)) for shape in shapes]
        if len(tag) < size + 2 * sum(counts):
            raise FileError("its table is cut off", where=where)
        codes = np.frombuffer(tag, dtype=">u2", count=sum(counts), offset=size)
        ends = np.cumsum(counts)
        inputs, grid, outputs = (
            codes[end - count : end].astype(np.uint16).reshape(shape)
            for end, count, shape in zip(ends, counts, shapes, strict=True)
        )
        return cls(inputs=inputs, grid=grid, outputs=outputs)

    def apply(self, values: npt.ArrayLike) -> FloatArray:
        """Follow the tables, straight between their entries.

        Parameters
        ----------
        values : array, shape (..., i)
            0..1.

        Returns
        -------
        array, shape (..., o)
            0..1.
        """
        given = np.asarray(values, dtype=np.float64)
        steps = self.grid.shape[0] - 1
        places = steps * np.stack(
            [
                _followed(self.inputs[axis], given[..., axis])
                for axis in range(len(self.inputs))
            ],
            axis=-1,
        )
        low = np.minimum(places.astype(int), steps - 1)
        share = places - low
        found = np.zeros((*given.shape[:-1], len(self.outputs)))
        for corner in product((0, 1), repeat=len(self.inputs)):
            near = np.where(corner, share, 1 - share).prod(axis=-1)
            index = tuple(np.moveaxis(low + corner, -1, 0))
            found += near[..., np.newaxis] * self.grid[index] / LARGEST
        return np.stack(
            [
                _followed(self.outputs[place], found[..., place])
                for place in range(len(self.outputs))
            ],
            axis=-1,
        )


def codes_of(values: npt.ArrayLike) -> Codes:
    """16-bit codes of values 0..1, any shape: clip, round half to even, cast."""
    scaled = np.clip(np.asarray(values, dtype=np.float64), 0.0, 1.0) * LARGEST
    return np.rint(scaled).astype(np.uint16)


def curves_tag(samples: FloatArray) -> bytes:
    """Return a lutAToBType of one sampled curve a channel and nothing else.

    Parameters
    ----------
    samples : array, shape (n, channels)
        0..1, at even steps of the same channel going in.

    Returns
    -------
    bytes

    Notes
    -----
    Source: ICC.1:2010, 10.12, "B" curves alone, and 10.5 curveType; from memory.
    """
    curves = b"".join(sampled_curve(each) for each in samples.T)
    head = struct.pack(_CURVES_HEAD, b"mAB ", *(samples.shape[1],) * 2, _CURVES_AT)
    return head + curves


def sampled_curve(values: npt.ArrayLike) -> bytes:
    """Return a curveType, padded to a multiple of four; ICC.1:2010, 10.5."""
    codes = codes_of(values).astype(">u2").tobytes()
    head = b"curv\0\0\0\0" + struct.pack(">I", len(codes) // 2)
    return head + codes + b"\0" * (-len(codes) % 4)


def curves_of_tag(tag: bytes, *, where: str) -> tuple[TransferCurve, ...]:
    """Read what `curves_tag` wrote.

    Raises
    ------
    FileError
        If the tag is of another type or holds more than curves.
    """
    kind, ins, outs, place, *others = struct.unpack(_CURVES_HEAD_ALL, tag[:_CURVES_AT])
    if kind != b"mAB " or ins != outs or any(others):
        raise FileError("holds no plain curves", where=where)
    curves = []
    for _ in range(ins):
        (count,) = struct.unpack_from(">I", tag, place + 8)
        curves.append(parse_curve(tag[place : place + 12 + 2 * count]))
        place += (12 + 2 * count + 3) // 4 * 4
    return tuple(curves)


def _followed(table: Codes, value: FloatArray) -> FloatArray:
    places = np.linspace(0, 1, len(table))
    return np.asarray(np.interp(value, places, table / LARGEST))
