"""The picture of an uneven sheet: a map of density, and what was found on it.

Knows how to show a study; every number comes from it.
"""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure
from matplotlib.image import AxesImage

from negcurve.plots import style
from negcurve.watch.cause import Cause
from negcurve.watch.evenness import Evenness, FieldMap
from negcurve.watch.placed import PlacedSheet

_COLORS = LinearSegmentedColormap.from_list(
    "lighter to darker", [style.ORANGE, "#f6f6f6", style.BLUE]
)

_ON_PALE, _ON_DEEP = "#212121", "#fdfdfd"
"""Ink on the map's own colours, which stay as they are on a dark page."""


@style.quiet()
def field_figure(study: Evenness) -> Figure:
    """Draw the map of each sheet with the causes that were found.

    Parameters
    ----------
    study : Evenness

    Returns
    -------
    Figure
        A panel for each sheet, as the print reads right; darker places blue, lighter
        ones orange, and figures of the difference on the map.
    """
    sheets, maps = study.sheets, study.maps
    ratio = sheets[0].height_mm / sheets[0].width_mm
    figure = style.new_figure(height_in=min(max(4.3 * ratio + 1.3, 3.4), 7.6))
    if len(sheets) == 2:
        figure.set_size_inches(style.WIDTH_IN, min(max(2.05 * ratio + 1.55, 3.0), 6.0))
    top = max(float(np.abs(each.density).max()) for each in maps)
    limit = max(top, 0.03)
    rooms = figure.subplots(1, len(sheets), squeeze=False)[0]
    for axes, sheet, field in zip(rooms, sheets, maps, strict=True):
        lines = _bands(study, sheet)
        image = _draw_map(axes, sheet, field, limit, lines)
        _draw_causes(axes, study, sheet, lines)
    bar = figure.colorbar(
        image, ax=list(rooms), orientation="horizontal", shrink=0.8, aspect=30, pad=0.03
    )
    bar.set_label("density at mid-tone, D: lighter (orange) to darker (blue)")
    bar.outline.set_visible(False)
    return style.describe(
        figure,
        title="Map of the sheet's unevenness",
        text=(
            f"Density differs by {study.spread:.3f} D over the sheet. "
            + "; ".join(_short(cause) for cause in study.causes)
        ),
    )


def _draw_map(
    axes: Axes,
    sheet: PlacedSheet,
    field: FieldMap,
    limit: float,
    lines: list[tuple[str, float]],
) -> AxesImage:
    image = axes.imshow(
        field.density,
        cmap=_COLORS,
        vmin=-limit,
        vmax=limit,
        extent=(0, sheet.width_mm, sheet.height_mm, 0),
        interpolation="nearest",
    )
    axes.grid(False)
    axes.set_aspect("equal")
    _write_figures(axes, field, limit, lines)
    name = f"sheet {sheet.name}" + (", turned" if sheet.turned else "")
    style.name_axes(
        axes, x="from the left, mm", y="from the top, mm", title=name, minor=True
    )
    return image


def _write_figures(
    axes: Axes, field: FieldMap, limit: float, lines: list[tuple[str, float]]
) -> None:
    """Write the difference at twelve places, clear of the dashed lines."""
    rows, columns = field.density.shape
    clear = 0.09 * float(field.x_mm[-1])
    for row in np.linspace(rows * 0.1, rows * 0.9, 4).astype(int):
        for column in np.linspace(columns * 0.15, columns * 0.85, 3).astype(int):
            x, y = float(field.x_mm[column]), float(field.y_mm[row])
            hidden = [
                abs((x if axis == "x" else 2 * y) - (at if axis == "x" else 2 * at))
                < clear
                for axis, at in lines
            ]
            if any(hidden):
                continue
            value = float(field.density[row, column])
            axes.text(
                x,
                y,
                style.signed(value, 2),
                ha="center",
                va="center",
                fontsize=9,
                color=_ON_DEEP if abs(value) > 0.55 * limit else _ON_PALE,
            )


def _on_sheet(study: Evenness, sheet: PlacedSheet, mark: str) -> list[Cause]:
    """Return the causes of one kind that lie on a sheet."""
    return [
        cause
        for cause in study.causes
        if cause.mark == mark
        and cause.shape is not None
        and (cause.sheet is None or study.sheets[cause.sheet] is sheet)
    ]


def _bands(study: Evenness, sheet: PlacedSheet) -> list[tuple[str, float]]:
    """Return axis and place of each band, in the print's own coordinates. [mm]."""
    lines: list[tuple[str, float]] = []
    for cause in _on_sheet(study, sheet, "band"):
        assert cause.shape is not None
        axis, place = cause.shape.axis, cause.shape.center_mm[0]
        if sheet.turned and cause.origin != "coating":
            place = (sheet.width_mm if axis == "x" else sheet.height_mm) - place
        lines.append((axis, place))
    return lines


def _draw_causes(
    axes: Axes, study: Evenness, sheet: PlacedSheet, lines: list[tuple[str, float]]
) -> None:
    for axis, place in lines:
        draw = axes.axvline if axis == "x" else axes.axhline
        draw(place, color=_ON_PALE, lw=1.3, ls=(0, (6, 3)))
    angle = np.linspace(0, 2 * np.pi, 60)
    for cause in _on_sheet(study, sheet, "patch"):
        assert cause.shape is not None
        x, y = cause.shape.center_mm
        if sheet.turned and cause.origin != "coating":
            x, y = sheet.width_mm - x, sheet.height_mm - y
        axes.plot(
            x + 1.5 * cause.shape.height_mm * np.cos(angle),
            y + 1.5 * cause.shape.height_mm * np.sin(angle),
            color=_ON_PALE,
            lw=1.2,
            ls=(0, (4, 3)),
            scalex=False,
            scaley=False,
        )


def _short(cause: Cause) -> str:
    return f"{cause.mark} of {cause.size:+z.3f} D, {cause.origin}"
