"""Characteristic curve of a process: print density against log exposure, with errors.

The curve is a blend of fits of four parameters each, one per shape. Fitting is left to
`negcurve.darkroom.curve_fitting`, what points mean to `negcurve.darkroom.iso6846`.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq

from negcurve.darkroom.estimate import Estimate, blended
from negcurve.darkroom.shape_fit import Point, ShapeFit, rise
from negcurve.errors import ReadingsError
from negcurve.values import FloatArray


@dataclass(frozen=True, eq=False, kw_only=True)
class CharacteristicCurve:
    """Print density against log exposure, from one printed tablet or two.

    Attributes
    ----------
    fits : tuple of ShapeFit
        Weights sum to 1.
    log_exposure, density, residual : array, shape (n,)
        The readings behind it; residual is reading minus curve. [D]
    noise : float
        Deviation of one reading from the curve. [D]
    """

    fits: tuple[ShapeFit, ...]
    log_exposure: FloatArray
    density: FloatArray
    residual: FloatArray
    noise: float

    @property
    def degrees_of_freedom(self) -> int:
        """Readings less parameters."""
        return len(self.density) - len(self.fits[0].parameters)

    @property
    def span(self) -> tuple[float, float]:
        """Least and greatest log exposure that was read."""
        return float(self.log_exposure.min()), float(self.log_exposure.max())

    def density_at(self, log_exposure: npt.ArrayLike) -> FloatArray:
        """Return the print density, any shape."""
        x = np.asarray(log_exposure, dtype=np.float64)
        return np.asarray(sum(fit.weight * fit.density(x) for fit in self.fits))

    def standard_error_at(self, log_exposure: npt.ArrayLike) -> FloatArray:
        """Return the standard error of the curve itself in density, any shape."""
        x = np.asarray(log_exposure, dtype=np.float64)
        mean, total = self.density_at(x), np.zeros_like(x)
        for fit in self.fits:
            by = fit.density_gradient(x)
            own = np.einsum("...i,ij,...j->...", by, fit.covariance[:4, :4], by)
            total += fit.weight * (own + (fit.density(x) - mean) ** 2)
        return np.sqrt(total)

    def log_exposure_at(self, density: float) -> float:
        """Log exposure at which the blended curve reaches a density; NaN beyond it."""
        low, high = self.span[0] - 6.0, self.span[1] + 6.0
        ends = self.density_at([low, high])
        if not ends[0] < density < ends[1]:
            return float("nan")
        return float(
            brentq(lambda x: float(self.density_at(x)) - density, low, high, xtol=1e-9)
        )

    def parameter(self, number: int) -> Estimate:
        """Estimate of one parameter: 0 D-min, 1 range, 4 lamp gradient."""
        at = np.eye(len(self.fits[0].parameters))[number]
        return self._estimate([(float(f.parameters[number]), at) for f in self.fits])

    @property
    def d_min(self) -> Estimate:
        """Lowest print density of the process."""
        return self.parameter(0)

    @property
    def d_max(self) -> Estimate:
        """Highest print density of the process: the plateau."""
        at = np.zeros(len(self.fits[0].parameters))
        at[:2] = 1.0
        return self._estimate([(float(f.parameters[:2].sum()), at) for f in self.fits])

    def place(self, point: Point) -> Estimate:
        """Log exposure of a point of the curve.

        Raises
        ------
        ReadingsError
            If the curve does not reach it.
        """
        return self._estimate([fit.place(point) for fit in self.fits])

    def distance(self, low: Point, high: Point) -> Estimate:
        """Log exposure from one point of the curve to another."""
        pairs = []
        for fit in self.fits:
            (a, by_a), (b, by_b) = fit.place(low), fit.place(high)
            pairs.append((b - a, by_b - by_a))
        return self._estimate(pairs)

    def gradient_between(self, low: Point, high: Point) -> Estimate:
        """Average gradient: rise of density over rise of log exposure between points.

        Notes
        -----
        Source: average gradient as in Eastman Kodak, Radiography in Modern Industry,
        p. 187: density difference over log exposure difference.
        """
        pairs = []
        for fit in self.fits:
            (a, by_a), (b, by_b) = fit.place(low), fit.place(high)
            total, by_rise = rise(fit, low, high)
            gradient = total / (b - a)
            pairs.append((gradient, (by_rise - gradient * (by_b - by_a)) / (b - a)))
        return self._estimate(pairs)

    def _estimate(self, pairs: list[tuple[float, FloatArray]]) -> Estimate:
        known = [place for place, pair in enumerate(pairs) if np.isfinite(pair[0])]
        weight = np.array([self.fits[place].weight for place in known])
        if weight.sum() < 0.5:
            raise ReadingsError(
                "the curve does not reach the point that is asked for",
                where="characteristic curve",
                fix="Ask for a point between the strip's lightest and darkest step.",
            )
        return blended(
            [pairs[place][0] for place in known],
            [
                pairs[place][1] @ self.fits[place].covariance @ pairs[place][1]
                for place in known
            ],
            weight / weight.sum(),
            degrees_of_freedom=self.degrees_of_freedom,
        )
