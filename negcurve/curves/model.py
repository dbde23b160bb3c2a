"""The family of curves: what a set of parameters means, and what is likely beforehand.

A curve is `low + span * logistic(eta)`; eta rises with a slope that is a spline with
positive coefficients exp(g), so every curve is monotone. Differences of g are
penalised: order 1 keeps eta straight but for corners, order 2 keeps its bends slow.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from negcurve.curves.basis import COEFFICIENTS, difference_penalty
from negcurve.values import FloatArray

ENDS = 3
"""Parameters before g: low, log span, eta at the lower end."""

CURVE = ENDS + COEFFICIENTS

Scale = Literal["plain", "height", "exposure", "slope"]


@dataclass(frozen=True, eq=False, kw_only=True)
class Effect:
    """Something other than the abscissa that moves readings.

    Attributes
    ----------
    name : str
    columns : array, shape (n, q)
        One row a reading; what the q coefficients are multiplied by.
    scale : {"plain", "height", "exposure", "slope"}
        How the sum acts: added to the value; relative change of the height above the
        lower end; added to eta, as light that goes through the paper's own S; shift of
        the position 0..1.
    typical : float
        Standard deviation of a coefficient to begin with; estimated from the readings.
    fixed : bool
        Keep `typical` as it is.
    optional : bool
        The readings may say that there is no such effect.
    """

    name: str
    columns: FloatArray
    scale: Scale = "plain"
    typical: float = 0.01
    fixed: bool = False
    optional: bool = False

    @property
    def count(self) -> int:
        """Number of coefficients."""
        return int(self.columns.shape[1])


@dataclass(frozen=True, kw_only=True)
class Prior:
    """How curves are likely to run before any reading.

    Attributes
    ----------
    order : {1, 2}
        Differences of the log slope that are penalised.
    stiffness : float
        Reciprocal variance of one such difference.
    low, span : float
        Rough lower end and span of the readings, for the very weak prior of the ends.
    """

    order: int
    stiffness: float
    low: float
    span: float

    def mean(self) -> FloatArray:
        """Return the mean of the curve's parameters, shape (CURVE,)."""
        ends = [self.low, np.log(1.05 * self.span), -4.0]
        return np.concatenate([ends, np.full(COEFFICIENTS, np.log(8.0))])

    def precision(self) -> FloatArray:
        """Return the inverse covariance, shape (CURVE, CURVE).

        The ends are within half of what was measured, the log slope within 3 of a
        plain S over the whole abscissa: wide enough to leave the readings the say.
        """
        matrix = np.zeros((CURVE, CURVE))
        matrix[ENDS:, ENDS:] = self.stiffness * difference_penalty(self.order)
        widths = np.array([0.5 * self.span, 0.4, 4.0, *[3.0] * COEFFICIENTS])
        matrix[np.diag_indices(CURVE)] += 1 / widths**2
        return matrix


@dataclass(frozen=True, eq=False, kw_only=True)
class Shape:
    """A curve at some places, with its derivatives.

    Attributes
    ----------
    value, slope : array, shape (n,)
        Slope against the position 0..1.
    height : array, shape (n,)
        Value above the lower end.
    gain : array, shape (n,)
        Derivative of the value by eta.
    eta_slope : array, shape (n,)
        Derivative of eta by the position.
    jacobian : array, shape (n, CURVE)
        Derivative of the value by each parameter of the curve.
    """

    value: FloatArray
    slope: FloatArray
    height: FloatArray
    gain: FloatArray
    eta_slope: FloatArray
    jacobian: FloatArray


def curve(
    theta: FloatArray,
    basis: tuple[FloatArray, FloatArray],
    effects: Sequence[Effect] = (),
) -> Shape:
    """Evaluate a curve, shifted by those effects that act through eta.

    Parameters
    ----------
    theta : array, shape (CURVE + q,) or (CURVE,)
    basis : pair of arrays, shape (n, COEFFICIENTS)
    effects : sequence of Effect
        With q coefficients in all; empty for the curve itself.

    Returns
    -------
    Shape
    """
    slope_basis, height_basis = basis
    low, log_span, start = theta[:ENDS]
    steps = np.exp(theta[ENDS:CURVE])
    eta_slope = slope_basis @ steps
    eta = start + height_basis @ steps + _shift(theta, effects, eta_slope)
    share = 1 / (1 + np.exp(-np.clip(eta, -50, 50)))
    span = np.exp(log_span)
    gain = span * share * (1 - share)
    jacobian = np.empty((len(eta), CURVE))
    jacobian[:, 0] = 1
    jacobian[:, 1] = span * share
    jacobian[:, 2] = gain
    jacobian[:, ENDS:] = gain[:, None] * (height_basis * steps)
    lowest = share.min() if len(effects) else share[0]
    return Shape(
        value=low + span * share,
        slope=gain * eta_slope,
        height=span * (share - lowest),
        gain=gain,
        eta_slope=eta_slope,
        jacobian=jacobian,
    )


def _shift(
    theta: FloatArray, effects: Sequence[Effect], eta_slope: FloatArray
) -> FloatArray:
    shift = np.zeros(len(eta_slope))
    for effect, block in blocks(effects):
        if effect.scale == "exposure":
            shift += effect.columns @ theta[block]
        elif effect.scale == "slope":
            shift += eta_slope * (effect.columns @ theta[block])
    return shift


def blocks(effects: Sequence[Effect]) -> Iterator[tuple[Effect, slice]]:
    """Each effect with the place of its coefficients among the parameters."""
    start = CURVE
    for effect in effects:
        yield effect, slice(start, start + effect.count)
        start += effect.count


@dataclass(frozen=True, eq=False, kw_only=True)
class Task:
    """Readings to fit, in the model's own scales.

    Attributes
    ----------
    basis : pair of arrays, shape (n, COEFFICIENTS)
        Of the positions of the readings.
    value : array, shape (n,)
    relative_error : array, shape (n,)
        Standard deviation of each reading over that of a plain one.
    effects : tuple of Effect
    """

    basis: tuple[FloatArray, FloatArray]
    value: FloatArray
    relative_error: FloatArray
    effects: tuple[Effect, ...] = ()

    def columns(self, shape: Shape) -> FloatArray:
        """Return derivatives of the readings by the coefficients, shape (n, q)."""
        by = {
            "plain": np.ones_like(shape.value),
            "height": shape.height,
            "exposure": shape.gain,
            "slope": shape.slope,
        }
        parts = [each.columns * by[each.scale][:, None] for each in self.effects]
        return np.hstack([np.empty((len(self.value), 0)), *parts])

    def predicted(self, theta: FloatArray) -> tuple[Shape, FloatArray]:
        """Return the curve at the readings, and what each should read."""
        shape = curve(theta, self.basis, self.effects)
        total = shape.value.copy()
        for effect, block in blocks(self.effects):
            if effect.scale == "plain":
                total += effect.columns @ theta[block]
            elif effect.scale == "height":
                total += shape.height * (effect.columns @ theta[block])
        return shape, total
