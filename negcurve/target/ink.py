"""The ink of a negative: black, or a mixed colour that holds back more UV.

Knows how one level becomes three codes; which colour is best is found by printing
mixtures, see `mixtures`.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from negcurve.errors import InvalidValueError
from negcurve.values import FloatArray

LARGEST = 255
"""Ink colours are named by 8-bit codes, as every picture editor shows them."""


@dataclass(frozen=True, kw_only=True)
class Ink:
    """The code that asks the printer for full ink.

    Attributes
    ----------
    red, green, blue : int
        0..255; all 0 is black, all 255 clear film.
    """

    red: int
    green: int
    blue: int

    def __post_init__(self) -> None:
        for each in self.codes:
            if not isinstance(each, int) or not 0 <= each <= LARGEST:
                raise InvalidValueError(
                    f"{self.text!r} is not a colour of ink",
                    where="ink",
                    fix="Give the codes of red, green and blue, each a whole number "
                    "from 0 to 255: 0,96,32.",
                )

    @property
    def codes(self) -> tuple[int, int, int]:
        """Red, green and blue, 0..255."""
        return self.red, self.green, self.blue

    @property
    def text(self) -> str:
        """As typed: `R,G,B`."""
        return ",".join(str(each) for each in self.codes)

    @property
    def amount(self) -> float:
        """Ink asked for: mean of what red, green and blue lack of clear, 0..1. [1].

        What the driver lays down for it is not known; black asks for most.
        """
        return 1 - sum(self.codes) / (3 * LARGEST)

    def colour(self, negative_level: npt.ArrayLike) -> FloatArray:
        """Red, green and blue levels of negative levels.

        Parameters
        ----------
        negative_level : array, any shape
            0 full ink to 1 clear film. [1]

        Returns
        -------
        array, shape (..., 3)
            From this colour at level 0 straight to clear film at level 1. [1]
        """
        asked = 1 - np.asarray(negative_level, dtype=np.float64)
        full = 1 - np.array(self.codes) / LARGEST
        return np.asarray(1 - np.multiply.outer(asked, full))


BLACK = Ink(red=0, green=0, blue=0)
CLEAR = Ink(red=LARGEST, green=LARGEST, blue=LARGEST)


def parse_ink(text: str) -> Ink:
    """Turn `R,G,B` into an ink.

    Parameters
    ----------
    text : str
        Three whole numbers from 0 to 255.

    Returns
    -------
    Ink

    Raises
    ------
    InvalidValueError
        If it is anything else.
    """
    try:
        red, green, blue = (int(each) for each in text.split(","))
    except ValueError:
        raise InvalidValueError(
            f"{text!r} is not a colour of ink",
            where="ink",
            fix="Give the codes of red, green and blue, each a whole number from 0 "
            "to 255: 0,96,32.",
        ) from None
    return Ink(red=red, green=green, blue=blue)


def film_ink(text: str) -> Ink:
    """Turn `R,G,B` into an ink that negatives can be made of; see `parse_ink`.

    Raises
    ------
    InvalidValueError
        If it is no colour, or asks for no ink at all.
    """
    ink = parse_ink(text)
    if ink == CLEAR:
        raise InvalidValueError(
            "255,255,255 asks for no ink at all",
            where="ink",
            fix="Give the colour that full ink has; black is 0,0,0.",
        )
    return ink
