"""How the levels of a file stand for light: curves, weights, standard encodings.

Knows sRGB, gamma, linear and lightness encodings; profiles found in files are turned
into encodings by `negcurve.files.icc`.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from negcurve.density import lightness_from_reflectance, reflectance_from_lightness
from negcurve.errors import InvalidValueError
from negcurve.values import FloatArray

TransferCurve = Callable[[FloatArray], FloatArray]
"""Linear light 0..1 from level 0..1, elementwise."""

D50_XYZ = (0.9642, 1.0, 0.8249)
"""White of the profile connection space. Source: ICC.1:2010 (ISO 15076-1), 7.2.16."""

BRADFORD = np.array(
    [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]
)
"""Linear Bradford cone matrix. Source: ICC.1:2010, annex E."""

BLACK_LIGHTNESS_LIMIT = 1.0
"""L* above which an encoding's black is scaled to 0, unless asked not to. Ours."""


class Encoding(Protocol):
    """How the levels of a file stand for light."""

    @property
    def name(self) -> str:
        """For messages."""
        ...

    @property
    def channels(self) -> int:
        """1 for grey, 3 for RGB."""
        ...

    def luminance(self, level: FloatArray) -> FloatArray:
        """Return Y (D50, white = 1), shape (...), of levels of shape (..., channels).

        Media-relative (relative colorimetric); levels outside 0..1 are clipped.
        """
        ...


@dataclass(frozen=True, kw_only=True)
class CurveEncoding:
    """One curve a channel, then a weighted sum: grey and matrix encodings.

    Attributes
    ----------
    name : str
        For messages.
    curves : tuple of TransferCurve
        One for grey, three for RGB.
    weights : tuple of float
        Share of each channel in D50 luminance, in the order of the curves.
    """

    name: str
    curves: tuple[TransferCurve, ...]
    weights: tuple[float, ...] = (1.0,)

    def __post_init__(self) -> None:
        if len(self.curves) not in (1, 3) or len(self.curves) != len(self.weights):
            raise InvalidValueError(
                f"has {len(self.curves)} curves and {len(self.weights)} weights",
                where=self.name,
                fix="An encoding has one of each for grey or three for RGB.",
            )

    @property
    def channels(self) -> int:
        """1 for grey, 3 for RGB."""
        return len(self.curves)

    def luminance(self, level: FloatArray) -> FloatArray:
        """D50 luminance factor of levels.

        Parameters
        ----------
        level : array, shape (..., channels)
            Clipped to 0..1. An RGB encoding also takes shape (..., 1): equal channels.

        Returns
        -------
        array, shape (...)
            Y relative to the encoding's white. [1]
        """
        given = np.clip(np.asarray(level, dtype=np.float64), 0.0, 1.0)
        _check_channels(given, self.channels, self.name)
        total = np.zeros(given.shape[:-1])
        for place, (curve, weight) in enumerate(
            zip(self.curves, self.weights, strict=True)
        ):
            channel = given[..., place if given.shape[-1] > 1 else 0]
            total += weight * curve(channel)
        return np.clip(total, 0.0, None)


def _check_channels(level: FloatArray, channels: int, name: str) -> None:
    given = level.shape[-1] if level.ndim else 0
    if given not in (1, channels):
        raise InvalidValueError(
            f"takes {channels} channels, the levels have shape {level.shape}",
            where=f"encoding {name}",
        )


def srgb_to_linear(level: FloatArray) -> FloatArray:
    """Linear light from an sRGB level.

    Notes
    -----
    Source: IEC 61966-2-1:1999, 5.2.
    """
    return np.where(
        level <= 0.04045, level / 12.92, ((np.maximum(level, 0) + 0.055) / 1.055) ** 2.4
    )


def gamma_to_linear(gamma: float) -> TransferCurve:
    """Return the curve light = level^gamma.

    Raises
    ------
    InvalidValueError
        If gamma lies outside 0.2..5.
    """
    if not 0.2 <= gamma <= 5:
        raise InvalidValueError(
            f"{gamma:g} lies outside 0.2..5",
            where="gamma",
            fix="Linear scans have gamma 1, most others 1.8 or 2.2.",
        )
    return lambda level: np.power(level, gamma)


def lightness_to_linear(level: FloatArray) -> FloatArray:
    """Linear light of L* = 100 level."""
    return reflectance_from_lightness(100 * level)


def luminance_weights(
    primaries: Sequence[tuple[float, float]], white: tuple[float, float]
) -> tuple[float, float, float]:
    """Share of each primary in D50 luminance, adapted from the encoding's own white.

    Parameters
    ----------
    primaries : three pairs of float
        CIE 1931 x, y of red, green, blue.
    white : pair of float
        CIE 1931 x, y of white.

    Returns
    -------
    tuple of three float
        They add up to 1.

    Notes
    -----
    Source: primaries to XYZ as in SMPTE RP 177:1993; Bradford adaptation as in
    ICC.1:2010, annex E.
    """
    directions = np.array([_xyz(*each) for each in primaries]).T
    white_xyz = _xyz(*white)
    to_xyz = directions * np.linalg.solve(directions, white_xyz)
    gains = (BRADFORD @ np.array(D50_XYZ)) / (BRADFORD @ white_xyz)
    adapted = np.linalg.solve(BRADFORD, gains[:, np.newaxis] * (BRADFORD @ to_xyz))
    red, green, blue = (float(each) for each in adapted[1])
    return red, green, blue


def _xyz(x: float, y: float) -> FloatArray:
    return np.array([x / y, 1.0, (1 - x - y) / y])


SRGB_PRIMARIES = ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06))
"""Source: IEC 61966-2-1:1999, table 1 (those of ITU-R BT.709)."""

D65_XY = (0.3127, 0.3290)
"""Source: IEC 61966-2-1:1999, table 1."""

SRGB_WEIGHTS = luminance_weights(SRGB_PRIMARIES, D65_XY)

SRGB = CurveEncoding(name="sRGB", curves=(srgb_to_linear,) * 3, weights=SRGB_WEIGHTS)
SRGB_GREY = CurveEncoding(name="sRGB grey", curves=(srgb_to_linear,))
LINEAR = CurveEncoding(
    name="linear", curves=(gamma_to_linear(1.0),) * 3, weights=SRGB_WEIGHTS
)
LINEAR_GREY = CurveEncoding(name="linear grey", curves=(gamma_to_linear(1.0),))
LIGHTNESS_GREY = CurveEncoding(name="lightness", curves=(lightness_to_linear,))


def grey_encoding(gamma: float) -> CurveEncoding:
    """Return the grey encoding light = level^gamma."""
    return CurveEncoding(name=f"grey gamma {gamma:g}", curves=(gamma_to_linear(gamma),))


def rgb_encoding(gamma: float) -> CurveEncoding:
    """Return the RGB encoding light = level^gamma with the primaries of sRGB."""
    return CurveEncoding(
        name=f"RGB gamma {gamma:g}",
        curves=(gamma_to_linear(gamma),) * 3,
        weights=SRGB_WEIGHTS,
    )


GREY_ENCODINGS: dict[str, CurveEncoding] = {
    "srgb": SRGB_GREY,
    "gamma-1.8": grey_encoding(1.8),
    "gamma-2.2": grey_encoding(2.2),
    "linear": LINEAR_GREY,
    "lightness": LIGHTNESS_GREY,
}
"""The standard grey encodings by the names used on the command line."""


def black_luminance(encoding: Encoding) -> float:
    """Return Y of level 0, relative to the white of the encoding."""
    return float(encoding.luminance(np.zeros((1, encoding.channels)))[0])


def black_is_scaled(encoding: Encoding) -> bool:
    """Whether `image_tone` scales the encoding's black to 0 by default."""
    return bool(
        lightness_from_reflectance(black_luminance(encoding)) > BLACK_LIGHTNESS_LIMIT
    )


def image_tone(
    encoding: Encoding, level: FloatArray, *, scale_black: bool = True
) -> FloatArray:
    """Image tone, L*/100, of levels seen through their encoding.

    Parameters
    ----------
    encoding : Encoding
        Of the file that the levels come from.
    level : array, shape (..., channels)
        0..1.
    scale_black : bool
        Scale luminance so that level 0 has tone 0, where its L* lies above 1.

    Returns
    -------
    array, shape (...)
        0..1.

    Notes
    -----
    Black is scaled straight in luminance, Y' = (Y - Yb) / (1 - Yb), as in black point
    compensation. Source: ISO 18619:2015 (from memory).
    """
    luminance = encoding.luminance(level)
    if scale_black and black_is_scaled(encoding):
        black = black_luminance(encoding)
        luminance = np.clip((luminance - black) / (1 - black), 0, None)
    return np.clip(lightness_from_reflectance(luminance) / 100, 0.0, 1.0)
