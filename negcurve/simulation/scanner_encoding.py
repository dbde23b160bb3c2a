"""How a scanner's software writes light: curve, primaries, bits and profile."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from negcurve.simulation.fields import Image
from negcurve.simulation.paper import ImageColour
from negcurve.simulation.profile import (
    LUMINANCE_WEIGHTS,
    SRGB_TO_XYZ_D50,
    Matrix,
    encode,
    input_profile,
)


@dataclass(frozen=True, kw_only=True)
class ScannerEncoding:
    """How the scanner's software writes light.

    Attributes
    ----------
    name : str
        Invented.
    channels, bits : int
        1 or 3; 8 or 16.
    gamma : float or None
        None for the sRGB curve. Kept to 1/256, as a profile holds it.
    matrix : array, shape (3, 3)
        Linear red, green, blue to XYZ at D50.
    tagged : bool
        Whether the profile is embedded.
    """

    name: str
    channels: int = 3
    bits: int = 16
    gamma: float | None = None
    matrix: Matrix = SRGB_TO_XYZ_D50
    tagged: bool = True

    def __post_init__(self) -> None:
        if self.gamma is not None:
            object.__setattr__(self, "gamma", round(self.gamma * 256) / 256)

    @property
    def profile(self) -> bytes | None:
        """The embedded profile, None when the file is left untagged."""
        if not self.tagged:
            return None
        matrix = self.matrix if self.channels == 3 else None
        return input_profile(self.name, gamma=self.gamma, matrix=matrix)

    def codes(self, luminance: Image, colour: ImageColour) -> npt.NDArray[Any]:
        """Write luminance factors 0..1 of a print of one colour as codes."""
        table = self.quantized(self._table(colour))
        return np.asarray(table[_places(luminance)])

    def levels(self, luminance: Image, colour: ImageColour) -> Image:
        """Return the levels that `codes` rounds, as float32."""
        return self._table(colour).astype(np.float32)[_places(luminance)]

    def quantized(self, levels: npt.NDArray[Any]) -> npt.NDArray[Any]:
        """Round levels 0..1 of any shape to codes."""
        largest = 2**self.bits - 1
        dtype = np.uint16 if self.bits == 16 else np.uint8
        return np.asarray(np.rint(levels * largest).astype(dtype))

    def _table(self, colour: ImageColour) -> npt.NDArray[np.float64]:
        """Levels of 65536 even luminance factors."""
        light = colour.rgb(np.linspace(0.0, 1.0, 65536))
        if self.channels == 1:
            light = light @ LUMINANCE_WEIGHTS
        else:
            light = light @ (np.linalg.inv(self.matrix) @ np.array(SRGB_TO_XYZ_D50)).T
        return encode(light, self.gamma)


def _places(luminance: Image) -> npt.NDArray[np.uint16]:
    """Place of luminance factors in a table of 65536."""
    place = np.clip(luminance * np.float32(65535), 0, 65535)
    return np.asarray(place, dtype=np.uint16)
