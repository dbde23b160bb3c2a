"""The mean reflectance of each patch, and how far it can be trusted.

Works on light, not on codes or densities: what a densitometer's aperture averages is
reflectance. What is foreign to a patch is told in `cells`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from negcurve.encoding import Encoding
from negcurve.reading.cells import block_scatter, cells_of, without_foreign
from negcurve.reading.geometry import Geometry
from negcurve.reading.reduced import largest_code
from negcurve.target.layout import Box
from negcurve.values import (
    CodeArray,
    FloatArray,
    ImageSource,
    Progress,
    no_progress,
)

TRIM_SHARE = 0.18
TRIM_LEAST_MM = 1.0
"""What is left out along each edge of a patch: light spreads there. Common practice."""

ENOUGH_PX_PER_MM = 11.5
"""Of a scan with twice as many pixels (600 ppi) every second one is read each way.

Grain and texture are coarser, and a patch of 5 mm still has 3000 pixels.
"""

CLIPPED_SHARE = 0.02
COVERED_SHARE = 0.25


@dataclass(frozen=True, kw_only=True)
class PatchValue:
    """What one area of a scan shows.

    Attributes
    ----------
    reflectance : float
        Robust mean, 0..1.
    standard_error : float
        Of the reflectance, from the texture of the area and the steps of the codes.
    scatter : float
        Standard deviation between blocks of the area, in reflectance.
    left_out : float
        Share of the area that is foreign and was left out, 0..1.
    clipped_low, clipped_high : float
        Share of pixels at the smallest and at the largest code, 0..1.
    code_step : float
        Change of reflectance for one code.
    """

    reflectance: float
    standard_error: float
    scatter: float
    left_out: float
    clipped_low: float
    clipped_high: float
    code_step: float

    @property
    def clipped(self) -> bool:
        """Whether too many pixels stand at an end for the mean to be true."""
        return max(self.clipped_low, self.clipped_high) > CLIPPED_SHARE


def read_areas(
    source: ImageSource,
    encoding: Encoding,
    geometry: Geometry,
    boxes: Sequence[Box],
    *,
    rounding: float = 0.0,
    progress: Progress = no_progress,
) -> tuple[PatchValue, ...]:
    """Read the mean of areas of a print, one window of the scan after another.

    Parameters
    ----------
    source : ImageSource
        The scan.
    encoding : Encoding
        How its levels stand for light.
    geometry : Geometry
        Print to scan.
    boxes : sequence of Box
        Areas on the print; each lies inside the scan.
    rounding : float
        Step of level that the means of JPEG's blocks were rounded to, 0 for none.
    progress : Progress
        Told how far it is.

    Returns
    -------
    tuple of PatchValue
        In the order of the boxes.
    """
    values: list[PatchValue] = []
    for box in boxes:
        values.append(_read_area(source, encoding, geometry, trimmed(box), rounding))
        progress("reading patches", len(values) / len(boxes))
    return tuple(values)


def trimmed(box: Box) -> Box:
    """Return the part of a patch that is read."""
    trim = [
        min(max(TRIM_SHARE * side, TRIM_LEAST_MM), 0.35 * side)
        for side in (box.width_mm, box.height_mm)
    ]
    return Box(
        left_mm=box.left_mm + trim[0],
        top_mm=box.top_mm + trim[1],
        width_mm=box.width_mm - 2 * trim[0],
        height_mm=box.height_mm - 2 * trim[1],
    )


def _read_area(
    source: ImageSource,
    encoding: Encoding,
    geometry: Geometry,
    box: Box,
    rounding: float,
) -> PatchValue:
    stride = max(1, int(geometry.px_per_mm / ENOUGH_PX_PER_MM))
    codes, along = pixels_in(source, geometry, box, stride=stride)
    largest = largest_code(source.dtype)
    luminance = encoding.luminance(codes / largest)
    level = codes.mean(axis=0) / largest
    step = _code_step(encoding, level, 1 / largest)
    coarse = max(step, _code_step(encoding, level, rounding))
    cells = cells_of(luminance, along, box, geometry.px_per_mm)
    kept, plane, foreign = without_foreign(cells, least_spread=0.3 * coarse)
    mean = max(float(plane[0]), 1e-6)
    scatter, blocks = block_scatter(cells, kept, plane)
    # Pixels dither the rounding to codes; that of JPEG's blocks, only other blocks.
    deviation = cells.pixel_deviation if coarse == step else scatter
    rounded = _rounding_error(coarse, deviation)
    # With two or three channels at an end the luminance is no longer known.
    most = codes.shape[1] / 2
    return PatchValue(
        reflectance=mean,
        standard_error=float(np.hypot(scatter / np.sqrt(max(blocks, 1)), rounded)),
        scatter=scatter,
        left_out=foreign,
        clipped_low=float(((codes <= 0).sum(axis=1) > most).mean()),
        clipped_high=float(((codes >= largest).sum(axis=1) > most).mean()),
        code_step=step,
    )


def pixels_in(
    source: ImageSource, geometry: Geometry, box: Box, *, stride: int = 1
) -> tuple[CodeArray, FloatArray]:
    """Return the pixels of a box on the print.

    Parameters
    ----------
    source : ImageSource
        The scan.
    geometry : Geometry
        Print to scan.
    box : Box
    stride : int
        Every which pixel is taken, each way.

    Returns
    -------
    codes : array, shape (n, channels)
        Of pixels within the scan; there may be none.
    places : array, shape (n, 2)
        Within the box, from 0 to 1 across and down it.
    """
    corners = geometry.to_scan(
        [
            (box.left_mm, box.top_mm),
            (box.right_mm, box.top_mm),
            (box.left_mm, box.bottom_mm),
            (box.right_mm, box.bottom_mm),
        ]
    )
    left, top = np.maximum(np.floor(corners.min(axis=0)).astype(int), 0)
    right, bottom = np.ceil(corners.max(axis=0)).astype(int)
    right, bottom = min(right, source.width), min(bottom, source.height)
    if right <= left or bottom <= top:
        return np.empty((0, source.channels), dtype=source.dtype), np.empty((0, 2))
    window = source.window(top, left, bottom - top, right - left)
    window = window[::stride, ::stride]
    x = left + np.arange(window.shape[1]) * stride + 0.5
    y = top + np.arange(window.shape[0]) * stride + 0.5
    # Bow and keystone within one patch are far below a pixel: affine is enough.
    sides = np.column_stack([corners[1] - corners[0], corners[2] - corners[0]])
    inverse = np.linalg.inv(sides)
    from_corner = x - corners[0][0], (y - corners[0][1])[:, None]
    u = inverse[0, 0] * from_corner[0] + inverse[0, 1] * from_corner[1]
    v = inverse[1, 0] * from_corner[0] + inverse[1, 1] * from_corner[1]
    inside = (u >= 0) & (u < 1) & (v >= 0) & (v < 1)
    return window[inside], np.column_stack([u[inside], v[inside]])


def _code_step(encoding: Encoding, mean_level: FloatArray, code: float) -> float:
    """Return the change of luminance for one code in all channels."""
    low = np.clip(mean_level - code / 2, 0, 1)
    high = np.clip(mean_level + code / 2, 0, 1)
    pair = encoding.luminance(np.stack([low, high]))
    return float(abs(pair[1] - pair[0]))


def _rounding_error(step: float, deviation: float) -> float:
    """Return the error that rounding to codes leaves in a mean of many pixels.

    Notes
    -----
    A uniform rounding error has standard deviation step / sqrt(12). Noise of standard
    deviation s steps dithers it by exp(-2 pi^2 s^2): the characteristic function of a
    normal distribution at the first harmonic of the rounding staircase.
    """
    if step <= 0:
        return 0.0
    dither = np.exp(-2 * (np.pi * min(deviation / step, 3.0)) ** 2)
    return float(step / np.sqrt(12) * dither)
