"""The marks that causes leave on a sheet: bands, edges, fall-off, patches.

Each shape is the density it adds at mid-tone, up to its size. Lamp formulas are those
of `negcurve.darkroom.lamp_bank`.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from negcurve.values import FloatArray

Mark = Literal["band", "edge", "corners", "patch"]
Axis = Literal["x", "y", ""]

HEIGHTS_MM = (20.0, 30.0, 42.0, 60.0, 85.0, 120.0)
"""Lamp heights that a band may tell of. [mm]"""


@dataclass(frozen=True, kw_only=True)
class Shape:
    """One mark at one place.

    Attributes
    ----------
    mark : {"band", "edge", "corners", "patch"}
    axis : {"x", "y", ""}
        Across which the mark varies; a band with axis `x` stands upright.
    center_mm : tuple of float
        Place along the axis, or x and y of a patch. [mm]
    height_mm : float
        Lamp height for a band or edge, radius of a patch. [mm]
    side : {-1, 0, 1}
        Of an edge: towards smaller or larger places.
    sign : {-1, 0, 1}
        Which way the size may go; 0 either way.
    width_mm, height_of_sheet_mm : float
        Of the sheet. [mm]
    """

    mark: Mark
    axis: Axis
    center_mm: tuple[float, ...]
    height_mm: float
    sign: int
    width_mm: float
    height_of_sheet_mm: float
    side: int = 0

    def at(self, x_mm: FloatArray, y_mm: FloatArray) -> FloatArray:
        """Return the shape at some places, largest size 1, same shape as these."""
        return _SHAPES[self.mark](self, x_mm, y_mm)

    def across(self, x_mm: FloatArray, y_mm: FloatArray) -> FloatArray:
        """Return the place along the axis. [mm]."""
        return x_mm if self.axis == "x" else y_mm


def _band(shape: Shape, x_mm: FloatArray, y_mm: FloatArray) -> FloatArray:
    """Return a row of lamps that is out: light h / (h^2 + u^2) is missing."""
    away = (shape.across(x_mm, y_mm) - shape.center_mm[0]) / shape.height_mm
    return np.asarray(1 / (1 + away**2))


def _edge(shape: Shape, x_mm: FloatArray, y_mm: FloatArray) -> FloatArray:
    """Return the end of a bank: log of 0.5 + atan(u / h) / pi; -1 right below it."""
    inside = (shape.across(x_mm, y_mm) - shape.center_mm[0]) * -shape.side
    light = 0.5 + np.arctan(inside / shape.height_mm) / np.pi
    return np.asarray(np.log10(light) / np.log10(2.0))


def _corners(shape: Shape, x_mm: FloatArray, y_mm: FloatArray) -> FloatArray:
    """Return fall-off as the square of the distance from the middle."""
    u = 2 * x_mm / shape.width_mm - 1
    v = 2 * y_mm / shape.height_of_sheet_mm - 1
    if shape.axis == "x":
        return np.asarray(-(u**2))
    if shape.axis == "y":
        return np.asarray(-(v**2))
    return np.asarray(-(u**2 + v**2) / 2)


def _patch(shape: Shape, x_mm: FloatArray, y_mm: FloatArray) -> FloatArray:
    """Return one round spot."""
    x, y = shape.center_mm
    square = ((x_mm - x) ** 2 + (y_mm - y) ** 2) / shape.height_mm**2
    return np.asarray(np.exp(-square / 2))


_SHAPES: dict[str, Callable[[Shape, FloatArray, FloatArray], FloatArray]] = {
    "band": _band,
    "edge": _edge,
    "corners": _corners,
    "patch": _patch,
}


def candidates(width_mm: float, height_mm: float) -> Iterator[Shape]:
    """Yield every mark that is looked for on a sheet of this size."""
    empty = Shape(
        mark="corners",
        axis="",
        center_mm=(),
        height_mm=0.0,
        sign=1,
        width_mm=width_mm,
        height_of_sheet_mm=height_mm,
    )
    yield empty
    yield from _along("x", width_mm, empty)
    yield from _along("y", height_mm, empty)
    yield from _patches(width_mm, height_mm, empty)


def _along(axis: Axis, length: float, empty: Shape) -> Iterator[Shape]:
    """Yield fall-off, bands and edges along one axis."""
    yield replace(empty, axis=axis)
    steps = max(int(np.ceil(length / 12)), 6)
    for height in HEIGHTS_MM:
        for center in np.linspace(0, length, steps + 1):
            yield replace(
                empty,
                mark="band",
                axis=axis,
                center_mm=(float(center),),
                height_mm=height,
                sign=-1,
            )
        for side, border in ((-1, 0.0), (1, length)):
            for overhang in (0.0, 0.7, 1.5):
                yield replace(
                    empty,
                    mark="edge",
                    axis=axis,
                    center_mm=(border + side * overhang * height,),
                    height_mm=height,
                    side=side,
                )


def _patches(width_mm: float, height_mm: float, empty: Shape) -> Iterator[Shape]:
    short = min(width_mm, height_mm)
    for radius in (short / 13, short / 8):
        across = max(int(width_mm / (1.5 * radius)), 2)
        down = max(int(height_mm / (1.5 * radius)), 2)
        for x in np.linspace(0, width_mm, across + 1):
            for y in np.linspace(0, height_mm, down + 1):
                yield replace(
                    empty,
                    mark="patch",
                    center_mm=(float(x), float(y)),
                    height_mm=radius,
                    sign=0,
                )


def nearby(shape: Shape) -> Iterator[Shape]:
    """Yield shapes a little beside, wider and narrower than one, for refining it."""
    for factor in (0.84, 0.92, 1.0, 1.09, 1.19):
        for shift in np.linspace(-8, 8, 9):
            center = tuple(float(each + shift) for each in shape.center_mm)
            yield replace(shape, center_mm=center, height_mm=shape.height_mm * factor)
