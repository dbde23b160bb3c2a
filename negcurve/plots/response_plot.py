"""The picture of a solution: readings, response, aim and lookup table.

Knows how to show them; every number comes from the solution.
"""

import numpy as np
import numpy.typing as npt
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from negcurve.density import lightness_from_density
from negcurve.plots import style
from negcurve.plots.film_plot import draw_film, draw_paper
from negcurve.response.solution import Solution
from negcurve.values import FloatArray

NINETY = 1.6449
"""Half width of a 90 % band, in standard errors of a normal distribution.

Source: any table of the normal distribution, 95 % point.
"""

Mask = npt.NDArray[np.bool_]

_TONES = np.linspace(0, 1, 257)


@style.quiet()
def response_figure(solution: Solution) -> Figure:
    """Draw a solution.

    Four panels for a narrow page: the response with its readings, what the readings
    differ from it, the aim, the table. The last two share their axis of image tone.
    Where film is known, two more: film and paper.

    Parameters
    ----------
    solution : Solution

    Returns
    -------
    Figure
    """
    apart = solution.film is not None and solution.paper is not None
    figure = style.new_figure(height_in=16.2 if apart else 9.6)
    ratios = (1.12, 1, 1.4) if apart else (1.12, 1)
    parts = figure.subfigures(len(ratios), 1, height_ratios=ratios, squeeze=False)
    above, below = parts[0, 0], parts[1, 0]
    response, residual = above.subplots(2, 1, sharex=True, height_ratios=(2.6, 1))
    aim, table = below.subplots(2, 1, sharex=True)
    level, density, left_out = _readings(solution)
    _draw_response(response, solution, level, density, left_out)
    _draw_residual(residual, solution, level, density, left_out)
    _draw_aim(aim, solution)
    _draw_table(table, solution)
    if solution.film is not None and solution.paper is not None:
        film, paper = parts[2, 0].subplots(2, 1)
        draw_film(film, solution.film)
        draw_paper(paper, solution.paper, solution.readings)
    return style.describe(
        figure,
        title=f"Response and table {solution.table.identity}",
        text=_in_words(solution, int(left_out.sum())),
    )


def _readings(solution: Solution) -> tuple[FloatArray, FloatArray, Mask]:
    """Return level, density and whether left out, of every reading of every sheet."""
    if not solution.readings:
        nothing = np.empty(0)
        return nothing, nothing, np.empty(0, dtype=bool)
    sheets = solution.readings
    level = np.concatenate([each.negative_level for each in sheets])
    density = np.concatenate([each.density for each in sheets])
    left_out = np.concatenate([each.flagged("stray") for each in sheets])
    if len(solution.weights) == len(level):
        left_out = left_out | (solution.weights < 0.1)
    patches = ~np.concatenate([each.on_tablet for each in sheets])
    return level[patches], density[patches], left_out[patches]


def _draw_points(
    axes: Axes, level: FloatArray, value: FloatArray, left_out: Mask
) -> None:
    kept = ~left_out
    axes.plot(
        level[kept], value[kept], "o", color=style.BLUE, ms=3.6, alpha=0.55, mew=0
    )
    axes.plot(
        level[left_out], value[left_out], "x", color=style.ORANGE, ms=6.5, mew=1.8
    )


def _draw_response(
    axes: Axes,
    solution: Solution,
    level: FloatArray,
    density: FloatArray,
    left_out: Mask,
) -> None:
    _draw_points(axes, level, density, left_out)
    place = np.linspace(*solution.response.domain, 512)
    axes.plot(place, solution.response.density(place), color=style.INK)
    ends = solution.ends
    for name, value, at in (
        ("image black", ends.black_density, ends.black_level),
        ("image white", ends.white_density, ends.white_level),
    ):
        axes.axhline(value, color=style.QUIET, lw=0.9, ls=(0, (5, 4)))
        axes.plot([at], [value], "D", color="white", mec=style.INK, ms=6, mew=1.4)
        text = f"{name}  D {value:.2f}, L* {lightness_from_density(value):.0f}"
        black = name == "image black"
        style.label(
            axes,
            (0.0 if black else 1.0, value),
            text,
            shift=(0, 9),
            align="left" if black else "right",
        )
    if left_out.any():
        _name_left_out(axes, solution, level[left_out], density[left_out])
    axes.set_ylim(min(0.0, float(np.min(density, initial=0.0)) - 0.03), None)
    axes.margins(y=0.1)
    style.unit_scale(axes, low="", high="")
    style.lightness_scale(axes)
    style.name_axes(
        axes, x="", y="print density, D", title="Response: what each level printed"
    )


def _name_left_out(
    axes: Axes, solution: Solution, level: FloatArray, density: FloatArray
) -> None:
    """Label the stray farthest from the response, where the plot is free."""
    gap = np.nan_to_num(density - solution.response.density(level))
    farthest = int(np.argmax(np.abs(gap)))
    above = bool(gap[farthest] > 0)
    style.label(
        axes,
        (float(level[farthest]), float(density[farthest])),
        "left out" if len(level) == 1 else f"{len(level)} left out",
        color=style.ORANGE,
        shift=(-8, 0) if above else (8, 0),
        align="right" if above else "left",
    )


def _draw_residual(
    axes: Axes,
    solution: Solution,
    level: FloatArray,
    density: FloatArray,
    left_out: Mask,
) -> None:
    inside = np.isfinite(solution.response.density(level))
    rest = density - solution.response.density(level)
    place = np.linspace(*solution.response.domain, 512)
    half = NINETY * solution.response.standard_error(place)
    axes.fill_between(place, -half, half, color=style.INK, alpha=0.22, lw=0)
    axes.axhline(0, color=style.INK, lw=1.2)
    span = _span(rest[inside & ~left_out], float(half.max()))
    shown = np.clip(rest, -span, span)
    _draw_points(axes, level[inside], shown[inside], left_out[inside])
    axes.set_ylim(-1.12 * span, 1.12 * span)
    beyond = int((np.abs(rest[inside]) > span).sum())
    if beyond:
        style.label(
            axes,
            (1.0, 1.0 * span),
            f"{beyond} beyond",
            color=style.QUIET,
            align="right",
        )
    style.unit_scale(axes, low="full ink", high="clear film")
    style.name_axes(
        axes,
        x="negative level",
        y="difference, D",
        title="Readings less response; grey: 90 % band of the response",
        minor=True,
    )


def _span(rest: FloatArray, half: float) -> float:
    """Return the half height of the residual panel, not ruled by a few strays."""
    if len(rest) == 0:
        return max(2 * half, 0.01)
    return max(2 * half, 1.15 * float(np.percentile(np.abs(rest), 99)), 0.01)


def _draw_aim(axes: Axes, solution: Solution) -> None:
    aim, reached = solution.aim.density(_TONES), solution.printed_density(_TONES)
    axes.plot(_TONES, aim, color=style.INK)
    gap = np.abs(lightness_from_density(aim) - lightness_from_density(reached))
    if np.nanmax(gap) > 0.5:
        axes.plot(_TONES, reached, color=style.ORANGE, ls=(0, (4, 2)))
        worst = int(np.nanargmax(gap))
        style.label(
            axes,
            (float(_TONES[worst]), float(reached[worst])),
            "reached",
            color=style.ORANGE,
            shift=(6, -8),
        )
    style.lightness_scale(axes)
    axes.set_ylim(0, 1.12 * float(aim[0]))
    style.name_axes(
        axes,
        x="",
        y="print density, D",
        title=f"Aim: {solution.aim.name}",
    )


def _draw_table(axes: Axes, solution: Solution) -> None:
    table = solution.table
    axes.plot(_TONES, table.negative_level(_TONES), color=style.BLUE, lw=2.2)
    axes.set_ylim(-0.03, 1.03)
    style.unit_scale(axes, low="black", high="white")
    black, white = table.level_nodes[0], table.level_nodes[-1]
    style.label(axes, (0.0, float(black)), f"{black:.3f}", shift=(8, 4))
    style.label(
        axes, (1.0, float(white)), f"{white:.3f}", shift=(-20, 6), align="right"
    )
    style.name_axes(
        axes,
        x="image tone (L* of the picture / 100)",
        y="negative level",
        title=f"Lookup table {table.identity}",
    )


def _in_words(solution: Solution, left_out: int) -> str:
    ends = solution.ends
    sheets, readings = len(solution.readings), sum(map(len, solution.readings))
    return (
        f"{readings} readings of {sheets} print{'s' if sheets != 1 else ''}, "
        f"{left_out} left out. Print density rises from D {ends.d_min:.2f} at full ink "
        f"to D {ends.d_max:.2f} at clear film. Image black prints D "
        f"{ends.black_density:.2f} at negative level {ends.black_level:.3f}, image "
        f"white D {ends.white_density:.2f} at level {ends.white_level:.3f}. The table "
        f"follows the aim {solution.aim.name}."
    )
