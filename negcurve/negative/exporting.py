"""The one map as samples, for files that carry it into other programs.

Knows which values a file is to hold and how far it may be from the table; the formats
are left to `negcurve.files`.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from negcurve.density import lightness_from_density
from negcurve.encoding import CurveEncoding, image_tone
from negcurve.negative.tones import LARGEST_CODE
from negcurve.response.response import Response
from negcurve.response.table import LookupTable
from negcurve.target.ink import BLACK, Ink
from negcurve.values import FloatArray

Map = Callable[[FloatArray], FloatArray]
"""Values, shape (m, channels), of what goes in, shape (m,)."""


@dataclass(frozen=True, eq=False, kw_only=True)
class ExportedMap:
    """What a file is to do to the levels of a grey picture.

    Attributes
    ----------
    table : LookupTable
    encoding : CurveEncoding
        Of the picture's levels.
    inverted : bool
        Whether a negative comes out; else the positive that is to be inverted.
    ink : Ink
        Full ink of the negative; with another than black there are three channels.
    """

    table: LookupTable
    encoding: CurveEncoding
    inverted: bool = True
    ink: Ink = BLACK

    @property
    def channels(self) -> int:
        """1, or 3 with a coloured ink."""
        return 1 if self.ink == BLACK else 3

    def of_level(self, level: FloatArray) -> FloatArray:
        """Return what comes out for levels of the picture.

        Parameters
        ----------
        level : array, shape (m,)
            In the picture's encoding, 0..1.

        Returns
        -------
        array, shape (m, channels)
            0..1.
        """
        return self.of_tone(image_tone(self.encoding, level[:, np.newaxis]))

    def of_lightness(self, lightness: FloatArray) -> FloatArray:
        """Return what comes out for L* of the picture; as `of_level`."""
        return self.of_tone(np.clip(lightness / 100, 0, 1))

    def of_tone(self, tone: FloatArray) -> FloatArray:
        """Return what comes out for image tones; as `of_level`."""
        level = self.table.negative_level(tone)
        rows = self.ink.colour(level)[:, : self.channels]
        return rows if self.inverted else 1 - rows

    def lightness_of(self, device_level: FloatArray) -> FloatArray:
        """L* of the picture that gives levels of the file; the map turned round.

        Parameters
        ----------
        device_level : array, shape (m,)
            0..1; beyond what the table reaches its nearer end is taken. [1]

        Returns
        -------
        array, shape (m,)
            [L*]
        """
        level = device_level if self.inverted else 1 - device_level
        nodes = self.table.level_nodes[::-1], self.table.tone_nodes[::-1]
        return 100 * np.interp(level, *nodes)


@dataclass(frozen=True, kw_only=True)
class Error:
    """How far a file is from the table, at worst.

    Attributes
    ----------
    level : float
        Of the levels that it gives, over all codes of 16 bits. [1]
    lightness : float
        Of the print, NaN where the response is not known. [L*]
    """

    level: float
    lightness: float

    @property
    def text(self) -> str:
        """In codes of 16 bits, and L* of the print where known."""
        said = f"{self.level * LARGEST_CODE:.2f} of a 16-bit code"
        if self.lightness != self.lightness:
            return said
        return f"{said}, {self.lightness:.3f} L* of the print"


def largest_error(
    read: Map, wanted: Map, exported: ExportedMap, response: Response | None
) -> Error:
    """Follow a file at every code of 16 bits and compare with the table.

    Parameters
    ----------
    read : Map
        The file, followed as a reader does.
    wanted : Map
        The table, for the same input.
    exported : ExportedMap
        Says how values stand for levels of the negative.
    response : Response or None

    Returns
    -------
    Error
    """
    inputs = np.linspace(0, 1, LARGEST_CODE + 1)
    found, aim = read(inputs), wanted(inputs)
    level = float(np.abs(found - aim).max())
    if response is None:
        return Error(level=level, lightness=float("nan"))
    prints = [_printed(values, exported, response) for values in (found, aim)]
    return Error(level=level, lightness=float(np.abs(prints[0] - prints[1]).max()))


def _printed(
    values: FloatArray, exported: ExportedMap, response: Response
) -> FloatArray:
    """L* of the print of values of the file, the most telling channel taken."""
    rows = values if exported.inverted else 1 - values
    full = 1 - exported.ink.colour(0.0)[: exported.channels]
    channel = int(full.argmax())
    level = 1 - (1 - rows[:, channel]) / full[channel]
    return lightness_from_density(response.density(np.clip(level, *response.domain)))
