"""Exposure arithmetic: stops, test strips, and corrections of a time.

log H = log E + log t throughout: exposure is light times time. How far that
holds for a process that prints itself out is left to `negcurve.darkroom.processes`.
"""

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from negcurve.darkroom.characteristic import CharacteristicCurve
from negcurve.darkroom.estimate import Estimate
from negcurve.darkroom.shape_fit import Point
from negcurve.darkroom.solutions import above_zero
from negcurve.errors import InvalidValueError
from negcurve.values import FloatArray

STOP = math.log10(2.0)
"""Log exposure of one stop: 0.3010."""

INVERSE_SQUARE_DIAMETERS = 5.0
"""Source diameters beyond which inverse square is good to 1 %.

Source: Illuminating Engineering Society, definition of the inverse-square law.
"""

UVA_EYE_LIMIT_J_PER_M2 = 10_000.0
"""Radiant exposure of the unprotected eye, 315-400 nm, within 8 hours. [J/m2]

Source: ICNIRP, Guidelines on limits of exposure to ultraviolet radiation, Health
Physics 87(2) 171-186, 2004.
"""


def factor_from_stops(stops: float) -> float:
    """Exposure factor of a number of stops: 2^n."""
    return float(2.0**stops)


def stops_from_factor(factor: float) -> float:
    """Return the stops of an exposure factor: log2.

    Raises
    ------
    InvalidValueError
        If the factor is not above 0.
    """
    return math.log2(above_zero(factor, "exposure factor"))


def factor_from_density(density: float) -> float:
    """Exposure factor that makes up for a density in the light's way: 10^D.

    Notes
    -----
    Source: Clerc, Photography: Theory and Practice, sec. 511.
    """
    return float(10.0**density)


def density_from_factor(factor: float) -> float:
    """Density, or log exposure, of an exposure factor: log10.

    Raises
    ------
    InvalidValueError
        If the factor is not above 0.
    """
    return math.log10(above_zero(factor, "exposure factor"))


@dataclass(frozen=True, kw_only=True)
class StripPlan:
    """A row of exposures in equal steps of log exposure.

    Attributes
    ----------
    times_s : tuple of float
        Whole exposure of each patch, rising, to the second. [s]
    increments_s : tuple of float
        What each patch gets beyond the one before: for a strip that is exposed whole
        and then covered patch by patch. [s]
    stop_step : float
        Step from patch to patch. [stop]
    """

    times_s: tuple[float, ...]
    increments_s: tuple[float, ...]
    stop_step: float


def plan_strip(
    first_s: float, *, patches: int = 7, stop_step: float = 0.5
) -> StripPlan:
    """Plan a test strip whose times rise by one factor.

    Parameters
    ----------
    first_s : float
        Shortest exposure. [s]
    patches : int
        2..15.
    stop_step : float
        0.05..2. [stop]

    Returns
    -------
    StripPlan

    Raises
    ------
    InvalidValueError
        If a value is out of range, or the steps vanish when rounded to the second.

    Notes
    -----
    A geometric row gives equal density differences on a straight curve: Clerc,
    Photography: Theory and Practice (sections on test strips). Times under 20 s are
    kept to a tenth.
    """
    above_zero(first_s, "first exposure")
    if not 2 <= patches <= 15:
        raise InvalidValueError(
            f"{patches} patches are not possible", where="patches", fix="Use 2 to 15."
        )
    if not 0.05 <= stop_step <= 2:
        raise InvalidValueError(
            f"{stop_step:g} stops from patch to patch are not possible",
            where="stop step",
            fix="Use 0.05 to 2, such as 1/2 or 1/3.",
        )
    exact = first_s * 2.0 ** (stop_step * np.arange(patches))
    digits = 0 if first_s >= 20 else 1
    times = [round(float(each), digits) for each in exact]
    if len(set(times)) < patches:
        raise InvalidValueError(
            "two patches would get the same time",
            where="test strip",
            fix="Use larger steps or a longer first exposure.",
        )
    steps = [
        times[0],
        *(round(b - a, 1) for a, b in pairwise(times)),
    ]
    return StripPlan(
        times_s=tuple(times), increments_s=tuple(steps), stop_step=stop_step
    )


def log_steps(times_s: FloatArray) -> FloatArray:
    """Return the log exposure from each time to the next, shape (n - 1,)."""
    return np.diff(np.log10(np.asarray(times_s, dtype=np.float64)))


def output_factor(relative_output: float) -> float:
    """Factor of time when a lamp gives a share of its former output: 1 / share.

    Notes
    -----
    Only while its spectrum is unchanged. Reciprocity: Clerc, as above.
    """
    return 1.0 / above_zero(relative_output, "lamp output")


def integrator_time(units: float, *, units_per_s: float) -> float:
    """Return the time that a light integrator needs for a number of its units.

    Notes
    -----
    Units count the integral of illumination over time. An integrator corrects for the
    lamp, not for humidity, spectrum or coating.
    """
    return above_zero(units, "units") / above_zero(units_per_s, "units per second")


def distance_factor(
    from_mm: float, to_mm: float, *, source_diameter_mm: float = 0.0
) -> float:
    """Factor of time when a lamp is moved.

    Parameters
    ----------
    from_mm, to_mm : float
        Distance from lamp to paper, before and after. [mm]
    source_diameter_mm : float
        Of a round, evenly bright source; 0 for a point. [mm]

    Returns
    -------
    float

    Notes
    -----
    On the axis of a Lambertian disc of radius r, E = pi L r^2 / (r^2 + h^2): a textbook
    result, which turns to the inverse square far away. At 5 diameters the two differ by
    1 %, as the definition of the Illuminating Engineering Society has it.
    """
    if not source_diameter_mm >= 0:
        raise InvalidValueError(
            f"{source_diameter_mm:g} mm is no diameter",
            where="source diameter",
            fix="Give the width of the light source, 0 for a point.",
        )
    radius = source_diameter_mm / 2
    before = radius**2 + above_zero(from_mm, "distance") ** 2
    return float((radius**2 + above_zero(to_mm, "distance") ** 2) / before)


def beyond_inverse_square(distance_mm: float, source_diameter_mm: float) -> bool:
    """Tell whether inverse square is off by more than 1 % at this distance."""
    return distance_mm < INVERSE_SQUARE_DIAMETERS * source_diameter_mm


def exposure_change(
    curve: CharacteristicCurve, *, has_density: float, wanted_density: float
) -> Estimate:
    """Factor of exposure that takes a tone from one print density to another.

    Parameters
    ----------
    curve : CharacteristicCurve
        Of the same process.
    has_density, wanted_density : float
        Print densities between D-min and D-max. [D]

    Returns
    -------
    Estimate

    Raises
    ------
    ReadingsError
        If the curve does not reach one of them.

    Notes
    -----
    E2 = E1 10^(log E at D2 - log E at D1), as for radiographs: Eastman Kodak,
    Radiography in Modern Industry, p. 70.
    """
    change = curve.distance(
        Point.at_density(has_density), Point.at_density(wanted_density)
    )
    return change.antilog()


def uva_limit_time(irradiance_mw_per_cm2: float) -> float:
    """Return the time in which unprotected eyes reach the UVA limit.

    Parameters
    ----------
    irradiance_mw_per_cm2 : float
        At the eye. [mW/cm2]

    Notes
    -----
    10 000 J/m2 in 8 hours, see `UVA_EYE_LIMIT_J_PER_M2`. It says when a limit is
    reached, not that less is without harm; violet light has limits of its own.
    """
    return UVA_EYE_LIMIT_J_PER_M2 / (
        10.0 * above_zero(irradiance_mw_per_cm2, "irradiance")
    )
