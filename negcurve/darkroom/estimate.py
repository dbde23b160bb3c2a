"""A number with its uncertainty, and the blend of several fits of one number.

Knows nothing of what the number stands for.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq
from scipy.stats import t as student

from negcurve.values import FloatArray

CONFIDENCE = 0.90
"""Chance with which an interval is meant to hold the true value."""


@dataclass(frozen=True, kw_only=True)
class Estimate:
    """A number that was found from noisy readings.

    Attributes
    ----------
    value : float
    standard_error : float
    low, high : float
        Ends of the 90 % interval.
    """

    value: float
    standard_error: float
    low: float
    high: float

    def as_plain(self) -> dict[str, float]:
        """Return the four numbers for JSON."""
        return {
            "value": self.value,
            "standard_error": self.standard_error,
            "low": self.low,
            "high": self.high,
        }

    def antilog(self, factor: float = 1.0) -> "Estimate":
        """Return factor x 10^value; the interval is carried over end by end.

        Ends beyond 10^30 say no more than that nothing is known, and stop there.
        """
        low, middle, high = np.clip([self.low, self.value, self.high], -30.0, 30.0)
        value = float(factor * 10.0**middle)
        return Estimate(
            value=value,
            standard_error=value * float(np.log(10.0)) * self.standard_error,
            low=float(factor * 10.0**low),
            high=float(factor * 10.0**high),
        )


def blended(
    values: npt.ArrayLike,
    variances: npt.ArrayLike,
    weights: npt.ArrayLike,
    *,
    degrees_of_freedom: float,
) -> Estimate:
    """Blend one number as several fits give it.

    Parameters
    ----------
    values, variances : array, shape (k,)
        As each fit has them.
    weights : array, shape (k,)
        How far each fit is believed; they sum to 1.
    degrees_of_freedom : float
        Of the noise estimate behind the variances.

    Returns
    -------
    Estimate
        Weighted mean; its standard error holds the spread between fits; the interval
        is that of the mixture of Student distributions.

    Notes
    -----
    Source: law of total variance; Burnham and Anderson, Model Selection and Multimodel
    Inference, 2nd ed. 2002, section 4.3 (from memory).
    """
    center, spread = np.asarray(values, float), np.asarray(variances, float)
    share = np.asarray(weights, float)
    mean = float(share @ center)
    error = float(np.sqrt(share @ (spread + (center - mean) ** 2)))
    if error == 0:
        return Estimate(value=mean, standard_error=0.0, low=mean, high=mean)
    scale = np.maximum(np.sqrt(spread), 1e-12 * error)
    ends = [
        _quantile(center, scale, share, degrees_of_freedom, chance)
        for chance in ((1 - CONFIDENCE) / 2, (1 + CONFIDENCE) / 2)
    ]
    return Estimate(value=mean, standard_error=error, low=ends[0], high=ends[1])


def _quantile(
    center: FloatArray,
    scale: FloatArray,
    share: FloatArray,
    degrees_of_freedom: float,
    chance: float,
) -> float:
    each = center + scale * student.ppf(chance, degrees_of_freedom)
    if len(each) == 1 or np.ptp(each) == 0:
        return float(each[0])

    def excess(place: float) -> float:
        below = student.cdf((place - center) / scale, degrees_of_freedom)
        return float(share @ below) - chance

    # A little beyond both: where one fit has all the weight its own end is the root.
    low, high = int(each.argmin()), int(each.argmax())
    return float(
        brentq(excess, each[low] - 1e-3 * scale[low], each[high] + 1e-3 * scale[high])
    )
