"""Looking for marks on sheets: every shape at every place, and which gains most.

Knows likelihoods; what a mark means is left to `evenness_words`.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from negcurve.values import FloatArray
from negcurve.watch.cause import CLEAR, SMALLEST, Cause, Origin
from negcurve.watch.field_model import FieldModel, Scatter
from negcurve.watch.shapes import Shape, candidates, nearby

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


def best_mark(
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
    column = _column(model, cause.shape, (cause.origin, cause.sheet))
    if cause.mark in ("edge", "corners"):  # these shapes are -1 where they are largest
        cause = replace(cause, size=-cause.size)
    return cause, column


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
