"""The margins of a print, seen along rays from the ground outwards over its edges.

Gives light by distance from the sheet's edge; what lies there is judged elsewhere.
"""

from dataclasses import dataclass

import numpy as np

from negcurve.encoding import Encoding
from negcurve.reading.geometry import Geometry
from negcurve.reading.reduced import Reduced
from negcurve.target.layout import MARK_RADIUS_MM, Layout
from negcurve.values import FloatArray

REACH_MM = 70.0
"""How far beyond the marks the margins are looked at. [mm]"""

RAYS_MM = 1.0
"""Distance of the rays along a side. [mm]"""

GROUND_MM = 2.0
"""Start of every ray, beside the marks' rims: clear film, printed dark. [mm]"""


@dataclass(frozen=True, eq=False, kw_only=True)
class Margin:
    """One side of a print, seen along rays outwards.

    Attributes
    ----------
    light : array, shape (rays, places)
        Luminance factor; NaN beyond the scan. [1]
    level : array, shape (rays, places)
        Level of the brightest channel; NaN beyond the scan. [1]
    outwards_mm : array, shape (places,)
        Distance of the places from the sheet's edge, negative within it. [mm]
    """

    light: FloatArray
    level: FloatArray
    outwards_mm: FloatArray

    @property
    def step_mm(self) -> float:
        """Distance of places along a ray."""
        return float(self.outwards_mm[1] - self.outwards_mm[0])


def margins(
    reduced: Reduced, encoding: Encoding, geometry: Geometry, layout: Layout
) -> tuple[Margin, ...]:
    """Look outwards over the four sides of a print.

    Parameters
    ----------
    reduced : Reduced
        The scan made small.
    encoding : Encoding
        How its levels stand for light.
    geometry : Geometry
        Print to scan, at full size.
    layout : Layout
        A whole sheet with four marks.

    Returns
    -------
    tuple of Margin
        Top, right, bottom, left.
    """
    small = geometry.scaled(1 / reduced.factor)
    width, height = layout.width_mm, layout.height_mm
    step = max(0.15, 1 / small.px_per_mm)
    found = []
    for side in range(4):
        first, last = layout.marks_mm[side], layout.marks_mm[(side + 1) % 4]
        across = side % 2 == 0
        low, high = sorted((first[0], last[0]) if across else (first[1], last[1]))
        along = np.arange(low, high, RAYS_MM)
        edge, away = ((0, -1), (width, 1), (height, 1), (0, -1))[side]
        inside = abs(edge - first[1 if across else 0]) - MARK_RADIUS_MM
        outwards = np.arange(-inside, REACH_MM, step)
        places = np.stack(np.broadcast_arrays(along[:, None], edge + away * outwards))
        if not across:
            places = places[::-1]
        light, level = _sampled(reduced, encoding, small, places)
        found.append(Margin(light=light, level=level, outwards_mm=outwards))
    return tuple(found)


def _sampled(
    reduced: Reduced, encoding: Encoding, small: Geometry, places_mm: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return light and brightest level at places of shape (2, rays, places)."""
    pixels = small.to_scan(places_mm.reshape(2, -1).T)
    rows, columns = reduced.levels.shape[:2]
    x, y = np.floor(pixels).astype(int).T
    seen = (x >= 0) & (x < columns) & (y >= 0) & (y < rows)
    light, brightest = np.full((2, len(pixels)), np.nan)
    levels = reduced.levels[y[seen], x[seen]].astype(np.float64)
    light[seen] = encoding.luminance(levels)
    brightest[seen] = levels.max(axis=1)
    shape = places_mm.shape[1:]
    return light.reshape(shape), brightest.reshape(shape)


def ground_light(margin: Margin) -> FloatArray:
    """Return the light at the start of each ray: the ground under clear film."""
    count = max(1, int(GROUND_MM / margin.step_mm))
    return row_medians(margin.light[:, :count])


def row_medians(values: FloatArray) -> FloatArray:
    """Return the median of each row without its NaN; NaN where there is nothing else.

    Parameters
    ----------
    values : array, shape (rows, n)

    Returns
    -------
    array, shape (rows,)
    """
    found = np.full(len(values), np.nan)
    known = np.isfinite(values).any(axis=1)
    found[known] = np.nanmedian(values[known], axis=1)
    return found
