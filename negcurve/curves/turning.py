"""Where readings turn back at either end of the abscissa.

A free (not monotone) penalised spline; a turn counts when the curve falls from its top
to its end, or from its beginning to its bottom, by more than 3 standard errors.
"""

import numpy as np
import numpy.typing as npt

from negcurve.curves.basis import (
    COEFFICIENTS,
    difference_penalty,
    even_basis,
    spline_basis,
)
from negcurve.curves.blocks import factor, gram, inverse_root, product
from negcurve.curves.climbing import NOISE_GUESS, NOISE_TRUST, trust_of
from negcurve.values import FloatArray, frozen

STANDARD_ERRORS = 3.0
"""Reversals within so many standard errors are noise: the project's convention."""

ORDER = 2
STEPS = 20


def turning_points(
    abscissa: npt.ArrayLike, value: npt.ArrayLike
) -> tuple[float, float]:
    """Find the ends of the rising part of a response.

    Parameters
    ----------
    abscissa : array, shape (n,)
    value : array, shape (n,)
        [D]

    Returns
    -------
    bottom, top : float
        The lowest and highest abscissa where nothing turns back.
    """
    x, y = frozen(abscissa, "abscissa"), frozen(value, "value")
    low, width = float(x.min()), float(np.ptp(x))
    heights, covariance = _free_spline((x - low) / width, y)
    count = len(heights)
    top = count // 2 + int(np.argmax(heights[count // 2 :]))
    if not _beyond(heights, covariance, top, count - 1):
        top = count - 1
    bottom = int(np.argmin(heights[: count // 2]))
    if not _beyond(heights, covariance, 0, bottom):
        bottom = 0
    return low + width * bottom / (count - 1), low + width * top / (count - 1)


def _beyond(heights: FloatArray, root: FloatArray, above: int, below: int) -> bool:
    """Whether one node stands above another by more than `STANDARD_ERRORS`."""
    error = float(np.linalg.norm(root[above] - root[below]))
    return bool(heights[above] - heights[below] > STANDARD_ERRORS * error > 0)


def _free_spline(position: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Penalised spline at the even nodes, and a root of its covariance there.

    Stiffness by Fellner-Schall steps: Wood and Fasiolo, Biometrics 73 (2017),
    equation (6).
    """
    design = _with_level(spline_basis(position)[1])
    penalty = np.zeros((COEFFICIENTS + 1,) * 2)
    penalty[1:, 1:] = difference_penalty(ORDER)
    stiffness, noise, weights = 1.0, 0.02, np.ones(len(y))
    for _ in range(STEPS):
        weighted = design * (weights / noise**2)[:, None]
        matrix = gram(weighted, design) + stiffness * penalty
        matrix += 1e-9 * np.trace(matrix) * np.eye(len(matrix))
        root = inverse_root(factor(matrix))
        covariance = gram(root, root)
        theta = covariance @ (weighted.T @ y)
        residual = y - design @ theta
        leverage = np.clip(
            (product(weighted, covariance) * design).sum(axis=1), 0, 0.95
        )
        squares = NOISE_TRUST * NOISE_GUESS**2 + weights @ residual**2
        left = max(float(weights.sum() - leverage.sum()), 0.0)
        noise = float(np.sqrt(squares / (NOISE_TRUST + left)))
        weights = trust_of(residual / (noise * np.sqrt(1 - leverage)))
        free = COEFFICIENTS - ORDER - stiffness * float(np.sum(covariance * penalty))
        bent = float(theta @ penalty @ theta)
        stiffness = float(np.clip(max(free, 1e-3) / max(bent, 1e-12), 1e-3, 1e9))
    even = _with_level(even_basis()[1])
    return even @ theta, product(even, root.T)


def _with_level(heights: FloatArray) -> FloatArray:
    return np.column_stack([np.ones(len(heights)), heights])
