"""What makes a print uneven: lamp or coating, and which fault of either.

Knows placed readings of one sheet, or of two that lay under the lamp turned by 180
degrees; says what can be told apart from them and what cannot.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.values import FloatArray
from negcurve.watch.cause import Cause
from negcurve.watch.field_model import (
    COAT_TILT,
    LAMP_TILT,
    SLOW,
    FieldModel,
    Scatter,
    line_covariance,
)
from negcurve.watch.placed import PlacedSheet
from negcurve.watch.search import best_mark
from negcurve.watch.slow_causes import fall_off, tilt_and_streaks

MAP_CELLS = 24
"""Cells of the map along the longer side."""


@dataclass(frozen=True, eq=False, kw_only=True)
class FieldMap:
    """A smooth map of density added at mid-tone, in the print's own coordinates.

    Attributes
    ----------
    x_mm, y_mm : array, shape (columns,), (rows,)
        Centres of the cells. [mm]
    density : array, shape (rows, columns)
        [D]
    """

    x_mm: FloatArray
    y_mm: FloatArray
    density: npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False, kw_only=True)
class Evenness:
    """How even the sheets are, and why not.

    Attributes
    ----------
    sheets : tuple of PlacedSheet
    causes : tuple of Cause
        Largest first.
    spread : float
        From the lightest to the darkest twentieth of the map, greatest of the
        sheets. [D]
    noise : float
        Standard deviation of one reading. [D]
    maps : tuple of FieldMap
        One for each sheet.
    lamp_tilt, coating_tilt : tuple of (float, float), or None
        Density from left to right and from top to bottom; None where light and
        coating cannot be told apart. [D]
    tilt : tuple of (float, float)
        Of the first sheet, both together. [D]
    not_told : tuple of str
        What these readings cannot tell.
    """

    sheets: tuple[PlacedSheet, ...]
    causes: tuple[Cause, ...]
    spread: float
    noise: float
    maps: tuple[FieldMap, ...]
    lamp_tilt: tuple[float, float] | None
    coating_tilt: tuple[float, float] | None
    tilt: tuple[float, float]
    not_told: tuple[str, ...]


def study(sheets: Sequence[PlacedSheet]) -> Evenness:
    """Find what makes a sheet, or two under one lamp, uneven.

    Parameters
    ----------
    sheets : sequence of PlacedSheet, one or two
        The second turned by 180 degrees against the first.

    Returns
    -------
    Evenness

    Raises
    ------
    InvalidValueError
        For no sheet or more than two.
    ReadingsError
        If two sheets differ in size or in how they lay.

    Notes
    -----
    Healthy unevenness is a random field: tilt and curvature of light and of coating,
    streaks along both axes, noise. Its streaks and noise are estimated by restricted
    likelihood. Each mark is added in turn and kept if twice the log likelihood gains
    `CLEAR`, with the streaks allowed to shrink to a third, since an unexplained band
    looks like a streak; up to three marks.
    """
    _check(sheets)
    kept = tuple(each.reduced() for each in sheets)
    model = FieldModel(kept)
    fixed, found = model.fixed, []
    scatter, likelihood = model.estimate(fixed)
    for _ in range(3):
        best = best_mark(model, scatter, likelihood, fixed)
        if best is None:
            break
        cause, column = best
        found.append((cause, column))
        fixed = np.column_stack([fixed, column])
        scatter, likelihood = model.estimate(fixed)
    return _result(model, kept, scatter, fixed, found, likelihood)


def _check(sheets: Sequence[PlacedSheet]) -> None:
    if not 1 <= len(sheets) <= 2:
        raise InvalidValueError("takes one sheet or two", where="evenness")
    if len(sheets) == 2:
        one, two = sheets
        sizes = np.array([[s.width_mm, s.height_mm] for s in sheets])
        if np.abs(sizes[0] - sizes[1]).max() > 3:
            raise ReadingsError(
                f"{one.width_mm:.0f} x {one.height_mm:.0f} mm and {two.width_mm:.0f} x "
                f"{two.height_mm:.0f} mm cannot be compared",
                where="evenness",
                fix="Use two sheets of one size.",
            )
        if one.turned == two.turned:
            raise ReadingsError(
                "both sheets lay the same way under the lamp",
                where="evenness",
                fix="Turn the second sheet by 180 degrees under the lamp.",
            )


def _result(
    model: FieldModel,
    sheets: tuple[PlacedSheet, ...],
    scatter: Scatter,
    fixed: FloatArray,
    found: list[tuple[Cause, FloatArray]],
    likelihood: float,
) -> Evenness:
    white = model.whitened(scatter, fixed)
    rest = white.weighted_rest()
    lamp = model.lamp_terms().T @ rest
    coat = np.array(
        [
            (model.coat_terms() * (model.coating * (model.sheet == k))[:, None]).T
            @ rest
            for k in range(len(sheets))
        ]
    )
    lamp_tilt = 2 * LAMP_TILT * lamp[:2]
    coat_tilt = 2 * COAT_TILT * coat[0, :2]
    sense = -1.0 if sheets[0].turned else 1.0
    total = sense * lamp_tilt + coat_tilt
    told = len(sheets) == 2 or not sheets[0].even
    maps = tuple(
        _map(model, k, scatter, white.fixed_size, found, rest)
        for k in range(len(sheets))
    )
    causes = [each for each, _ in found]
    if not any(each.mark == "corners" for each in causes):
        curved = SLOW * np.array([lamp[2:4], coat[:, 2:4].mean(axis=0)])
        causes += fall_off(sheets, curved, scatter)
    causes += tilt_and_streaks(
        model, scatter, fixed, likelihood, total, sense * lamp_tilt, told
    )
    return Evenness(
        sheets=sheets,
        causes=tuple(sorted(causes, key=lambda each: -abs(each.size))),
        spread=max(
            float(np.ptp(np.percentile(each.density, [5, 95]))) for each in maps
        ),
        noise=scatter.noise,
        maps=maps,
        lamp_tilt=(float(sense * lamp_tilt[0]), float(sense * lamp_tilt[1]))
        if told
        else None,
        coating_tilt=(float(coat_tilt[0]), float(coat_tilt[1])) if told else None,
        tilt=(float(total[0]), float(total[1])),
        not_told=_not_told(sheets),
    )


def _map(
    model: FieldModel,
    sheet: int,
    scatter: Scatter,
    fixed_size: FloatArray,
    found: list[tuple[Cause, FloatArray]],
    rest: FloatArray,
) -> FieldMap:
    """Predict the whole field of one sheet at mid-tone, streaks included."""
    one = model.sheets[sheet]
    cell = max(one.width_mm, one.height_mm) / MAP_CELLS
    columns, rows = round(one.width_mm / cell), round(one.height_mm / cell)
    x = (np.arange(columns) + 0.5) * one.width_mm / columns
    y = (np.arange(rows) + 0.5) * one.height_mm / rows
    grid_x, grid_y = (each.ravel() for each in np.meshgrid(x, y))
    ones = np.ones(len(grid_x))
    places = PlacedSheet(
        x_mm=grid_x,
        y_mm=grid_y,
        difference=0 * ones,
        exposure_weight=ones,
        coating_weight=ones,
        width_mm=one.width_mm,
        height_mm=one.height_mm,
        turned=one.turned,
        name=one.name,
    )
    there = FieldModel([places])
    own = (model.sheet == sheet) * model.coating
    covariance = there.lamp_terms() @ model.lamp_terms().T
    covariance += (there.coat_terms() @ model.coat_terms().T) * own
    covariance += scatter.along_x**2 * line_covariance(grid_y, model.y) * own
    covariance += scatter.along_y**2 * line_covariance(grid_x, model.x) * own
    field = covariance @ rest
    first = model.fixed.shape[1]
    for size, (cause, _) in zip(fixed_size[first:], found, strict=True):
        if cause.sheet in (None, sheet) and cause.shape is not None:
            on_print = cause.origin == "coating"
            place = (grid_x, grid_y) if on_print else (there.lamp_x, there.lamp_y)
            field = field + size * cause.shape.at(*place)
    return FieldMap(
        x_mm=x, y_mm=y, density=(field - np.median(field)).reshape(rows, columns)
    )


def _not_told(sheets: tuple[PlacedSheet, ...]) -> tuple[str, ...]:
    told = []
    even = all(each.even for each in sheets)
    if len(sheets) == 1 and even:
        told.append(
            "light from coating: one even sheet shows only their sum. A second sheet "
            "turned by 180 degrees under the lamp tells tilt, bands and patches apart"
        )
    if even:
        told.append(
            "fall-off of the light from thin coating towards all edges: both are alike "
            "when the sheet is turned. A target's clear patches feel coating alone"
        )
    if len(sheets) == 1 and not even:
        told.append(
            "a fault of the lamp from one of the negative or the contact: turn the "
            "next sheet by 180 degrees"
        )
    return tuple(told)
