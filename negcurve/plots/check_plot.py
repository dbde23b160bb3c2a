"""The picture of a check: how far a print lies from its aim, tone by tone.

Knows how to show it; every number comes from the check.
"""

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from negcurve.density import lightness_slope
from negcurve.plots import style
from negcurve.plots.response_plot import NINETY
from negcurve.response.solution import Solution
from negcurve.response.verdict import Check


@style.quiet()
def check_figure(check: Check, solution: Solution) -> Figure:
    """Draw a check.

    Above the error in L* with the band in which nine new sheets of ten lie; below
    the print and its aim.

    Parameters
    ----------
    check : Check
    solution : Solution
        Of the table that the print was made through.

    Returns
    -------
    Figure
    """
    figure = style.new_figure(height_in=6.6)
    error, tones = figure.subplots(2, 1, sharex=True)
    _draw_error(error, check)
    _draw_tones(tones, check, solution)
    return style.describe(
        figure,
        title=f"Check of print {check.sheet}: {check.verdict}",
        text=(
            f"Printed error {check.rms:.1f} L* rms, 95 % within "
            f"{check.percentile_95:.1f}, worst {check.worst:+z.1f} L* at image tone "
            f"{_worst_tone(check):.2f}. {check.advice}"
        ),
    )


def _worst_tone(check: Check) -> float:
    return float(check.image_tone[np.argmax(np.abs(check.lightness_error))])


def _draw_error(axes: Axes, check: Check) -> None:
    slope = np.abs(lightness_slope(check.aim_density))
    own = NINETY * slope * check.standard_error
    new = NINETY * slope * np.hypot(check.standard_error, check.sheet_error)
    tone, error = check.image_tone, check.lightness_error
    axes.fill_between(tone, -new, new, color=style.GRID, lw=0)
    axes.axhline(0, color=style.QUIET, lw=1)
    axes.fill_between(tone, error - own, error + own, color=style.BLUE, alpha=0.2, lw=0)
    axes.plot(tone, error, "o-", color=style.BLUE, ms=3.4, lw=1.5)
    worst = int(np.argmax(np.abs(error)))
    style.label(
        axes,
        (float(tone[worst]), float(error[worst])),
        style.signed(float(error[worst])),
        color=style.BLUE,
        shift=(0, 10 if error[worst] > 0 else -10),
        align="center",
    )
    top = 1.25 * max(float(np.max(np.abs(error) + own)), 1.1 * float(new.max()), 1.0)
    axes.set_ylim(-top, top)
    assumed = "" if check.sheet_error_verified else ", assumed"
    style.label(
        axes,
        (0.0, -0.91 * top),
        f"grey: nine of ten new sheets (spread D {check.sheet_error:.2f}{assumed})",
        color=style.QUIET,
    )
    style.name_axes(
        axes,
        x="",
        y="printed less aim, L*",
        title=f"{check.verdict.capitalize()}: {check.rms:.1f} L* rms, "
        f"95 % within {check.percentile_95:.1f}",
    )


def _draw_tones(axes: Axes, check: Check, solution: Solution) -> None:
    tones = np.linspace(0, 1, 257)
    axes.plot(tones, solution.aim.lightness(tones), color=style.INK, lw=1.4)
    axes.plot(
        check.image_tone, check.printed_lightness, "o", color=style.BLUE, ms=4, mew=0
    )
    style.unit_scale(axes, low="black", high="white")
    axes.set_ylim(0, 100)
    at = 0.62
    wanted = float(solution.aim.lightness(at))
    style.label(axes, (at, wanted), "aim (line)", shift=(8, -10))
    style.label(
        axes,
        (at, wanted),
        "print (points)",
        color=style.BLUE,
        shift=(-10, 12),
        align="right",
    )
    style.name_axes(
        axes,
        x="image tone (L* of the picture / 100)",
        y="print L*",
        title="Print and aim",
    )
