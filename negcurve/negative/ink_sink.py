"""Grey rows of a negative as red, green and blue: three alike, or in a coloured ink."""

import numpy as np

from negcurve.negative.dither import Dither
from negcurve.negative.tones import LARGEST_CODE, rounded_codes
from negcurve.target.ink import Ink
from negcurve.values import CodeArray, StripSink


class ThreeChannels:
    """Writes grey rows as equal red, green and blue, where the target was RGB."""

    def __init__(self, sink: StripSink) -> None:
        self._sink = sink

    def write(self, rows: CodeArray) -> None:
        """Append grey rows, shape (n, width)."""
        self._sink.write(np.repeat(rows[..., np.newaxis], 3, axis=2))


class InkColour:
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
        self._sink = sink
        level = np.arange(LARGEST_CODE + 1) / LARGEST_CODE
        self._colours = rounded_codes(ink.colour(level))
        self._dither = Dither(width) if bits == 8 else None
        self._top = 0

    def write(self, rows: CodeArray) -> None:
        """Append grey rows, uint16, shape (n, width)."""
        colour: CodeArray = np.take(self._colours, rows, axis=0)
        if self._dither is not None:
            channels = np.moveaxis(colour, 2, 0)
            colour = np.stack(
                [self._dither.codes(each, top=self._top) for each in channels], axis=2
            )
        self._top += len(rows)
        self._sink.write(colour)
