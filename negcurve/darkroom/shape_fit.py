"""One shape of curve laid through the print of a tablet, and points upon it.

Knows where a point lies and how it moves with each parameter; several shapes are
blended in `negcurve.darkroom.characteristic`.
"""

from dataclasses import dataclass

import numpy as np

from negcurve.darkroom.curve_shapes import Shape
from negcurve.values import FloatArray


@dataclass(frozen=True, kw_only=True)
class Point:
    """A place on the curve: share of the density range that the print has reached.

    Share = `share` + (`density` - `from_white` x D-min) / (D-max - D-min).
    """

    share: float = 0.0
    density: float = 0.0
    from_white: float = 0.0

    @classmethod
    def at_share(cls, share: float) -> "Point":
        """Return the point at a share of the range from D-min to D-max, 0..1."""
        return cls(share=share)

    @classmethod
    def above_white(cls, density: float) -> "Point":
        """Return the point that lies a density above D-min."""
        return cls(density=density)

    @classmethod
    def below_black(cls, density: float) -> "Point":
        """Return the point that lies a density below D-max."""
        return cls(share=1.0, density=-density)

    @classmethod
    def at_density(cls, density: float) -> "Point":
        """Return the point at a density as it is read."""
        return cls(density=density, from_white=1.0)


@dataclass(frozen=True, eq=False, kw_only=True)
class ShapeFit:
    """One shape laid through the readings.

    Attributes
    ----------
    shape : Shape
    parameters : array, shape (4,) or (5,)
        D-min, D-max - D-min, log exposure at u = 0, natural log of the width; then the
        gradient of the lamp along the strip where two strips were read.
    covariance : array, same twice
    misfit : float
        Sum of squared residuals. [D2]
    weight : float
        How far this shape is believed among all.
    """

    shape: Shape
    parameters: FloatArray
    covariance: FloatArray
    misfit: float
    weight: float

    def density(self, log_exposure: FloatArray) -> FloatArray:
        """Return the print density, any shape."""
        low, span, middle, log_width = self.parameters[:4]
        u = (log_exposure - middle) / np.exp(log_width)
        return np.asarray(low + span * self.shape.share(u))

    def density_gradient(self, log_exposure: FloatArray) -> FloatArray:
        """Change of density with each of the four curve parameters, shape (n, 4)."""
        _, span, middle, log_width = self.parameters[:4]
        width = np.exp(log_width)
        u = (log_exposure - middle) / width
        slope = self.shape.slope(u)
        columns = (
            np.ones_like(u),
            self.shape.share(u),
            -span * slope / width,
            -span * slope * u,
        )
        return np.stack(columns, axis=-1)

    def place(self, point: Point) -> tuple[float, FloatArray]:
        """Log exposure of a point, and its change with each parameter, shape (p,)."""
        low, span, middle, log_width = self.parameters[:4]
        above = point.density - point.from_white * low
        share = point.share + above / span
        if not 1e-9 < share < 1 - 1e-9:
            return float("nan"), np.full(len(self.parameters), np.nan)
        width = float(np.exp(log_width))
        u = self.shape.place(round(float(share), 12))
        by_share = width / float(self.shape.slope(np.array([u]))[0])
        gradient = np.zeros(len(self.parameters))
        gradient[0] = -by_share * point.from_white / span
        gradient[1] = -by_share * above / span**2
        gradient[2] = 1.0
        gradient[3] = width * u
        return float(middle + width * u), gradient


def rise(fit: ShapeFit, low: Point, high: Point) -> tuple[float, FloatArray]:
    """Return the density between two points, and its change with each parameter."""
    white, span = fit.parameters[:2]
    share = high.share - low.share
    from_white = high.from_white - low.from_white
    by = np.zeros(len(fit.parameters))
    by[0], by[1] = -from_white, share
    total = share * span + high.density - low.density - from_white * white
    return float(total), by
