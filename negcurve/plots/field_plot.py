"""The picture of an uneven sheet: a map of density, and what was found on it.

Knows how to show a study; every number comes from it.
"""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure
from matplotlib.image import AxesImage

from negcurve.plots import style
from negcurve.watch.evenness import Cause, Evenness, FieldMap
from negcurve.watch.placed import PlacedSheet

_COLORS = LinearSegmentedColormap.from_list(
    "lighter to darker", [style.ORANGE, "#f6f6f6", style.BLUE]
)


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
        figure.set_size_inches(style.WIDTH_IN, min(max(2.4 * ratio + 1.5, 3.2), 6.0))
    top = max(float(np.abs(each.density).max()) for each in maps)
    limit = max(top, 0.03)
    rooms = figure.subplots(1, len(sheets), squeeze=False)[0]
    for axes, sheet, field in zip(rooms, sheets, maps, strict=True):
        image = _draw_map(axes, sheet, field, limit)
        _draw_causes(axes, study, sheet)
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
    axes: Axes, sheet: PlacedSheet, field: FieldMap, limit: float
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
    rows, columns = field.density.shape
    for row in np.linspace(rows * 0.1, rows * 0.9, 4).astype(int):
        for column in np.linspace(columns * 0.15, columns * 0.85, 3).astype(int):
            value = float(field.density[row, column])
            dark = abs(value) > 0.55 * limit
            axes.text(
                field.x_mm[column],
                field.y_mm[row],
                style.signed(value, 2),
                ha="center",
                va="center",
                fontsize=9,
                color="white" if dark else style.INK,
            )
    name = f"sheet {sheet.name}" + (", turned" if sheet.turned else "")
    style.name_axes(
        axes, x="from the left, mm", y="from the top, mm", title=name, minor=True
    )
    return image


def _draw_causes(axes: Axes, study: Evenness, sheet: PlacedSheet) -> None:
    for cause in study.causes:
        shape = cause.shape
        if shape is None or not shape.center_mm:
            continue
        if cause.sheet is not None and study.sheets[cause.sheet] is not sheet:
            continue
        fixed_to_lamp = cause.origin != "coating"
        if shape.mark == "band":
            length = sheet.width_mm if shape.axis == "x" else sheet.height_mm
            place = shape.center_mm[0]
            place = length - place if sheet.turned and fixed_to_lamp else place
            draw = axes.axvline if shape.axis == "x" else axes.axhline
            draw(place, color=style.INK, lw=1.3, ls=(0, (6, 3)))
        elif shape.mark == "patch":
            x, y = shape.center_mm
            if sheet.turned and fixed_to_lamp:
                x, y = sheet.width_mm - x, sheet.height_mm - y
            angle = np.linspace(0, 2 * np.pi, 60)
            axes.plot(
                x + 1.5 * shape.height_mm * np.cos(angle),
                y + 1.5 * shape.height_mm * np.sin(angle),
                color=style.INK,
                lw=1.2,
                ls=(0, (4, 3)),
                scalex=False,
                scaley=False,
            )


def _short(cause: Cause) -> str:
    return f"{cause.mark} of {cause.size:+.3f} D, {cause.origin}"
