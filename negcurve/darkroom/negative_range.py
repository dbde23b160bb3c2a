"""Whether a negative's range fits a process, and what moves either of them.

Amounts are given only where the user's own tests carry them; everything else is named
as the direction to go.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy.optimize import least_squares

from negcurve.darkroom.estimate import Estimate
from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.values import FloatArray, frozen

CLOSE_ENOUGH = 0.10
"""Difference between range and scale that a print hardly shows. [log10]

Grade C, common practice, no source: 0.05 to 0.10.
"""

Kind = Literal["digital", "camera"]


@dataclass(frozen=True, kw_only=True)
class RangeMatch:
    """A negative's range beside a process's exposure scale.

    Attributes
    ----------
    density_range : float
        Largest minus smallest printing density of the negative. [D]
    exposure_scale : float
        [log10]
    shortfall : float
        Scale minus range: above 0 the print is flat, below 0 its ends block. [log10]
    gradient_factor : float
        Scale / range: what a camera negative's average gradient must be multiplied by.
    verdict : str
    advice : tuple of str
    """

    density_range: float
    exposure_scale: float
    shortfall: float
    gradient_factor: float
    verdict: str
    advice: tuple[str, ...]


def match_range(
    exposure_scale: float,
    *,
    thinnest: float,
    densest: float,
    kind: Kind = "digital",
) -> RangeMatch:
    """Compare a negative's printing densities with a process.

    Parameters
    ----------
    exposure_scale : float
        Of the process. [log10]
    thinnest, densest : float
        Printing densities of the deepest shadow and the brightest highlight. [D]
    kind : {"digital", "camera"}

    Returns
    -------
    RangeMatch

    Raises
    ------
    InvalidValueError
        If the scale is not above 0 or the densities stand the wrong way round.

    Notes
    -----
    A digital negative's table uses only as much of the ink's range as the process
    needs, so for it a range above the scale is no fault.
    """
    if not exposure_scale > 0:
        raise InvalidValueError(
            "must be above 0",
            where="exposure scale",
            fix="Give it in log units, as `negcurve tablet` prints it.",
        )
    if not 0 <= thinnest < densest:
        raise InvalidValueError(
            f"densest {densest:g} must lie above thinnest {thinnest:g}",
            where="negative range",
            fix="Type printing densities: shadow first, highlight second.",
        )
    span = densest - thinnest
    short = exposure_scale - span
    verdict, advice = _digital(short) if kind == "digital" else _camera(short)
    return RangeMatch(
        density_range=span,
        exposure_scale=exposure_scale,
        shortfall=short,
        gradient_factor=exposure_scale / span,
        verdict=verdict,
        advice=advice,
    )


def _digital(short: float) -> tuple[str, tuple[str, ...]]:
    if short > CLOSE_ENOUGH:
        return "the ink does not block enough: whites print grey, or blacks weak", (
            "Lower the exposure scale with the contrast agent or the developer.",
            "More ink, or an ink that blocks more of this lamp's light.",
            "Or accept it: the table then spreads the tones over the shorter range.",
        )
    if short >= -CLOSE_ENOUGH:
        return "the negative fits the process", ()
    return "the ink blocks more than the process needs; the table uses only a part", (
        "Less ink dries faster and cockles the film less: find the least that still "
        "prints within 0.01 D of D-min.",
        "Or use less contrast agent: the scale grows towards the range.",
    )


def _camera(short: float) -> tuple[str, tuple[str, ...]]:
    if short > CLOSE_ENOUGH:
        return "the negative is too soft: the print is flat", (
            "Develop the next negative longer: its average gradient must rise by the "
            "factor given.",
            "Lower the exposure scale with the contrast agent or the developer.",
        )
    if short >= -CLOSE_ENOUGH:
        return "the negative fits the process", ()
    return "the negative is too hard: shadows or highlights block", (
        "Develop the next negative shorter: its average gradient must fall by the "
        "factor given.",
        "Use less contrast agent, a softer developer, or a process of longer scale.",
    )


@dataclass(frozen=True, eq=False, kw_only=True)
class AgentSeries:
    """Exposure scale against dose of a contrast agent, from the user's own tests.

    Attributes
    ----------
    dose : array, shape (n,)
        In the user's unit: drops, or mmol of agent per mmol of metal.
    exposure_scale : array, shape (n,)
        [log10]
    parameters : array, shape (2,) or (3,)
        Straight line (two doses), or scale at no dose, its limit, and the dose within
        which 63 % of the way is gone.
    error : float
        Deviation of a test from the curve; that of one test where nothing is left
        over to estimate it. [log10]
    """

    dose: FloatArray
    exposure_scale: FloatArray
    parameters: FloatArray
    error: float

    def scale_at(self, dose: npt.ArrayLike) -> FloatArray:
        """Return the exposure scale at a dose, any shape."""
        return _series(self.parameters, np.asarray(dose, dtype=np.float64))

    def dose_for(self, exposure_scale: float) -> Estimate:
        """Dose that gives an exposure scale, with a 90 % interval.

        Raises
        ------
        ReadingsError
            If the tests do not reach it: nothing is extrapolated.
        """
        low, high = float(self.dose.min()), float(self.dose.max())
        grid = np.linspace(low, high, 2001)
        scale = self.scale_at(grid)
        if not scale.min() <= exposure_scale <= scale.max():
            raise ReadingsError(
                f"your tests span scales {scale.min():.2f} to {scale.max():.2f}, not "
                f"{exposure_scale:.2f}",
                where="contrast-agent series",
                fix="Coat one more test sheet beyond the doses that you tried.",
            )
        dose = float(np.interp(exposure_scale, scale[::-1], grid[::-1]))
        slope = abs(float(np.diff(self.scale_at([dose - 1e-6, dose + 1e-6]))[0]) / 2e-6)
        error = self.error / slope
        return Estimate(
            value=dose,
            standard_error=error,
            low=max(dose - 1.645 * error, 0.0),
            high=dose + 1.645 * error,
        )


ONE_TEST_ERROR = 0.06
"""Standard error of one tablet test's exposure scale. [log10]

The bound for a 31-step strip of scale 1.8 read to 0.02 D, `tests/benchmarks/tablet.py`.
"""


def fit_agent_series(
    dose: Sequence[float] | FloatArray, exposure_scale: Sequence[float] | FloatArray
) -> AgentSeries:
    """Fit exposure scale against dose.

    Parameters
    ----------
    dose : sequence, length n
        At least two different doses, 0 or more.
    exposure_scale : sequence, length n
        Of a tablet test at each dose. [log10]

    Returns
    -------
    AgentSeries

    Raises
    ------
    InvalidValueError
        If a dose or scale is impossible.
    ReadingsError
        If there are fewer than two doses, or the scale does not fall with dose.

    Notes
    -----
    Two doses: a straight line. Three or more: S = S_end + (S_0 - S_end) exp(-d / d_0),
    a saturating curve; that three doses are enough is common practice, no source.
    """
    x, y = frozen(dose, "dose"), frozen(exposure_scale, "exposure scale")
    _check_series(x, y)
    straight = np.polyfit(x, y, 1)[::-1]
    parameters = straight
    if len(np.unique(x)) >= 3:
        start = np.array([straight[0], y.min() - 0.2, max(np.ptp(x), 1e-6)])
        bounds = ([0.0, 0.0, np.ptp(x) / 20], [6.0, 6.0, np.ptp(x) * 50])
        start = np.clip(start, np.array(bounds[0]) + 1e-6, np.array(bounds[1]) - 1e-6)

        def misfit_of(parameters: FloatArray) -> FloatArray:
            return np.asarray(_series(parameters, x) - y)

        parameters = least_squares(misfit_of, start, bounds=bounds).x
    if _series(parameters, x.min()) <= _series(parameters, x.max()):
        raise ReadingsError(
            "the exposure scale does not fall as the dose rises",
            where="contrast-agent series",
            fix="Check that each scale belongs to its dose; repeat the outer two.",
        )
    left = len(x) - len(parameters)
    misfit = float(np.sum((_series(parameters, x) - y) ** 2))
    error = np.sqrt(misfit / left) if left > 0 else 0.0
    return AgentSeries(
        dose=x,
        exposure_scale=y,
        parameters=frozen(parameters, "parameters"),
        error=max(float(error), ONE_TEST_ERROR),
    )


def _check_series(x: FloatArray, y: FloatArray) -> None:
    if len(x) != len(y):
        raise InvalidValueError(
            f"{len(y)} scales for {len(x)} doses", where="contrast-agent series"
        )
    if (x < 0).any():
        raise InvalidValueError(
            f"{x.min():g} is below 0", where="dose", fix="Give doses of 0 or more."
        )
    if ((y <= 0) | (y > 6)).any():
        raise InvalidValueError(
            "must lie between 0 and 6",
            where="exposure scale",
            fix="Give scales in log units, as `negcurve tablet` prints them.",
        )
    if len(np.unique(x)) < 2:
        raise ReadingsError(
            "one dose is not a series",
            where="contrast-agent series",
            fix="Test at least two doses, better three.",
        )


def _series(parameters: FloatArray, dose: npt.ArrayLike) -> FloatArray:
    x = np.asarray(dose, dtype=np.float64)
    if len(parameters) == 2:
        return np.asarray(parameters[0] + parameters[1] * x)
    start, end, reach = parameters
    return np.asarray(end + (start - end) * np.exp(-x / reach))
