"""The exposure at which clear film just prints black, and what a strip says about it.

The threshold is always stated: a share of the range from D-min to D-max, as the tone
table uses it, so that one time serves tablet, target and negative.
"""

from dataclasses import dataclass

import numpy as np

from negcurve.darkroom.characteristic import CharacteristicCurve
from negcurve.darkroom.estimate import Estimate
from negcurve.darkroom.iso6846 import BLACK_POINT, WHITE_POINT
from negcurve.darkroom.shape_fit import Point
from negcurve.darkroom.tablet import Tablet
from negcurve.errors import InvalidValueError
from negcurve.values import Finding

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
            f"{test_time_s:g} s is not above 0", where="exposure time"
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
    if not 0.5 <= black_share <= 0.999:
        raise InvalidValueError(
            f"{black_share:g} lies outside 0.5..0.999", where="black share"
        )
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
    """
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


def end_findings(curve: CharacteristicCurve, ends: EndsSeen) -> tuple[Finding, ...]:
    """Say in sentences what `ends_seen` found."""
    found = []
    if not (ends.black or ends.white):
        found.append(_missing_both())
    elif not ends.black:
        found.append(_missing_black(curve, ends.longer))
    elif not ends.white:
        found.append(_missing_white(ends.shorter))
    return tuple(found)


def _missing_both() -> Finding:
    return Finding(
        severity="warning",
        where="strip",
        what="neither black nor white lies within the strip: the process has a longer "
        "scale than the steps that were read",
        fix="Read more steps, use a longer tablet, or raise the contrast of the "
        "process and test again.",
    )


def _missing_black(curve: CharacteristicCurve, longer: float | None) -> Finding:
    reached = float(curve.density.max())
    if longer is None:
        fix = "No single exposure of this tablet shows both ends: use a longer one."
    else:
        fix = (
            f"Expose about {longer:.2g} times as long; D-max and all that hangs on "
            "it are extrapolated until then."
        )
    return Finding(
        severity="warning",
        where="strip",
        what=f"black not reached: the clearest step prints {reached:.2f} and the print "
        "still rises",
        fix=fix,
    )


def _missing_white(shorter: float | None) -> Finding:
    if shorter is None:
        fix = "No single exposure of this tablet shows both ends: use a longer one."
    else:
        fix = (
            f"Expose {shorter:.2g} times as long (shorter), or read the unexposed, "
            "coated border as well; D-min is extrapolated until then."
        )
    return Finding(
        severity="warning",
        where="strip",
        what="white not reached: the densest step still prints a tone",
        fix=fix,
    )


def curve_findings(curve: CharacteristicCurve) -> tuple[Finding, ...]:
    """Say what the readings show beside the curve: strays, reversal, other shapes."""
    found = [*_strays(curve), *_reversal(curve)]
    scale = curve.distance(WHITE_POINT, BLACK_POINT)
    low, high = scale_by_shape(curve)
    if low < scale.low or high > scale.high:
        found.append(
            Finding(
                severity="note",
                where="exposure scale",
                what="curves of other shapes fit these readings nearly as well and "
                f"give {low:.2f} to {high:.2f}",
                fix="More readings of the light and the dark end narrow it: a second "
                "strip, the unexposed border.",
            )
        )
    return tuple(found)


def scale_by_shape(curve: CharacteristicCurve) -> tuple[float, float]:
    """Least and greatest exposure scale among the shapes that fit about equally well.

    Returns
    -------
    (float, float)
        [log10]

    Notes
    -----
    Shapes whose misfit lies within 3.84 noise variances of the best: the 95 % point of
    chi-square with one degree of freedom.
    """
    least = min(fit.misfit for fit in curve.fits)
    variance = least / curve.degrees_of_freedom
    scales = [
        fit.place(BLACK_POINT)[0] - fit.place(WHITE_POINT)[0]
        for fit in curve.fits
        if fit.misfit - least <= 3.84 * variance
    ]
    return min(scales), max(scales)


def _strays(curve: CharacteristicCurve) -> list[Finding]:
    limit = max(4.0 * curve.noise, 0.04)
    return [
        Finding(
            severity="warning",
            where=f"reading at log exposure {curve.log_exposure[place]:.2f}",
            what=f"density {curve.density[place]:.2f} lies "
            f"{abs(curve.residual[place]):.2f} off the curve",
            fix="Look at the step for dust or a coating fault; leave it out with "
            "--drop only for a visible cause.",
        )
        for place in np.flatnonzero(np.abs(curve.residual) > limit)
    ]


def _reversal(curve: CharacteristicCurve) -> list[Finding]:
    order = np.argsort(curve.log_exposure)
    density = curve.density[order]
    if len(density) < 8:
        return []
    ends = density[-2:].mean()
    best = max(density[k : k + 2].mean() for k in range(len(density) - 2))
    if best - ends <= max(3.0 * curve.noise, 0.03):
        return []
    return [
        Finding(
            severity="warning",
            where="strip",
            what=f"the clearest steps print {best - ends:.2f} lighter than the ones "
            "before: the shadows reverse",
            fix="Leave those steps out with --drop, and expose less.",
        )
    ]
