"""Random fields over a sheet: slow unevenness, brush streaks and fine grain.

Knows how to make them fast and of unit strength; what they mean is left to its callers.
"""

from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import ndimage

Image = npt.NDArray[np.float32]
"""One channel, shape (rows, columns)."""

MM_PER_INCH = 25.4


def spline_weights(count: int, knots: int) -> Image:
    """Weights of a uniform cubic B-spline at evenly spaced places.

    Parameters
    ----------
    count : int
        Places, from the first to the last knot interval.
    knots : int
        Control values, at least 4.

    Returns
    -------
    array, shape (count, knots)
        Every row sums to 1.

    Notes
    -----
    Source: the uniform cubic B-spline basis, as in any text on splines (from memory).
    """
    place = np.linspace(0.0, knots - 3.0, count)
    first = np.minimum(place.astype(np.intp), knots - 4)
    t = (place - first)[:, None]
    basis = np.hstack(
        [(1 - t) ** 3, 3 * t**3 - 6 * t**2 + 4, -3 * t**3 + 3 * t**2 + 3 * t + 1, t**3]
    )
    weights = np.zeros((count, knots), dtype=np.float32)
    rows = np.arange(count)[:, None]
    weights[rows, first[:, None] + np.arange(4)] = basis / 6
    return weights


def smooth_field(
    shape: tuple[int, int], *, knots: tuple[int, int], rng: np.random.Generator
) -> Image:
    """Random field that varies as fast as its knots are close.

    Parameters
    ----------
    shape : (rows, columns)
    knots : (down, across)
        Control values each way, at least 4.
    rng : Generator

    Returns
    -------
    array, shape (rows, columns)
        Mean 0, standard deviation 1.
    """
    values = rng.standard_normal(knots, dtype=np.float32)
    down = spline_weights(shape[0], knots[0])
    across = spline_weights(shape[1], knots[1])
    return _unit((down @ values) @ across.T)


def smooth_line(count: int, *, knots: int, rng: np.random.Generator) -> Image:
    """One-dimensional `smooth_field`, shape (count,), of mean 0 and deviation 1."""
    values = rng.standard_normal(knots, dtype=np.float32)
    return _unit(spline_weights(count, knots) @ values)


def grain(shape: tuple[int, int], *, size_px: float, rng: np.random.Generator) -> Image:
    """Fine random texture.

    Parameters
    ----------
    shape : (rows, columns)
    size_px : float
        Standard deviation of the smoothing, in pixels; below 0.3 means none.
    rng : Generator

    Returns
    -------
    array, shape (rows, columns)
        Mean 0, standard deviation 1.
    """
    noise = rng.standard_normal(shape, dtype=np.float32)
    if size_px < 0.3:
        return noise
    ndimage.gaussian_filter(noise, size_px, output=noise, mode="wrap", truncate=3.0)
    return _unit(noise)


def knots_for(length_mm: float, wave_mm: float) -> int:
    """Count knots so that a field over `length_mm` varies over about `wave_mm`."""
    return max(4, 3 + round(length_mm / wave_mm))


def _unit(field: npt.NDArray[np.floating]) -> Image:
    field -= field.mean()
    deviation = float(field.std())
    if deviation > 0:
        field /= deviation
    return np.asarray(field, dtype=np.float32)


def stretched(coarse: Image, shape: tuple[int, int]) -> Image:
    """Enlarge a coarse image over the same area, straight between its pixels."""
    down = _linear_weights(shape[0], coarse.shape[0])
    across = _linear_weights(shape[1], coarse.shape[1])
    return np.asarray((down @ coarse) @ across.T)


def sampled(
    image: Image, x: npt.NDArray[Any], y: npt.NDArray[Any], beyond: float
) -> Image:
    """Sample an image between its pixels, and a value beyond it.

    Parameters
    ----------
    image : array, shape (rows, columns)
    x, y : arrays of one shape
        Pixel 0 reaches from 0 to 1.
    beyond : float

    Returns
    -------
    array, shape of `x`
    """
    return np.asarray(
        ndimage.map_coordinates(
            image,
            np.stack([y - 0.5, x - 0.5]),
            order=1,
            mode="grid-constant",
            cval=beyond,
            prefilter=False,
        )
    )


def reduced(image: Image, block: int) -> Image:
    """Average whole square blocks of pixels; a last, narrower block is left out."""
    rows, columns = (n // block for n in image.shape)
    whole = image[: rows * block, : columns * block]
    return np.asarray(whole.reshape(rows, block, columns, block).mean(axis=(1, 3)))


def _linear_weights(count: int, knots: int) -> Image:
    place = np.clip((np.arange(count) + 0.5) * knots / count - 0.5, 0, knots - 1)
    first = np.minimum(place.astype(np.intp), max(knots - 2, 0))
    weights = np.zeros((count, knots), dtype=np.float32)
    rows = np.arange(count)
    weights[rows, first] = 1 - (place - first)
    weights[rows, np.minimum(first + 1, knots - 1)] += place - first
    return weights
