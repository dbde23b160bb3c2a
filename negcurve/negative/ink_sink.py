"""Grey rows of a negative as red, green and blue: three alike, or in a coloured ink."""

from abc import ABC, abstractmethod

import numpy as np

from negcurve.errors import InvalidValueError
from negcurve.negative.dither import Dither
from negcurve.negative.tones import LARGEST_CODE, rounded_codes
from negcurve.target.ink import Ink
from negcurve.values import CodeArray, StripSink, placed


class _Colours(ABC):
    """Writes grey rows as colours, in order or in their place."""

    def __init__(self, sink: StripSink) -> None:
        self._sink = sink
        self._placed = placed(sink)
        self._top = 0

    @property
    def in_any_order(self) -> bool:
        """Whether `write_at` may be used: as the sink."""
        return self._placed is not None

    def write(self, rows: CodeArray) -> None:
        """Append grey rows, shape (n, width)."""
        self._sink.write(self._colours(rows, self._top))
        self._top += len(rows)

    def write_at(self, top: int, rows: CodeArray) -> None:
        """Write grey rows in their place, from any thread."""
        if self._placed is None:
            raise InvalidValueError("the sink takes rows in order", where="top")
        self._placed.write_at(top, self._colours(rows, top))

    @abstractmethod
    def _colours(self, rows: CodeArray, top: int) -> CodeArray:
        """Return rows whose first is row `top`, shape (n, width, 3)."""


class ThreeChannels(_Colours):
    """Writes grey rows as equal red, green and blue, where the target was RGB."""

    def _colours(self, rows: CodeArray, _top: int) -> CodeArray:
        colours = np.empty((*rows.shape, 3), rows.dtype)
        colours[...] = rows[..., np.newaxis]
        return colours


class InkColour(_Colours):
    """Writes grey rows in a coloured ink.

    Parameters
    ----------
    sink : StripSink
        Takes RGB rows, uint16, or uint8 where `bits` is 8.
    ink : Ink
        Full ink.
    width : int
        Of the rows. [pixels]
    bits : {8, 16}
        Of the file. 8 bits are dithered here, each channel for itself: dithered before,
        levels would be rounded once more in the weaker channels.
    """

    def __init__(self, sink: StripSink, ink: Ink, *, width: int, bits: int) -> None:
        super().__init__(sink)
        level = np.arange(LARGEST_CODE + 1) / LARGEST_CODE
        self._ink_codes = rounded_codes(ink.colour(level))
        self._dither = Dither(width) if bits == 8 else None

    def _colours(self, rows: CodeArray, top: int) -> CodeArray:
        colour: CodeArray = np.take(self._ink_codes, rows, axis=0)
        if self._dither is None:
            return colour
        channels = np.moveaxis(colour, 2, 0)
        return np.stack(
            [self._dither.codes(each, top=top) for each in channels], axis=2
        )
