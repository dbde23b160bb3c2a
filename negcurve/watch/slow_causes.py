"""Causes without an edge: tilt, fall-off, streaks, from the fitted random field."""

from typing import Literal

import numpy as np

from negcurve.values import FloatArray
from negcurve.watch.cause import CLEAR, SMALLEST, Cause, Origin
from negcurve.watch.field_model import FieldModel, Scatter
from negcurve.watch.placed import PlacedSheet
from negcurve.watch.shapes import Axis, Shape


def fall_off(
    sheets: tuple[PlacedSheet, ...], curved: FloatArray, scatter: Scatter
) -> list[Cause]:
    """Return fall-off towards edges or corners where it is large enough to matter.

    `curved` is the density at the edges less that in the middle: light and coating,
    across and down, shape (2, 2).
    """
    across, down = curved.sum(axis=0)
    error = 4 * scatter.noise / float(np.sqrt(sum(len(s.x_mm) for s in sheets)))
    fallen = [value < -max(SMALLEST, 3 * error) for value in (across, down)]
    if not any(fallen):
        return []
    axis: Axis = "" if all(fallen) else ("x" if fallen[0] else "y")
    size = float(across * fallen[0] + down * fallen[1])
    origin: Origin = "lamp or coating"
    if not sheets[0].even:
        light, coat = (float(part @ fallen) for part in curved)
        origin = "lamp" if light < coat else "coating"
    shape = Shape(
        mark="corners",
        axis=axis,
        center_mm=(),
        height_mm=0.0,
        sign=1,
        width_mm=sheets[0].width_mm,
        height_of_sheet_mm=sheets[0].height_mm,
    )
    return [Cause(mark="corners", origin=origin, size=size, error=error, shape=shape)]


def tilt_and_streaks(
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
