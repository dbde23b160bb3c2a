"""The exposure at which clear film just prints black, and what a strip says about it.

The threshold is always stated: a share of the range from D-min to D-max, as the tone
table uses it, so that one time serves tablet, target and negative.
"""

from dataclasses import dataclass

import numpy as np

from negcurve.darkroom.characteristic import CharacteristicCurve
from negcurve.darkroom.estimate import Estimate
from negcurve.darkroom.iso6846 import WHITE_POINT
from negcurve.darkroom.shape_fit import Point
from negcurve.darkroom.tablet import Tablet
from negcurve.errors import InvalidValueError

BLACK_SHARE = 0.98
"""Share of the range that counts as black, here as in the tone table.

At a range of 1.4 it lies 0.03 D below D-max: grade C, common practice, no source. The
exact maximum is a trap: it costs shadow detail. 0.90 is the paper-range point of ISO
6846.
"""

SPARE = 0.10
"""Log exposure added to a repeat of a test that missed an end, so that the next strip
shows it. Our own choice."""


def time_for_black(
    test_time_s: float,
    *,
    step_density: float,
    film_density: float = 0.0,
    film_over_tablet: float = 0.0,
) -> float:
    """Shortest time at which the negative's clear film prints black.

    Parameters
    ----------
    test_time_s : float
        Exposure of the tablet. [s]
    step_density : float
        Densest tablet step that still prints black, absolute. [D]
    film_density : float
        Of the clear film that the negative is printed on, on the same scale. [D]
    film_over_tablet : float
        Density of film that lay over the tablet; 0 if none did. [D]

    Returns
    -------
    float
        [s]

    Raises
    ------
    InvalidValueError
        If the time is not above 0.

    Notes
    -----
    t' = t 10^(D_film - D_step - D_over), from log H = log E + log t: equal exposure at
    the paper. With the same clear film over the tablet its density drops out. Source:
    Clerc, Photography: Theory and Practice, sec. 511, t2 = t1 10^(D2 - D1).
    """
    if not test_time_s > 0:
        raise InvalidValueError(
            f"{test_time_s:g} s is not above 0",
            where="time",
            fix="Give the exposure of the strip: 8m, 6m20s.",
        )
    return float(test_time_s * 10.0 ** (film_density - step_density - film_over_tablet))


def black_time(
    curve: CharacteristicCurve,
    *,
    test_time_s: float,
    black_share: float = BLACK_SHARE,
    film_density: float = 0.0,
    film_over_tablet: float = 0.0,
) -> Estimate:
    """Shortest time for black from a curve, see `time_for_black`.

    Parameters
    ----------
    curve : CharacteristicCurve
        Its log exposure is minus the tablet's density.
    test_time_s : float
        [s]
    black_share : float
        What counts as black, 0.5..0.999.
    film_density, film_over_tablet : float
        [D]

    Returns
    -------
    Estimate
        [s]

    Raises
    ------
    InvalidValueError
        If the share is out of range or the time is not above 0.
    """
    _check_share(black_share)
    bare = time_for_black(
        test_time_s,
        step_density=0.0,
        film_density=film_density,
        film_over_tablet=film_over_tablet,
    )
    return curve.place(Point.at_share(black_share)).antilog(bare)


@dataclass(frozen=True, kw_only=True)
class EndsSeen:
    """Whether a strip shows the black and the white of its process.

    Attributes
    ----------
    black, white : bool
    longer, shorter : float or None
        Factor of exposure for a repeat that shows the missing end, None where the end
        is there or no single exposure shows both. [1]
    """

    black: bool
    white: bool
    longer: float | None = None
    shorter: float | None = None


def _check_share(black_share: float) -> None:
    if not 0.5 <= black_share <= 0.999:
        raise InvalidValueError(
            f"{black_share:g} lies outside 0.5..0.999",
            where="black share",
            fix="Give the share of the range that counts as black; 0.98 is usual.",
        )


def ends_seen(
    curve: CharacteristicCurve, tablet: Tablet, *, black_share: float = BLACK_SHARE
) -> EndsSeen:
    """Judge whether black and white lie within the strip, and what to do if not.

    Parameters
    ----------
    curve : CharacteristicCurve
    tablet : Tablet
        What the next strip is printed through.
    black_share : float
        What counts as black.

    Returns
    -------
    EndsSeen

    Raises
    ------
    InvalidValueError
        If the share is out of range.
    """
    _check_share(black_share)
    darkest, lightest = curve.span[1], curve.span[0]
    black = curve.place(Point.at_share(black_share)).value
    white = curve.place(WHITE_POINT).value
    has_black, has_white = bool(black <= darkest), bool(white >= lightest)
    room = float(np.ptp(tablet.density))
    if (has_black and has_white) or black - white + SPARE > room:
        return EndsSeen(black=has_black, white=has_white)
    return EndsSeen(
        black=has_black,
        white=has_white,
        longer=None if has_black else 10.0 ** (black - darkest + SPARE),
        shorter=None if has_white else 10.0 ** (white - lightest - SPARE),
    )
