"""What makes a print uneven: lamp or coating, and which fault of either.

Knows placed readings of one sheet, or of two that lay under the lamp turned by 180
degrees; says what can be told apart from them and what cannot.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.values import FloatArray
from negcurve.watch.field_model import (
    COAT_TILT,
    LAMP_TILT,
    FieldModel,
    Scatter,
    line_covariance,
)
from negcurve.watch.placed import PlacedSheet
from negcurve.watch.shapes import Shape, candidates, nearby

Origin = Literal["lamp", "coating", "lamp or coating"]

CLEAR = 20.0
"""Gain of twice the log likelihood from which a mark counts as found.

For about 700 marks looked for. From simulation: with it about one healthy sheet in 80
with strong brush streaks is said to have a dead row, and hardly any other, see
`tests/benchmarks/unevenness.py`.
"""

SMALLEST = 0.02
"""Marks smaller than this are of no consequence for a print. [D]"""

MAP_CELLS = 24
"""Cells of the map along the longer side."""


@dataclass(frozen=True, kw_only=True)
class Cause:
    """One cause of unevenness that stands out.

    Attributes
    ----------
    mark : str
        `band`, `edge`, `corners`, `patch`, `tilt` or `streaks`.
    origin : {"lamp", "coating", "lamp or coating"}
        What it is fixed to, as far as can be told.
    size, error : float
        Density it adds at mid-tone where it is largest, and standard error. [D]
    shape : Shape or None
        Where it lies.
    gain : float
        Twice the gain of log likelihood.
    sheet : int or None
        The sheet it lies on, None for both.
    """

    mark: str
    origin: Origin
    size: float
    error: float
    shape: Shape | None = None
    gain: float = 0.0
    sheet: int | None = None


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
        best = _best_mark(model, scatter, likelihood, fixed)
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


Variant = tuple[Origin, int | None]


def _variants(model: FieldModel, shape: Shape) -> list[Variant]:
    """Return what a mark may be fixed to, as far as these sheets can tell."""
    two = len(model.sheets) == 2
    tones = not model.sheets[0].even
    if shape.mark == "edge":
        return [("lamp", None)]
    if shape.mark == "corners":
        return (
            [("lamp", None), ("coating", None)]
            if tones
            else [("lamp or coating", None)]
        )
    if two:
        return [("lamp", None), ("coating", 0), ("coating", 1)]
    if tones:
        return [("lamp", None), ("coating", 0)]
    return [("lamp or coating", 0 if shape.mark == "patch" else None)]


def _column(model: FieldModel, shape: Shape, variant: Variant) -> FloatArray:
    origin, sheet = variant
    if origin == "coating":
        column = model.coating * shape.at(model.x, model.y)
    else:
        column = model.exposure * shape.at(model.lamp_x, model.lamp_y)
    return column if sheet is None else column * (model.sheet == sheet)


def _scatters(scatter: Scatter) -> list[Scatter]:
    """Return the scatter found, and with streaks of either direction shrunk."""
    return [
        Scatter(
            noise=scatter.noise,
            along_x=scatter.along_x * across,
            along_y=scatter.along_y * down,
        )
        for across in (1.0, 0.3)
        for down in (1.0, 0.3)
    ]


def _best_mark(
    model: FieldModel, scatter: Scatter, likelihood: float, fixed: FloatArray
) -> tuple[Cause, FloatArray] | None:
    """Return the mark that gains most, with the scatter found anew for each kind."""
    sheet = model.sheets[0]
    tried = [
        (shape, variant)
        for shape in candidates(sheet.width_mm, sheet.height_mm)
        for variant in _variants(model, shape)
    ]
    kinds = sorted({(shape.mark, variant[0]) for shape, variant in tried})
    finalists = []
    for kind in kinds:
        some = [each for each in tried if (each[0].mark, each[1][0]) == kind]
        best = _strongest(model, _scatters(scatter), fixed, some)
        if best is None:
            continue
        if best[0].mark != "corners":
            closer = [(each, best[1]) for each in nearby(best[0])]
            best = _strongest(model, _scatters(scatter), fixed, closer) or best
        finalists.append(_judged(model, scatter, likelihood, fixed, best[0], best[1]))
    found = [each for each in finalists if each.gain >= CLEAR and _matters(each)]
    if not found:
        return None
    cause = max(found, key=lambda each: each.gain)
    assert cause.shape is not None
    return cause, _column(model, cause.shape, (cause.origin, cause.sheet))


def _matters(cause: Cause) -> bool:
    sign = cause.shape.sign if cause.shape else 0
    return abs(cause.size) >= SMALLEST and (sign == 0 or np.sign(cause.size) == sign)


def _judged(
    model: FieldModel,
    scatter: Scatter,
    likelihood: float,
    fixed: FloatArray,
    shape: Shape,
    variant: Variant,
) -> Cause:
    """Find the scatter that suits a mark best, and what the mark then gains."""
    column = _column(model, shape, variant)
    start = _scatters(scatter)[-1]
    suited, reached = model.estimate(fixed, mark=column, start=start)
    size, error = model.whitened(suited, fixed).sizes(column[:, None])
    return Cause(
        mark=shape.mark,
        origin=variant[0],
        size=float(size[0]),
        error=float(error[0]),
        shape=shape,
        gain=2 * (reached - likelihood),
        sheet=variant[1],
    )


Tried = tuple[Shape, Variant]


def _strongest(
    model: FieldModel,
    scatters: Sequence[Scatter],
    fixed: FloatArray,
    tried: Sequence[Tried],
) -> Tried | None:
    """Return the mark and variant of the highest likelihood under any scatter."""
    columns = np.stack([_column(model, *each) for each in tried], axis=1)
    signs = np.array([each[0].sign for each in tried])
    best, highest = None, -np.inf
    for each in scatters:
        white = model.whitened(each, fixed)
        size, error = white.sizes(columns)
        right = (signs == 0) | (np.sign(size) == signs)
        gain = np.where(right, (size / error) ** 2 / 2, -np.inf) + white.likelihood
        place = int(np.argmax(gain))
        if gain[place] > highest:
            best, highest = tried[place], float(gain[place])
    return best


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
    causes += _slow_causes(
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


def _slow_causes(
    model: FieldModel,
    scatter: Scatter,
    fixed: FloatArray,
    likelihood: float,
    total: FloatArray,
    lamp_tilt: FloatArray,
    told: bool,
) -> list[Cause]:
    """Return tilt and streaks where they are large enough to matter."""
    causes = []
    error = 3.5 * scatter.noise / float(np.sqrt(len(model.x)))
    tilts: list[tuple[Origin, FloatArray]] = [("lamp or coating", total)]
    if told:
        tilts = [("lamp", lamp_tilt), ("coating", total - lamp_tilt)]
    for origin, tilt in tilts:
        size = float(np.hypot(*tilt))
        if size > max(SMALLEST, 3 * error):
            causes.append(Cause(mark="tilt", origin=origin, size=size, error=error))
    for name in ("along_x", "along_y"):
        streak = float(getattr(scatter, name))
        if streak < SMALLEST / 2:
            continue
        without = Scatter(**{**vars(scatter), name: 1e-4})
        gain = 2 * (likelihood - model.whitened(without, fixed).likelihood)
        if gain > CLEAR / 2:
            axis: Literal["x", "y"] = "x" if name == "along_x" else "y"
            causes.append(
                Cause(
                    mark="streaks",
                    origin="coating",
                    size=streak,
                    error=streak / 4,
                    gain=gain,
                    shape=Shape(
                        mark="band",
                        axis="y" if axis == "x" else "x",
                        center_mm=(),
                        height_mm=0.0,
                        sign=0,
                        width_mm=model.sheets[0].width_mm,
                        height_of_sheet_mm=model.sheets[0].height_mm,
                    ),
                )
            )
    return causes


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
    first = len(model.sheets)
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
