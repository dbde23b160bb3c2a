"""From readings or a picture of a sheet to what each place differs by.

Knows readings, a response and small pictures as arrays; no files.
"""

import numpy as np
import numpy.typing as npt

from negcurve.errors import ReadingsError
from negcurve.readings import Readings
from negcurve.response.solution import Solution
from negcurve.values import FloatArray
from negcurve.watch.placed import PlacedSheet

ONE_TONE = 0.02
"""Negative levels that lie no farther apart make an even sheet. [1]"""

NEAR = 0.35
"""A place belongs to the sheet if its density is this near to the middle's. [D]"""


def is_even(readings: Readings) -> bool:
    """Tell whether all readings are of one tone, and not of ink mixtures."""
    if readings.has_mixtures or len(readings) == 0:
        return False
    return bool(np.ptp(readings.negative_level) <= ONE_TONE)


def sheet_from_readings(
    readings: Readings,
    solution: Solution | None,
    *,
    size_mm: tuple[float, float] | None = None,
    turned: bool = False,
) -> PlacedSheet:
    """Return what each reading of a print differs by from an even one.

    Parameters
    ----------
    readings : Readings
        With places.
    solution : Solution or None
        For the density that each level should have; not needed for an even sheet.
    size_mm : (float, float), optional
        Of the sheet; margins alike on opposite sides are assumed without it. [mm]
    turned : bool
        Whether the sheet lay turned by 180 degrees under the lamp.

    Returns
    -------
    PlacedSheet

    Raises
    ------
    ReadingsError
        If readings have no places, or several levels and no solution.

    Notes
    -----
    Weights: exposure acts on a tone as f (1 - f), coating as f, f the share of the
    density range; both 1 at the middle of it.
    """
    name = readings.source or f"sheet {readings.sheet}"
    if not readings.placed:
        raise ReadingsError(
            "the readings have no places on the sheet",
            where=name,
            fix="Columns x_mm and y_mm are needed; `negcurve read` writes them.",
        )
    if readings.has_mixtures:
        raise ReadingsError(
            "is a print of ink mixtures, whose densities differ by their inks",
            where=name,
            fix="Use the print of a grey target, or of one even mid-grey.",
        )
    usable = ~readings.flagged("stray", "covered", "clipped")
    if is_even(readings):
        difference = readings.density - np.median(readings.density[usable])
        exposure = coating = np.ones(len(readings))
    else:
        if solution is None:
            raise ReadingsError(
                "these are several tones, and no table says what each should be",
                where=name,
                fix="Give --table, or use a sheet of one even mid-grey.",
            )
        expected = solution.response.density(readings.negative_level)
        usable &= np.isfinite(expected)
        difference = readings.density - expected
        span = solution.ends.d_max - solution.ends.d_min
        share = np.clip((expected - solution.ends.d_min) / span, 0, 1)
        exposure, coating = 4 * share * (1 - share), 2 * share
    x, y = readings.x_mm, readings.y_mm
    width, height = size_mm or (float(x.min() + x.max()), float(y.min() + y.max()))
    return PlacedSheet(
        x_mm=x[usable],
        y_mm=y[usable],
        difference=difference[usable],
        exposure_weight=exposure[usable],
        coating_weight=coating[usable],
        width_mm=width,
        height_mm=height,
        turned=turned,
        name=readings.sheet,
    )


def sheet_from_picture(
    density: npt.NDArray[np.float64],
    cell_mm: tuple[float, float],
    *,
    name: str,
    turned: bool = False,
) -> PlacedSheet:
    """Find an evenly exposed area in a small picture of a sheet.

    Parameters
    ----------
    density : array, shape (rows, columns)
        [D]
    cell_mm : (float, float)
        Width and height of a cell. [mm]
    name : str
        For messages.
    turned : bool
        Whether the sheet lay turned by 180 degrees under the lamp.

    Returns
    -------
    PlacedSheet
        Its edges are those of the exposed area, less the outermost cells.

    Raises
    ------
    ReadingsError
        If the picture shows no large even area.
    """
    rows, columns = density.shape
    middle = density[rows // 3 : 2 * rows // 3, columns // 3 : 2 * columns // 3]
    inside = np.abs(density - np.median(middle)) < NEAR
    down = np.flatnonzero(inside[:, columns // 3 : 2 * columns // 3].mean(axis=1) > 0.7)
    across = np.flatnonzero(inside[rows // 3 : 2 * rows // 3].mean(axis=0) > 0.7)
    if len(down) < 8 or len(across) < 8:
        raise ReadingsError(
            "shows no large even area",
            where=name,
            fix="Scan a sheet exposed evenly to a mid-grey, or give readings.",
        )
    top, bottom = down[0] + 1, down[-1]
    left, right = across[0] + 1, across[-1]
    area, kept = density[top:bottom, left:right], inside[top:bottom, left:right]
    y, x = np.nonzero(kept)
    ones: FloatArray = np.ones(len(x))
    return PlacedSheet(
        x_mm=np.asarray((x + 0.5) * cell_mm[0], dtype=np.float64),
        y_mm=np.asarray((y + 0.5) * cell_mm[1], dtype=np.float64),
        difference=area[kept] - np.median(area[kept]),
        exposure_weight=ones,
        coating_weight=ones,
        width_mm=area.shape[1] * cell_mm[0],
        height_mm=area.shape[0] * cell_mm[1],
        turned=turned,
        name=name,
    )
