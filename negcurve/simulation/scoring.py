"""How far a simulated print is from its aim, measured on its true response."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from negcurve.density import lightness_from_density
from negcurve.values import FloatArray

TONES = 256


@dataclass(frozen=True, eq=False, kw_only=True)
class PrintedError:
    """L* printed less L* wanted at even image tones.

    Attributes
    ----------
    image_tone, lightness, aim : arrays, shape (256,)
        Tone; printed and wanted L*.
    rms, worst : float
        Of the differences, worst without its sign. [L*]
    range_kept : float
        Printed span of L* over the span that an exact table would reach.
    """

    image_tone: FloatArray
    lightness: FloatArray
    aim: FloatArray
    rms: float
    worst: float
    range_kept: float


def printed_error(
    density: Callable[[FloatArray], npt.ArrayLike],
    negative_level: Callable[[FloatArray], npt.ArrayLike],
    *,
    black_share: float = 1.0,
) -> PrintedError:
    """Score what a way from image tone to negative level prints, without noise.

    Parameters
    ----------
    density : callable
        True print density of a negative level, array in, array out. [D]
    negative_level : callable
        Level in the negative for an image tone: a lookup table, or 1 - tone.
    black_share : float
        The end rule of the aim: black at this share of the density range.

    Returns
    -------
    PrintedError
        Against L* straight in image tone between the ends that an exact table under
        the same end rule reaches.
    """
    tone = np.linspace(0.0, 1.0, TONES)
    reached = np.asarray(density(np.linspace(0.0, 1.0, 4097)))
    lowest, highest = float(reached.min()), float(reached.max())
    ends = [lowest + black_share * (highest - lowest), lowest]
    black, white = lightness_from_density(ends)
    aim = black + tone * (white - black)
    printed = lightness_from_density(density(np.asarray(negative_level(tone))))
    difference = printed - aim
    return PrintedError(
        image_tone=tone,
        lightness=printed,
        aim=aim,
        rms=float(np.sqrt(np.mean(difference**2))),
        worst=float(np.abs(difference).max()),
        range_kept=float((printed[-1] - printed[0]) / (white - black)),
    )
