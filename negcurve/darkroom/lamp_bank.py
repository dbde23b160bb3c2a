"""Light of a bank of parallel tubes: ripple, a dead tube, edges, distance.

The tubes are endless lines without a reflector, each lighting the paper as h / (h^2 +
x^2); reflectors and diffusers make real banks evener.
"""

import math

from negcurve.darkroom.solutions import above_zero
from negcurve.errors import InvalidValueError


def ripple(height_over_spacing: float) -> float:
    """Least over greatest light across the tubes of an endless bank.

    Parameters
    ----------
    height_over_spacing : float
        Height above the paper over the distance from tube to tube, above 0.

    Returns
    -------
    float
        tanh^2(pi h / s), 0..1.

    Notes
    -----
    The sum over all tubes of h / (h^2 + (x - k s)^2) is coth(pi h / s) pi / s under a
    tube and tanh(pi h / s) pi / s between two: Mittag-Leffler series of the hyperbolic
    cotangent, in any table of series.
    """
    return math.tanh(math.pi * above_zero(height_over_spacing, "height")) ** 2


def dead_tube_loss(height_over_spacing: float) -> float:
    """Share of the light that is missing beneath a dead tube in a wide bank.

    Parameters
    ----------
    height_over_spacing : float
        As above.

    Returns
    -------
    float
        (s / pi h) tanh(pi h / s), 0..1. The dip is 2 h wide at half its depth, runs
        along the tubes, and stays with the lamp when the paper is turned.
    """
    ratio = math.pi * above_zero(height_over_spacing, "height")
    return math.tanh(ratio) / ratio


def edge_light(overhang_over_height: float) -> float:
    """Light at a sheet's edge against that under an endless bank.

    Parameters
    ----------
    overhang_over_height : float
        How far the bank reaches beyond the edge, over its height; 0 or more.

    Returns
    -------
    float
        0.5 + atan(x / h) / pi.

    Raises
    ------
    InvalidValueError
        If the overhang is negative.
    """
    if not overhang_over_height >= 0:
        raise InvalidValueError(
            f"{overhang_over_height:g} of the height is no overhang",
            where="overhang",
            fix="Give how far the bank reaches beyond the sheet's edge, 0 or more.",
        )
    return 0.5 + math.atan(overhang_over_height) / math.pi


def overhang_for(light: float) -> float:
    """Overhang over height that keeps the edge at a share of the full light.

    Parameters
    ----------
    light : float
        0.5..1, without the 1.

    Raises
    ------
    InvalidValueError
        If the share is out of range.
    """
    if not 0.5 <= light < 1:
        raise InvalidValueError(
            f"{light:g} lies outside 0.5..1",
            where="edge light",
            fix="Right below the end of a bank half the light is left, and never all.",
        )
    return math.tan(math.pi * (light - 0.5))


def center_light(width_over_height: float) -> float:
    """Light under the middle of a bank of some width against an endless one.

    Parameters
    ----------
    width_over_height : float
        Above 0.

    Returns
    -------
    float
        (2 / pi) atan(w / 2 h).
    """
    half = above_zero(width_over_height, "width") / 2
    return 2 / math.pi * math.atan(half)


def bank_distance_factor(
    from_mm: float, to_mm: float, *, bank_width_mm: float
) -> float:
    """Factor of time when the paper is moved under a bank of long tubes.

    Parameters
    ----------
    from_mm, to_mm : float
        Height of the tubes above the paper, before and after. [mm]
    bank_width_mm : float
        Across the tubes. [mm]

    Returns
    -------
    float
        Under the middle of the bank. Close banks hardly change: measure.
    """
    width = above_zero(bank_width_mm, "bank width")
    before = center_light(width / above_zero(from_mm, "distance"))
    return before / center_light(width / above_zero(to_mm, "distance"))
