"""How a print lay on a scanner's glass.

Knows places on the glass, in millimetres of the print; what lays tell of the scanner is
left to `glass`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from negcurve.reading.scan import ScanReading
from negcurve.values import FloatArray

SAME_AREA_MM = 1.5
"""Scans whose sizes differ by less show the same area of the glass. [mm]"""


@dataclass(frozen=True, eq=False, kw_only=True)
class Lay:
    """How a print lay on the glass for one scan.

    Attributes
    ----------
    x_mm, y_mm : array, shape (n,)
        Where the middle of each patch lay, from the scan's top left; NaN where a
        reading has no place. [mm of the print]
    turn_degrees : float
        Of the print, clockwise.
    size_mm : (width, height)
        Of the scan.
    """

    x_mm: FloatArray
    y_mm: FloatArray
    turn_degrees: float
    size_mm: tuple[float, float]

    @property
    def middle_mm(self) -> FloatArray:
        """Middle of the patches, shape (2,)."""
        return np.array([np.nanmean(self.x_mm), np.nanmean(self.y_mm)])


def lay_of(scan: ScanReading) -> Lay:
    """Return how the print of a scan lay on the glass.

    Parameters
    ----------
    scan : ScanReading
        Its readings may hold further rows that have places on the print.

    Returns
    -------
    Lay
        In millimetres of the print, so that no stated resolution is trusted.
    """
    readings, geometry = scan.readings, scan.geometry
    scale = geometry.px_per_mm
    places = np.column_stack([readings.x_mm, readings.y_mm])
    on_glass = np.full_like(places, np.nan)
    known = np.isfinite(places).all(axis=1)
    on_glass[known] = geometry.to_scan(places[known]) / scale
    rows, columns = scan.reduced.levels.shape[:2]
    factor = scan.reduced.factor
    return Lay(
        x_mm=on_glass[:, 0],
        y_mm=on_glass[:, 1],
        turn_degrees=geometry.turn_degrees,
        size_mm=(columns * factor / scale, rows * factor / scale),
    )


def placed_alike(lays: Sequence[Lay]) -> tuple[tuple[Lay, ...], bool]:
    """Bring lays to one origin; say whether their scans show one area of the glass.

    Parameters
    ----------
    lays : sequence of Lay

    Returns
    -------
    tuple of Lay
        As given, or with the middles of the patches on one place where the areas
        differ: then no shift is known.
    bool
    """
    first = lays[0]
    sizes = np.array([lay.size_mm for lay in lays])
    if np.ptp(sizes, axis=0).max() <= SAME_AREA_MM:
        return tuple(lays), True
    return tuple(_moved(lay, first.middle_mm - lay.middle_mm) for lay in lays), False


def _moved(lay: Lay, shift: FloatArray) -> Lay:
    return replace(lay, x_mm=lay.x_mm + shift[0], y_mm=lay.y_mm + shift[1])
