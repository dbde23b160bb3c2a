"""The arithmetic of `glass`: a field over the glass, patches and scans left free.

Knows which mixtures of tilt and bends a set of lays tells apart from the print, and
their errors; what they are called is left to `glass`.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.special import fdtrc

from negcurve.density import reflectance_from_density
from negcurve.reading.glass_rows import (
    GlassRows,
    base_weights,
    freed,
    patch_means,
)
from negcurve.values import FloatArray

TERMS = 5
"""x, y, x^2 + y^2, x^2 - y^2, 2 x y: a turn mixes the first two, and the last two."""

LEAST_SHARE = 0.02
"""Share of a mixture's own variance that must move against the print.

Below it a misplaced mark or a lifted corner would be magnified more than sevenfold.
"""

LARGEST_ERROR = 0.004
"""Root mean square over the print that a mixture's error may have. [D]"""

KNOWN_BY = 0.98
"""Share of a coefficient's variance that must be told for it to be named."""

ROUNDS = 8
HUBER = 1.345
"""Residual in standard deviations from which a reading counts less on the way.

Source: 95 % efficiency at the normal distribution; Huber, Robust Statistics (1981),
value from memory.
"""

FOREIGN = 4.0
"""Residual in standard deviations from which dust is taken to lie on a patch."""

SURE_OF_TONE = 4.0
"""Standard errors from which the field is said to differ with tone."""

MUCH_BY_TONE = 0.5
"""Share by which it must do so between the lightest and the darkest patch."""


@dataclass(frozen=True, eq=False, kw_only=True)
class GlassFit:
    """A field over the glass, as far as it was told.

    Attributes
    ----------
    middle_mm : array, shape (2,)
        Where x = y = 0.
    reach_mm : float
        Where x or y is 1, from there. [mm]
    told : array, shape (5, k)
        Mixtures of the terms that were told, each of root mean square 1 over the print
        and even to the others.
    metric : array, shape (5, 5)
        Mean products of the terms over the print.
    means : array, shape (5,)
        Of the terms over the print; the field's mean is 0.
    value : array, shape (k,)
        Of each mixture. [D]
    covariance : array, shape (k, k)
        Of the values. [D^2]
    chance : float
        Probability that noise alone gives as much.
    by_tone : bool
        Whether what dark patches show differs from what light ones do.
    """

    middle_mm: FloatArray
    reach_mm: float
    told: FloatArray
    metric: FloatArray
    means: FloatArray
    value: FloatArray
    covariance: FloatArray
    chance: float
    by_tone: bool

    def scaled(self, x_mm: FloatArray, y_mm: FloatArray) -> FloatArray:
        """Return places against middle and reach, shape (n, 2)."""
        return (np.column_stack([x_mm, y_mm]) - self.middle_mm) / self.reach_mm

    def at(self, x_mm: FloatArray, y_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the field and its standard error at places on the glass. [D].

        Each mixture counts as far as it exceeds its error, so that one that is hardly
        told brings no noise in: the positive part of James and Stein (1961), one value
        at a time.
        """
        error = np.diag(self.covariance)
        sure = np.maximum(0, 1 - error / np.maximum(self.value**2, 1e-30))
        terms = glass_terms(self.scaled(x_mm, y_mm)) - self.means
        mixed = (terms @ self.told) * sure
        variance = np.einsum("ij,jk,ik->i", mixed, self.covariance, mixed)
        return mixed @ self.value, np.sqrt(np.maximum(variance, 0))

    def tells(self, weights: npt.ArrayLike) -> bool:
        """Say whether a weighted sum of the coefficients was told.

        It was, if what was not told adds nothing to it: Scheffe, The Analysis of
        Variance (1959), section 1.4, on estimable functions (from memory).
        """
        wanted = np.asarray(weights, dtype=np.float64)
        inside = self.told.T @ wanted
        whole = wanted @ np.linalg.solve(self.metric, wanted)
        return bool(inside @ inside >= KNOWN_BY * whole)

    def summed(self, weights: npt.ArrayLike) -> tuple[float, float]:
        """Return a weighted sum of the coefficients, and its standard error. [D]."""
        shares = self.told.T @ np.asarray(weights, dtype=np.float64)
        error = np.sqrt(max(float(shares @ self.covariance @ shares), 0.0))
        return float(shares @ self.value), float(error)


def glass_terms(places: FloatArray) -> FloatArray:
    """Return the five terms at scaled places, shape (n, 5)."""
    x, y = places.T
    return np.column_stack([x, y, x * x + y * y, x * x - y * y, 2 * x * y])


def fit_glass(rows: GlassRows) -> GlassFit | None:
    """Fit the field over the glass.

    Parameters
    ----------
    rows : GlassRows

    Returns
    -------
    GlassFit or None
        None where the lays tell nothing.

    Notes
    -----
    Least squares with every patch's density free, and for each scan but the first an
    offset and a slope in density (a lamp that drifts, a setting that changed); readings
    far off the rest are left out, as dust. The covariance takes each patch as one draw,
    so it holds for any dependence of error on tone.
    """
    places = np.column_stack([rows.x_mm, rows.y_mm])
    middle = (places.max(axis=0) + places.min(axis=0)) / 2
    reach = float(np.ptp(places, axis=0).max() / 2)
    terms = glass_terms((places - middle) / reach)
    settled = _settled(rows, terms)
    if settled is None:
        return None
    told, moving, residual, value, weight = settled
    covariance = _covariance(rows, moving, residual, weight)
    kept = np.sqrt(np.diag(covariance)) <= LARGEST_ERROR
    if not kept.any():
        return None
    told, value = told[:, kept], value[kept]
    covariance = covariance[np.ix_(kept, kept)]
    metric, means = _metric(terms, weight)
    field = (terms - means) @ told @ value
    ratio = value @ np.linalg.solve(covariance, value) / len(value)
    free = max(rows.patches - len(value), 1)
    return GlassFit(
        middle_mm=middle,
        reach_mm=reach,
        told=told,
        metric=metric,
        means=means,
        value=value,
        covariance=covariance,
        chance=float(fdtrc(len(value), free, ratio)),
        by_tone=_differs_by_tone(rows, field, residual, weight),
    )


def _settled(
    rows: GlassRows, terms: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray] | None:
    """Return mixtures, what of them moves, residuals, values, weights of readings."""
    weight = base = base_weights(rows)
    for turn in range(ROUNDS):
        told = _mixtures(rows, terms, weight)
        if not told.shape[1]:
            return None
        moving = freed(rows, terms @ told, weight)
        density = freed(rows, rows.density, weight)
        value, residual = _solved(moving, density, weight)
        if turn < ROUNDS - 1:
            size = _in_deviations(residual * np.sqrt(base))
            # Soft on the way, so that it settles; sharp at last, so that errors hold.
            soft = np.minimum(1.0, HUBER / np.maximum(size, HUBER))
            sharp = np.where(size > FOREIGN, FOREIGN**-6, 1.0)
            weight = base * (soft if turn < ROUNDS // 2 else sharp)
    return told, moving, residual, value, weight


def _metric(terms: FloatArray, weight: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return mean products of the terms about their means, and the means."""
    means = np.average(terms, axis=0, weights=weight)
    about = terms - means
    return about.T @ (about * weight[:, None]) / weight.sum(), means


def _mixtures(rows: GlassRows, terms: FloatArray, weight: FloatArray) -> FloatArray:
    """Find the mixtures of terms that move against the print, shape (5, k)."""
    metric, _ = _metric(terms, weight)
    root = np.linalg.cholesky(metric + 1e-12 * np.trace(metric) * np.eye(TERMS))
    white = np.linalg.inv(root).T
    moving = freed(rows, terms @ white, weight)
    share, axes = np.linalg.eigh(moving.T @ (moving * weight[:, None]) / weight.sum())
    return np.asarray(white @ axes[:, share >= LEAST_SHARE])


def _solved(
    moving: FloatArray, density: FloatArray, weight: FloatArray
) -> tuple[FloatArray, FloatArray]:
    root = np.sqrt(weight)
    found = np.linalg.lstsq(moving * root[:, None], density * root, rcond=None)[0]
    value = np.asarray(found, dtype=np.float64)
    return value, density - moving @ value


def _in_deviations(residual: FloatArray) -> FloatArray:
    """Return sizes of residuals in standard deviations, by their median."""
    # 0.6745: median absolute value of a standard normal variable.
    size = np.abs(residual)
    return np.asarray(size / max(float(np.median(size)) / 0.6745, 1e-9))


def _covariance(
    rows: GlassRows, moving: FloatArray, residual: FloatArray, weight: FloatArray
) -> FloatArray:
    """Return the covariance of the values, each patch one independent draw."""
    count, free = rows.patches, 2 * int(rows.scan.max()) + moving.shape[1]
    inner = np.linalg.inv(moving.T @ (moving * weight[:, None]))
    pull = moving * (weight * residual)[:, None]
    drawn = np.column_stack([np.bincount(rows.patch, each) for each in pull.T])
    middle = drawn.T @ drawn * (count / max(count - free, 1))
    return np.asarray(inner @ middle @ inner)


def _differs_by_tone(
    rows: GlassRows, field: FloatArray, residual: FloatArray, weight: FloatArray
) -> bool:
    """Say whether the field is deeper or flatter in dark patches.

    Unevenness of stray light or of the sensor's black adds to light, not to density:
    its density grows as 1 / reflectance.
    """
    depth = 1 / reflectance_from_density(patch_means(rows, rows.density, weight))
    depth = depth - np.average(depth, weights=weight)
    moving = freed(rows, field * depth, weight)[:, None]
    if not (moving.T @ (moving * weight[:, None])).item() > 0:
        return False
    value, left = _solved(moving, residual, weight)
    error = np.sqrt(_covariance(rows, moving, left, weight).item())
    sure = abs(value[0]) > SURE_OF_TONE * error > 0
    return bool(sure and abs(value[0]) * np.ptp(depth) > MUCH_BY_TONE)
