"""Matrix products in blocks so small that the linear algebra library starts no threads.

The matrices of a fit are some hundred wide. At that size threads gain nothing, and on
a busy machine waiting for them costs many times the work itself.
"""

import numpy as np
from scipy.linalg import lapack

from negcurve.values import FloatArray

LARGEST = 400_000
"""Multiplications in one product; OpenBLAS 0.3 starts threads at some 600 000."""


def product(one: FloatArray, other: FloatArray) -> FloatArray:
    """Return one @ other, shapes (n, k) and (k, m)."""
    rows = max(1, LARGEST // max(other.size, 1))
    if len(one) <= rows:
        return np.asarray(one @ other)
    starts = range(0, len(one), rows)
    return np.vstack([one[start : start + rows] @ other for start in starts])


def gram(one: FloatArray, other: FloatArray) -> FloatArray:
    """Return one.T @ other, shapes (n, k) and (n, m)."""
    rows = max(1, LARGEST // max(one.shape[1] * other.shape[1], 1))
    total = np.zeros((one.shape[1], other.shape[1]))
    for start in range(0, len(one), rows):
        total += one[start : start + rows].T @ other[start : start + rows]
    return total


def factor(matrix: FloatArray) -> FloatArray:
    """Return the lower Cholesky factor L, matrix = L L'; made to succeed by a trace."""
    lower, failed = lapack.dpotrf(matrix, lower=1)
    if failed:
        jitter = 1e-9 * np.trace(matrix) / len(matrix)
        lower, failed = lapack.dpotrf(matrix + jitter * np.eye(len(matrix)), lower=1)
    return np.asarray(lower)


def inverse_root(lower: FloatArray) -> FloatArray:
    """Return R = L^-1, so that the inverse of L L' is R' R; zeros above stay."""
    return np.asarray(lapack.dtrtri(lower, lower=1)[0])


def log_det(matrix: FloatArray) -> float:
    """Return the log determinant of a positive definite matrix."""
    return float(2 * np.log(np.diag(factor(matrix))).sum())
