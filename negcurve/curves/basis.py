"""Splines on even knots and the differences of their coefficients.

Knows nothing of curves or readings.
"""

from functools import lru_cache

import numpy as np
from scipy.interpolate import BSpline

from negcurve.values import FloatArray

COEFFICIENTS = 36
"""Enough to follow an ink change within 3 % of the abscissa; the penalty, not the
count, sets the smoothness. Eilers and Marx (1996), section 3."""

DEGREE = 2
"""Of the splines for the slope; the curve itself is then cubic."""

NODES = 513
"""Even places at which a finished curve is given."""


def spline_basis(position: FloatArray) -> tuple[FloatArray, FloatArray]:
    """B-splines on even knots over 0..1, and their integrals from 0.

    Parameters
    ----------
    position : array, shape (n,)
        Within 0..1. [1]

    Returns
    -------
    slope, height : arrays, shape (n, COEFFICIENTS)
        `height` is the integral of `slope`, column by column.

    Notes
    -----
    Integral of a B-spline as a sum of splines of one degree higher: de Boor, A
    Practical Guide to Splines (1978), chapter X, (22).
    """
    spacing = 1 / (COEFFICIENTS - DEGREE)
    slope = _design(position, DEGREE)
    higher = _design(np.append(position, 0.0), DEGREE + 1)
    sums = spacing * np.cumsum(higher[:, ::-1], axis=1)[:, ::-1][:, 1:]
    return slope, sums[:-1] - sums[-1]


def _design(position: FloatArray, degree: int) -> FloatArray:
    inner = COEFFICIENTS - DEGREE
    knots = np.arange(-degree, inner + degree + 1) / inner
    inside = np.clip(position, 0, 1)
    return np.asarray(BSpline.design_matrix(inside, knots, degree).toarray())


@lru_cache(maxsize=1)
def even_basis() -> tuple[FloatArray, FloatArray]:
    """`spline_basis` at `NODES` even places."""
    return spline_basis(np.linspace(0, 1, NODES))


@lru_cache(maxsize=8)
def difference_penalty(order: int) -> FloatArray:
    """D'D for the differences D of the coefficients, shape (COEFFICIENTS,) * 2.

    Source: Eilers and Marx, Flexible smoothing with B-splines and penalties,
    Statistical Science 11 (1996), equation (6).
    """
    differences = np.diff(np.eye(COEFFICIENTS), order, axis=0)
    return differences.T @ differences
