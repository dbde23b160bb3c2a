"""Exposure scale between the paper-range points of ISO 6846, by curve, readings or eye.

Knows what the points are and what classes the standard forms of them. Source for all of
it: ISO 6846:1992, clauses 5.6 and 6.2, read second-hand; the two points also in the
Focal Encyclopedia of Photography, 4th ed. 2007, p. 679.
"""

import math
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

import numpy as np
import numpy.typing as npt
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

from negcurve.darkroom.characteristic import CharacteristicCurve
from negcurve.darkroom.estimate import Estimate
from negcurve.darkroom.shape_fit import Point
from negcurve.darkroom.tablet import Tablet
from negcurve.density import lightness_slope
from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.values import frozen

WHITE_POINT = Point.above_white(0.04)
"""H_T: D-min + 0.04. Source: ISO 6846:1992, cl. 5.6."""

BLACK_POINT = Point.at_share(0.90)
"""H_S: D-min + 0.90 (D-max - D-min), not 0.90 D-max. Source: ISO 6846:1992, cl. 5.6."""

CLASS_FROM, CLASS_TO = 35, 195
"""Hundredths of log exposure from which and below which classes are defined.

Source: ISO 6846:1992, table 2: ranges 40 to 190 in tens, each from 5 below to 4 above.
"""


@dataclass(frozen=True, kw_only=True)
class PaperRange:
    """What the curve says about the scale of a process.

    Attributes
    ----------
    exposure_scale : Estimate
        Log exposure from the white point to the black point. [log10]
    average_gradient : Estimate
        Of the curve between the same two points. [D/log10]
    iso_range : int or None
        Class of the standard, None outside its table. It is named for papers exposed to
        tungsten light; for other light it is a figure by the same construction.
    eye_scale : Estimate
        Log exposure between the places that lie one L* from white and from black, as
        the first merged and the last visible step would give it. [log10]
    """

    exposure_scale: Estimate
    average_gradient: Estimate
    iso_range: int | None
    eye_scale: Estimate


def paper_range(curve: CharacteristicCurve) -> PaperRange:
    """Exposure scale, average gradient, class and eye-read scale of a curve.

    Notes
    -----
    One L* is taken as just visible: common practice, no source; published figures for
    trained eyes run from 1 to 2.3 (Mokrzycki and Tatol 2011).
    """
    scale = curve.distance(WHITE_POINT, BLACK_POINT)
    white, black = curve.d_min.value, curve.d_max.value
    visible = [float(-1.0 / lightness_slope(max(d, 0.0))) for d in (white, black)]
    eye = curve.distance(Point.above_white(visible[0]), Point.below_black(visible[1]))
    return PaperRange(
        exposure_scale=scale,
        average_gradient=curve.gradient_between(WHITE_POINT, BLACK_POINT),
        iso_range=iso_range_class(scale.value),
        eye_scale=eye,
    )


def iso_range_class(log_exposure_range: float) -> int | None:
    """ISO range of a paper: 100 x log exposure range, reported by class.

    Parameters
    ----------
    log_exposure_range : float
        [log10]

    Returns
    -------
    int or None
        40, 50 ... 190; None outside the table.

    Notes
    -----
    Source: ISO 6846:1992, cl. 6.2 and table 2. The range is first rounded to two
    decimals; the standard gives no rule for ties, here they go away from zero.
    """
    rounded = Decimal(repr(float(log_exposure_range))).quantize(
        Decimal("0.01"), rounding=ROUND_HALF_UP
    )
    hundredths = int(rounded * 100)
    if not CLASS_FROM <= hundredths < CLASS_TO:
        return None
    return (hundredths + 5) // 10 * 10


def scale_from_readings(
    log_exposure: npt.ArrayLike,
    density: npt.ArrayLike,
    *,
    d_min: float,
    d_max: float,
) -> float:
    """Exposure scale straight from readings, by the standard's construction.

    Parameters
    ----------
    log_exposure : array, shape (n,)
        Any order. [log10]
    density : array, shape (n,)
        Smooth readings that do not fall with exposure. [D]
    d_min, d_max : float
        Of an unexposed sample, and of the plateau. [D]

    Returns
    -------
    float
        [log10]

    Raises
    ------
    ReadingsError
        If the readings fall with exposure or do not reach both points.

    Notes
    -----
    Points lie on a monotone cubic through the readings, so it follows noise; for noisy
    strips use `paper_range`. Cubic: Fritsch and Butland 1984, as in scipy.
    """
    x, y = frozen(log_exposure, "log_exposure"), frozen(density, "density")
    order = np.argsort(x)
    x, y = x[order], y[order]
    if (np.diff(y) < 0).any():
        raise ReadingsError(
            "densities fall with exposure",
            where="strip",
            fix="Fit a curve instead: readings with noise have no construction.",
        )
    curve = PchipInterpolator(x, y)
    places = []
    for wanted in (d_min + 0.04, d_min + 0.90 * (d_max - d_min)):
        if not y[0] < wanted < y[-1]:
            raise ReadingsError(
                f"the strip does not reach density {wanted:.2f}",
                where="strip",
                fix="Use a longer tablet or another exposure.",
            )
        places.append(
            float(brentq(lambda at, goal=wanted: float(curve(at)) - goal, x[0], x[-1]))
        )
    return places[1] - places[0]


def eye_read_scale(tablet: Tablet, *, merged_step: int, last_step: int) -> Estimate:
    """Exposure scale from the two steps that an eye can name.

    Parameters
    ----------
    tablet : Tablet
    merged_step : int
        Densest step that is still as black as the paper gets, counted from the clear
        end.
    last_step : int
        Densest step that still shows a tone.

    Returns
    -------
    Estimate
        Each end may lie anywhere up to the next step, evenly spread. [log10]

    Raises
    ------
    InvalidValueError
        If the steps are not on the tablet or stand the wrong way round.

    Notes
    -----
    Usually 0.1 to 0.3 longer than between the ISO points; common practice, no source.
    """
    if not merged_step < last_step:
        raise InvalidValueError(
            f"step {last_step} must be denser than step {merged_step}",
            where="last visible step",
            fix="Count steps from the tablet's clear end, which prints darkest.",
        )
    gaps = [_gap_above(tablet, step) for step in (merged_step, last_step)]
    value = tablet.at(last_step) - tablet.at(merged_step) + (gaps[1] - gaps[0]) / 2
    error = math.hypot(*gaps) / math.sqrt(12)
    # 90 % of the difference of two even spreads: 1 - sqrt(0.1) of the gap each way.
    reach = (1 - math.sqrt(0.1)) * max(gaps)
    return Estimate(
        value=value, standard_error=error, low=value - reach, high=value + reach
    )


def _gap_above(tablet: Tablet, step: int) -> float:
    here = tablet.at(step)
    if step == tablet.steps:
        return tablet.increment
    return tablet.at(step + 1) - here


CAMERA_GRADES_LOG = {
    "0": (1.40, 1.70),
    "1": (1.15, 1.40),
    "2": (0.95, 1.15),
    "3": (0.80, 0.95),
    "4": (0.65, 0.80),
    "5": (0.50, 0.65),
}
"""Log exposure ranges of the old paper grades. [log10]

Source: ANSI PH2.2-1966; outer limits 0.50 and 1.70 in the Focal Encyclopedia, p. 679,
inner limits from memory.
"""


def paper_grade(log_exposure_range: float) -> str | None:
    """Old paper grade of a log exposure range, None outside 0.50 to 1.70."""
    for grade, (low, high) in CAMERA_GRADES_LOG.items():
        if low <= log_exposure_range < high:
            return grade
    return None
