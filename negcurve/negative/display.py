"""A print on the screen: sRGB codes for print densities in the colour of a process.

Knows display colour alone; it serves looking, never measuring.
"""

from typing import Literal, get_args

import numpy as np
import numpy.typing as npt

from negcurve.density import lightness_from_density, reflectance_from_lightness
from negcurve.encoding import BRADFORD, D50_XYZ, D65_XY, SRGB_PRIMARIES
from negcurve.errors import InvalidValueError
from negcurve.values import FloatArray

ImageColour = Literal["neutral", "warm", "blue"]
"""Black-and-white, warm brown, or the blue of iron prints."""

_SHARE = (0.0, 0.15, 0.5, 0.8, 1.0)
_HUES: dict[str, tuple[tuple[float, float], ...]] = {
    "neutral": ((0, 1), (0, 1), (0, 1), (0, 0.5), (0, 0)),
    "warm": ((1, 5), (3, 9), (8, 16), (8, 14), (5, 8)),
    "blue": ((0, 2), (-3, -4), (-5, -22), (-1, -32), (5, -27)),
}
"""a*, b* at shares of the print's density range, from white to black. Chosen by eye to
look like such prints; only L* is that of the response."""


def _xyz(x: float, y: float) -> FloatArray:
    return np.array([x / y, 1.0, (1 - x - y) / y])


def linear_srgb_from_xyz() -> FloatArray:
    """Matrix from XYZ of D50 to linear sRGB, shape (3, 3).

    Notes
    -----
    Primaries and white of IEC 61966-2-1:1999; Bradford adaptation as in ICC.1:2010,
    annex E.
    """
    directions = np.array([_xyz(*each) for each in SRGB_PRIMARIES]).T
    white = _xyz(*D65_XY)
    to_xyz = directions * np.linalg.solve(directions, white)
    gains = (BRADFORD @ np.array(D50_XYZ)) / (BRADFORD @ white)
    adaptation = np.linalg.solve(BRADFORD, gains[:, np.newaxis] * BRADFORD)
    return np.linalg.inv(adaptation @ to_xyz)


def linear_srgb_from_lab(
    lightness: FloatArray, a: FloatArray, b: FloatArray
) -> FloatArray:
    """Linear sRGB of CIE L*a*b* for D50.

    Parameters
    ----------
    lightness, a, b : array, shape (n,)

    Returns
    -------
    array, shape (n, 3)
        Beyond 0..1 where sRGB cannot show the colour.

    Notes
    -----
    Source: CIE 15:2004, 8.2.1.1, solved for X, Y, Z.
    """
    middle = (np.asarray(lightness) + 16) / 116
    xyz = np.stack(
        [
            _cone(middle + np.asarray(a) / 500) * D50_XYZ[0],
            reflectance_from_lightness(lightness),
            _cone(middle - np.asarray(b) / 200) * D50_XYZ[2],
        ],
        axis=-1,
    )
    return xyz @ linear_srgb_from_xyz().T


def _cone(value: FloatArray) -> FloatArray:
    return np.where(value > 6 / 29, value**3, (value - 16 / 116) * 3 * (6 / 29) ** 2)


def srgb_codes(linear: npt.ArrayLike) -> npt.NDArray[np.uint8]:
    """8-bit sRGB codes of linear light, any shape, clipped.

    Notes
    -----
    Source: IEC 61966-2-1:1999, 5.3.
    """
    light = np.clip(np.asarray(linear, dtype=np.float64), 0.0, 1.0)
    level = np.where(
        light <= 0.0031308, 12.92 * light, 1.055 * np.power(light, 1 / 2.4) - 0.055
    )
    return np.asarray(np.rint(level * 255), dtype=np.uint8)


def print_colours(
    density: FloatArray, ends: tuple[float, float], colour: ImageColour
) -> npt.NDArray[np.uint8]:
    """Colours on the screen of print densities.

    Parameters
    ----------
    density : array, shape (n,)
        Absolute. [D]
    ends : (float, float)
        Lightest and darkest of the print. [D]
    colour : {"neutral", "warm", "blue"}

    Returns
    -------
    array of uint8, shape (n, 3)
        Their L* is that of the density, to what 8 bits can hold.

    Raises
    ------
    InvalidValueError
        If the colour is not known.
    """
    if colour not in get_args(ImageColour):
        raise InvalidValueError(
            f"{colour!r} is not known",
            where="colour",
            fix=f"Use {', '.join(get_args(ImageColour))}.",
        )
    share = (density - ends[0]) / (ends[1] - ends[0])
    hues = np.array(_HUES[colour])
    a = np.interp(share, _SHARE, hues[:, 0])
    b = np.interp(share, _SHARE, hues[:, 1])
    lightness = np.minimum(lightness_from_density(density), 100.0)
    chroma = np.ones_like(lightness)
    for _ in range(40):  # less chroma where sRGB has less: 0.9^40 leaves 1.5 %
        linear = linear_srgb_from_lab(lightness, a * chroma, b * chroma)
        outside = (linear < 0).any(axis=-1) | (linear > 1).any(axis=-1)
        if not outside.any():
            break
        chroma[outside] *= 0.9
    return srgb_codes(linear)
