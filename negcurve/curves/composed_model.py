"""A curve of a sum of which one part is itself an unknown monotone curve.

Print density is an outer curve of log exposure; log exposure is what is known of it,
less an inner curve of the abscissa, plus effects. Both curves are monotone: their
slopes are splines with coefficients exp(g), and differences of g are penalised.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np

from negcurve.curves.basis import (
    COEFFICIENTS,
    DEGREE,
    difference_penalty,
    spline_basis,
)
from negcurve.curves.model import ENDS, Effect
from negcurve.values import FloatArray

OUTER = slice(ENDS, ENDS + COEFFICIENTS)
INNER = slice(ENDS + COEFFICIENTS, ENDS + 2 * COEFFICIENTS)

ANCHOR_WIDTH = 3.0
"""Prior standard deviation of eta where half the density was expected. [1]"""

SPAN_WIDTH = 0.3
"""Prior standard deviation of the natural log of the density range. [1]"""

LOG_SLOPE_WIDTH = 1.5
"""Prior standard deviation of the natural log of either slope: a factor of 4.5."""

OUTER_SLOPE = 4.0
"""Expected slope of eta against log exposure: a paper of exposure scale 1.5 or so.
Common practice, no source."""

INNER_SLOPE = 2.0
"""Expected slope of printing density against level. Common practice, no source."""


NEAR_CLEAR = 0.5
"""Distance from the abscissa's upper end below which the inner curve may bend more."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Composed:
    """Readings to fit.

    Attributes
    ----------
    value : array, shape (n,)
        Print density. [D]
    known : array, shape (n,)
        Part of the log exposure that is known: minus the tablet's density. [log10]
    inner : array, shape (n,)
        Abscissa of the inner curve, 0..1; NaN where it takes no part.
    relative_error : array, shape (n,)
        Standard deviation of each reading over that of a plain one.
    effects : tuple of Effect
        Scale `exposure` is added to the log exposure here; `height` and `plain` as in
        `Effect`.
    domain : (float, float)
        Log exposures that the outer curve is defined over.
    anchor : float
        Log exposure at which about half the density range is reached.
    low, span : float
        Rough ends of the density, for weak priors. [D]
    """

    value: FloatArray
    known: FloatArray
    inner: FloatArray
    relative_error: FloatArray
    effects: tuple[Effect, ...]
    domain: tuple[float, float]
    anchor: float
    low: float
    span: float

    @cached_property
    def inner_part(self) -> FloatArray:
        """Integrals of the inner splines from each abscissa to 1, shape (n, K)."""
        return inner_basis(self.inner)

    @cached_property
    def anchor_part(self) -> FloatArray:
        """Integrals of the outer splines up to the anchor, shape (1, K)."""
        return spline_basis(self.position(np.array([self.anchor])))[1]

    @property
    def count(self) -> int:
        """Number of parameters."""
        return INNER.stop + sum(each.count for each in self.effects)

    @property
    def width(self) -> float:
        """Length of the domain. [log10]."""
        return self.domain[1] - self.domain[0]

    def position(self, log_exposure: FloatArray) -> FloatArray:
        """Place within the domain, 0..1."""
        return np.asarray((log_exposure - self.domain[0]) / self.width)

    def blocks(self) -> Iterator[tuple[Effect, slice]]:
        """Each effect with the place of its coefficients among the parameters."""
        start = INNER.stop
        for effect in self.effects:
            yield effect, slice(start, start + effect.count)
            start += effect.count

    def sums(self, theta: FloatArray) -> dict[str, FloatArray]:
        """Sum of the effects of each scale, shape (n,)."""
        total = {name: np.zeros(len(self.value)) for name in _SCALES}
        for effect, block in self.blocks():
            total[effect.scale] += effect.columns @ theta[block]
        return total

    def predicted(self, theta: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return what each reading should be, and its derivatives by the parameters.

        Parameters
        ----------
        theta : array, shape (p,)

        Returns
        -------
        arrays, shape (n,) and (n, p)
        """
        sums = self.sums(theta)
        thin = self.inner_part * np.exp(theta[INNER])
        log_exposure = self.known - thin.sum(axis=1) + sums["exposure"]
        outer = self.outer(theta, log_exposure)
        raised = 1 + sums["height"]
        jacobian = np.zeros((len(self.value), self.count))
        jacobian[:, :ENDS] = outer.by_ends
        jacobian[:, 1:] *= raised[:, None]
        jacobian[:, OUTER] = outer.by_slopes * raised[:, None]
        slope = outer.slope * raised
        jacobian[:, INNER] = -slope[:, None] * thin
        by = {
            "exposure": slope,
            "height": outer.height,
            "plain": np.ones_like(slope),
        }
        for effect, block in self.blocks():
            jacobian[:, block] = effect.columns * by[effect.scale][:, None]
        return outer.value + outer.height * sums["height"] + sums["plain"], jacobian

    def outer(self, theta: FloatArray, log_exposure: FloatArray) -> "Outer":
        """Return the outer curve at some log exposures."""
        slopes, heights = spline_basis(self.position(log_exposure))
        steps = np.exp(theta[OUTER])
        part = (heights - self.anchor_part) * steps
        eta = theta[2] + part.sum(axis=1)
        share = 1 / (1 + np.exp(-np.clip(eta, -50, 50)))
        span = float(np.exp(theta[1]))
        gain = span * share * (1 - share)
        by_ends = np.stack([np.ones_like(share), span * share, gain], axis=1)
        return Outer(
            value=theta[0] + span * share,
            height=span * share,
            slope=gain * (slopes @ steps) / self.width,
            by_ends=by_ends,
            by_slopes=gain[:, None] * part,
        )

    def prior(
        self, orders: tuple[int, int], stiffness: FloatArray, sizes: FloatArray
    ) -> FloatArray:
        """Return the precision of curves and effects before any reading, (p, p)."""
        matrix = np.zeros((self.count, self.count))
        for (block, penalty), each in zip(penalties(orders), stiffness, strict=True):
            matrix[block, block] = each * penalty
        widths = np.full(self.count, LOG_SLOPE_WIDTH)
        widths[:ENDS] = 0.3 * self.span, SPAN_WIDTH, ANCHOR_WIDTH
        for size, (_, block) in zip(sizes, self.blocks(), strict=True):
            widths[block] = size
        matrix[np.diag_indices(self.count)] += 1 / widths**2
        return matrix

    def mean(self) -> FloatArray:
        """Return the mean of the parameters before any reading, shape (p,)."""
        theta = np.zeros(self.count)
        theta[:ENDS] = self.low, np.log(self.span), 0.0
        theta[OUTER] = np.log(OUTER_SLOPE * self.width)
        theta[INNER] = np.log(INNER_SLOPE)
        return theta


_SCALES = ("exposure", "height", "plain")


@dataclass(frozen=True, eq=False, kw_only=True)
class Outer:
    """The outer curve at some places, with its derivatives.

    Attributes
    ----------
    value, height : array, shape (n,)
        Density, and density above the lower end. [D]
    slope : array, shape (n,)
        Against log exposure. [D/log10]
    by_ends, by_slopes : array, shape (n, 3) and (n, K)
        Derivative of the value by lower end, log span and anchor, and by each g.
    """

    value: FloatArray
    height: FloatArray
    slope: FloatArray
    by_ends: FloatArray
    by_slopes: FloatArray


def inner_basis(abscissa: FloatArray) -> FloatArray:
    """Integrals of the inner splines from each abscissa to 1; 0 where it is NaN."""
    inside = np.nan_to_num(abscissa, nan=1.0)
    heights = spline_basis(np.append(inside, 1.0))[1]
    return np.asarray(heights[-1] - heights[:-1])


def penalties(orders: tuple[int, int]) -> tuple[tuple[slice, FloatArray], ...]:
    """Return the places of either curve's log slopes and what penalises them."""
    outer, inner = orders
    return (OUTER, difference_penalty(outer)), (INNER, clear_end_penalty(inner))


@lru_cache(maxsize=8)
def clear_end_penalty(order: int) -> FloatArray:
    """Differences of the inner log slopes, those near clear film at less.

    Parameters
    ----------
    order : int
        Of the differences.

    Returns
    -------
    array, shape (COEFFICIENTS, COEFFICIENTS)

    Notes
    -----
    The density of little ink goes with a power of its amount v = 1 - level (dots grow,
    light spreads; Yule and Nielsen, 1951, from memory), so the log slope g is straight
    in t = log v, not in v. Squares of d^k g / dt^k over t are, by dt = dv / v, those of
    d^k g / dv^k weighed by v^(2 k - 1).
    """
    spacing = 1 / (COEFFICIENTS - DEGREE)
    differences = np.diff(np.eye(COEFFICIENTS), order, axis=0)
    middle = (np.arange(len(differences)) + (order - 1) / 2) * spacing
    away = np.clip((1 - middle) / NEAR_CLEAR, spacing / 2 / NEAR_CLEAR, 1)
    return np.asarray((differences.T * away ** (2 * order - 1)) @ differences)
