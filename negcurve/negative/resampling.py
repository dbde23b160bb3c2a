"""Another number of pixels by Lanczos-3, strip by strip, exact.

Knows the weights, which source rows a strip needs, and in which domain of light the
sums are formed; where the rows come from and go to is left to `rendering`. Import this
module only to resample: most negatives are made without, and scipy costs 30 MB.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.sparse import csr_array

from negcurve.values import CodeArray, FloatArray

LOBES = 3


def domain_power(source: int, wanted: int) -> float:
    """Power of luminance in which to resample: 0.5 to enlarge, 1 to reduce.

    Parameters
    ----------
    source, wanted : int
        Pixels along one side before and after.

    Returns
    -------
    float

    Notes
    -----
    Chosen by measurement, see `tests/benchmarks/resampling_domain.py`: invented scenes
    (grain, foliage, discs, dark twigs, lit wires) rendered finely, averaged as light
    to two numbers of pixels, one resampled to the other and compared in L*. Enlarged
    by 1.33, lit wires err by 12.6 L* rms in luminance, whose dark rims are cut off at
    black, by 10.2 in its root and by 9.6 in L*; elsewhere the root is within 0.12 of
    the best, and it keeps mean tone best where that is hard: 0.32 L*, against 0.43
    and 0.50. Reduced to a third, lit wires lose 3.9 L* of mean tone in the root and
    5.6 in L*, against 0.6 in luminance, where light simply adds up.
    """
    return 0.5 if wanted >= source else 1.0


@dataclass(frozen=True, eq=False, kw_only=True)
class Weights:
    """Lanczos-3 weights along one side.

    Attributes
    ----------
    first : array of int, shape (wanted,)
        Source pixel that the first weight belongs to; may lie before the picture.
    weights : array, shape (wanted, taps)
        Rows add up to 1; 0 outside the picture.
    source : int
        Source pixels.
    """

    first: npt.NDArray[np.intp]
    weights: FloatArray
    source: int

    def needed(self, start: int, stop: int) -> tuple[int, int]:
        """Source pixels start..stop-1 that wanted pixels start..stop-1 draw on."""
        low = max(0, int(self.first[start]))
        high = min(self.source, int(self.first[stop - 1]) + self.weights.shape[1])
        return low, high

    def matrix(
        self,
        start: int,
        stop: int,
        precision: npt.DTypeLike,
        *,
        backwards: bool = False,
    ) -> csr_array:
        """Sparse matrix from needed source pixels to wanted pixels start..stop-1.

        Parameters
        ----------
        start, stop : int
            Wanted pixels.
        precision : float type
            Of the weights.
        backwards : bool
            Last wanted pixel first.

        Returns
        -------
        csr_array, shape (stop - start, needed pixels)
        """
        low, high = self.needed(start, stop)
        order = slice(None, None, -1) if backwards else slice(None)
        weights = self.weights[start:stop][order]
        taps = np.arange(weights.shape[1])
        places = self.first[start:stop][order][:, np.newaxis] + taps - low
        inside = (places >= 0) & (places < high - low)
        pointers = np.concatenate([[0], np.cumsum(inside.sum(axis=1))])
        return csr_array(
            (
                weights[inside].astype(precision),
                places[inside].astype(np.int32),
                pointers.astype(np.int32),
            ),
            shape=(stop - start, high - low),
        )


def lanczos_weights(source: int, wanted: int) -> Weights:
    """Weights that turn `source` pixels into `wanted` ones over the same length.

    Parameters
    ----------
    source, wanted : int
        1 or more.

    Returns
    -------
    Weights

    Notes
    -----
    w(x) = sinc(x) sinc(x/3) for |x| < 3, else 0; x in pixels of the coarser of the
    two grids; pixel centres at whole numbers and a half. Beyond the edge there is no
    picture: the weights inside are scaled to add up to 1. Source: K. Turkowski,
    Filters for common resampling tasks, Graphics Gems, 1990 (from memory).
    """
    scale = max(source / wanted, 1.0)
    centre = (np.arange(wanted) + 0.5) * (source / wanted) - 0.5
    reach = LOBES * scale
    first = np.ceil(centre - reach).astype(np.intp)
    taps = int(np.floor(2 * reach)) + 1
    places = first[:, np.newaxis] + np.arange(taps)
    distance = (places - centre[:, np.newaxis]) / scale
    weights = np.sinc(distance) * np.sinc(distance / LOBES)
    outside = (np.abs(distance) >= LOBES) | (places < 0) | (places >= source)
    weights[outside] = 0.0
    return Weights(
        first=first,
        weights=weights / weights.sum(axis=1, keepdims=True),
        source=source,
    )


class Resampler:
    """Resamples strips of light of one picture; threads may share it.

    Parameters
    ----------
    source, wanted : (height, width)
        Pixels before and after.
    mirrored : bool
        Whether each row comes out end for end.
    """

    def __init__(
        self, source: tuple[int, int], wanted: tuple[int, int], *, mirrored: bool
    ) -> None:
        self.wanted = wanted
        self.mirrored = mirrored
        self.power = domain_power(source[1], wanted[1])
        # In luminance a code near black is 2 millionths of white: too fine for float32
        # sums that reach across an edge.
        self.precision: type[np.float32 | np.float64] = (
            np.float32 if self.power < 1 else np.float64
        )
        self._down = lanczos_weights(source[0], wanted[0])
        across = lanczos_weights(source[1], wanted[1])
        self._across = across.matrix(0, wanted[1], self.precision, backwards=mirrored)

    def needed(self, start: int, stop: int) -> tuple[int, int]:
        """Source rows that wanted rows start..stop-1 draw on."""
        return self._down.needed(start, stop)

    def strip(self, light: CodeArray, start: int, stop: int) -> CodeArray:
        """Resample one strip.

        Parameters
        ----------
        light : array, shape (needed rows, source width)
            Luminance to `power`, of the precision.
        start, stop : int
            Wanted rows.

        Returns
        -------
        array, shape (stop - start, wanted width)
            Square root of luminance; may overshoot 1, never falls below 0.
        """
        columns_first: CodeArray = self._across @ np.ascontiguousarray(light.T)
        down = self._down.matrix(start, stop, self.precision)
        strip: CodeArray = down @ np.ascontiguousarray(columns_first.T)
        np.maximum(strip, 0, out=strip)
        return strip if self.power < 1 else np.sqrt(strip)
