"""The picture of a calibration's strips over time: four control charts.

Knows how to show a judgement; every number comes from it.
"""

from collections.abc import Sequence
from datetime import datetime

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from negcurve.plots import style
from negcurve.watch.control_chart import ControlChart
from negcurve.watch.judgement import Judgement

_NAMES = {
    "exposure": ("Exposure, at mid-tone with the ends held", "D"),
    "contrast": ("Contrast", "%"),
    "d_max": ("D-max", "D"),
    "white": ("White", "D"),
}


@style.quiet()
def history_figure(judgement: Judgement, *, times: Sequence[datetime]) -> Figure:
    """Draw the control charts of a calibration.

    Parameters
    ----------
    judgement : Judgement
    times : sequence of datetime
        Of the strips, in their order.

    Returns
    -------
    Figure
    """
    figure = style.new_figure(height_in=7.6)
    rooms = figure.subplots(4, 1, sharex=True, height_ratios=(1.6, 1, 1, 1))
    for axes, (part, (title, unit)) in zip(rooms, _NAMES.items(), strict=True):
        scale = 100.0 if unit == "%" else 1.0
        _draw_chart(axes, judgement.charts[part], scale)
        style.name_axes(axes, x="", y=f"change, {unit}", title=title)
    if judgement.charts["exposure"].provisional[0]:
        rooms[0].set_title(
            "grey: provisional limits",
            loc="right",
            fontsize=10,
            color=style.QUIET,
            fontweight="normal",
        )
    last = rooms[-1]
    last.set_xlabel("session")
    _name_sessions(last, times)
    said = judgement.kind
    return style.describe(
        figure,
        title=f"Strips of {judgement.sessions} sessions: {said}",
        text=(
            f"Control charts of exposure, contrast, D-max and white over "
            f"{judgement.sessions} sessions. Verdict: {said}. {judgement.advice}"
        ),
    )


def _draw_chart(axes: Axes, chart: ControlChart, scale: float) -> None:
    session = np.arange(1, len(chart.value) + 1)
    half = chart.reach * chart.spread * scale
    centre = chart.centre * scale
    own = ~chart.provisional
    for where, color, alpha in (
        (chart.provisional, style.GRID, 0.6),
        (own, style.BLUE, 0.15),
    ):
        axes.bar(
            session[where],
            2 * half[where],
            bottom=(centre - half)[where],
            width=1.0,
            color=color,
            alpha=alpha,
            lw=0,
        )
    axes.plot(session, centre, color=style.QUIET, lw=1)
    axes.plot(session, chart.value * scale, "-", color=style.BLUE, lw=0.9)
    calm = ~chart.alarm
    axes.plot(session[calm], chart.value[calm] * scale, "o", color=style.BLUE, ms=4)
    axes.plot(
        session[chart.alarm],
        chart.value[chart.alarm] * scale,
        "s",
        color=style.ORANGE,
        ms=5.5,
    )
    if chart.alarm.any():
        first = int(np.flatnonzero(chart.alarm)[0])
        style.label(
            axes,
            (float(session[first]), float(chart.value[first] * scale)),
            "alarm",
            color=style.ORANGE,
            shift=(0, -11),
            align="center",
        )
    axes.set_xlim(0.5, max(len(session), 10) + 0.5)


def _name_sessions(axes: Axes, times: Sequence[datetime]) -> None:
    count = len(times)
    shown = sorted({1, max((count + 1) // 2, 1), count})
    axes.set_xticks(shown)
    axes.set_xticklabels([f"{place}\n{times[place - 1]:%Y-%m-%d}" for place in shown])
