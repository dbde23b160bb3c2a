"""The picture of film and paper told apart.

Knows how to show printing density and characteristic curve; every number comes from
`negcurve.response`.
"""

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from negcurve.plots import style
from negcurve.readings import Readings
from negcurve.response.film import FilmData
from negcurve.response.paper import PaperCurve

NINETY = 1.6449
"""Half width of a 90 % band, in standard errors of a normal distribution.

Source: any table of the normal distribution, 95 % point.
"""


@style.quiet()
def film_figure(
    film: FilmData, paper: PaperCurve | None, readings: Sequence[Readings] = ()
) -> Figure:
    """Draw printing density against level, and the paper it was measured with.

    Parameters
    ----------
    film : FilmData
    paper : PaperCurve or None
    readings : sequence of Readings
        Whose tablet steps are drawn with the paper's curve.

    Returns
    -------
    Figure
    """
    figure = style.new_figure(height_in=4.4 if paper is None else 8.2)
    axes = figure.subplots(1 if paper is None else 2, 1, squeeze=False)[:, 0]
    draw_film(axes[0], film)
    if paper is not None:
        draw_paper(axes[1], paper, readings)
    return style.describe(figure, title="Film and paper", text=_in_words(film))


def draw_film(axes: Axes, film: FilmData) -> None:
    """Draw printing density against level on axes."""
    level, density = film.level_nodes, film.density_nodes
    half = NINETY * film.error_nodes
    axes.fill_between(
        level, density - half, density + half, color=style.BLUE, alpha=0.2, lw=0
    )
    known = level >= film.measured_from
    axes.plot(level[known], density[known], color=style.BLUE, lw=2)
    if not known.all():
        axes.plot(level[~known], density[~known], color=style.BLUE, ls=(0, (2, 2)))
        style.label(
            axes,
            (float(level[0]), float(density[0])),
            "continued, not measured",
            color=style.QUIET,
            shift=(6, -14),
        )
    if np.isfinite(film.least_ink_level):
        at = film.least_ink_level
        axes.plot(
            [at], [float(film.density(at))], "D", color="white", mec=style.INK, mew=1.4
        )
        style.label(
            axes,
            (at, float(film.density(at))),
            f"least ink for white: level {at:.3f}",
            shift=(9, 5),
        )
    style.unit_scale(axes, low="full ink", high="clear film")
    top = float(np.nanmax(density[known])) if known.any() else float(density[0])
    axes.set_ylim(-0.05 * top, max(1.25 * top, 0.2))
    style.name_axes(
        axes,
        x="negative level",
        y="printing density, D",
        title="Film: what each level holds back, 90 % band"
        + (" (assumed)" if film.assumed else ""),
    )


def draw_paper(
    axes: Axes, paper: PaperCurve, readings: Sequence[Readings] = ()
) -> None:
    """Draw the characteristic curve on axes, with the tablet's steps."""
    x, density = paper.log_exposure_nodes, paper.density_nodes
    low, high = paper.measured
    shown = (x >= low - 0.1) & (x <= max(high, 0.0) + 0.32)
    half = NINETY * paper.error_nodes
    axes.fill_between(
        x[shown],
        (density - half)[shown],
        (density + half)[shown],
        color=style.INK,
        alpha=0.18,
        lw=0,
    )
    inside = shown & (x <= high)
    beyond = shown & (x >= high)
    axes.plot(x[inside], density[inside], color=style.INK)
    axes.plot(x[beyond], density[beyond], color=style.INK, ls=(0, (2, 2)))
    for each in readings:
        steps = each.on_tablet
        if steps.any() and each.tablet_over_film:
            axes.plot(
                -each.tablet_density[steps],
                each.density[steps],
                "o",
                color=style.ORANGE,
                ms=3.6,
                alpha=0.7,
                mew=0,
            )
    style.name_axes(
        axes,
        x="log exposure, 0 through clear film",
        y="print density, D",
        title="Paper: characteristic curve, with the tablet's steps",
    )


def _in_words(film: FilmData) -> str:
    least = (
        f" Below level {film.least_ink_level:.3f} more ink gains nothing."
        if np.isfinite(film.least_ink_level)
        else ""
    )
    return (
        f"Printing density falls from {film.density_range:.2f} at level "
        f"{film.level_nodes[0]:.2f} to 0 at clear film; measured from level "
        f"{film.measured_from:.2f} up.{least}"
    )
