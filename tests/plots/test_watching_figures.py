from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from negcurve.plots.field_plot import field_figure
from negcurve.plots.history_plot import history_figure
from negcurve.plots.style import svg_text
from negcurve.watch.deviation import assumed_curve, split_deviation
from negcurve.watch.evenness import study
from negcurve.watch.judgement import judge
from negcurve.watch.placed import PlacedSheet

CURVE = assumed_curve(0.06, 1.4, exposure_scale=1.6)
EXPECTED = np.linspace(0.08, 1.35, 10)
START = datetime(2026, 3, 1, tzinfo=UTC)


def judgement(count, *, shifted=0):
    rng = np.random.default_rng(1)
    strips = []
    for k in range(count):
        shift = rng.normal(0, 0.02) + (0.12 if k >= count - shifted else 0)
        density = CURVE.at(CURVE.position(EXPECTED) + shift)
        strips.append(
            split_deviation(EXPECTED, density + rng.normal(0, 0.01, 10), CURVE)
        )
    return judge(strips)


def times(count):
    return [START + timedelta(days=7 * k) for k in range(count)]


def sheet(*, turned=False):
    rng = np.random.default_rng(2)
    x, y = (
        each.ravel()
        for each in np.meshgrid(np.linspace(8, 192, 12), np.linspace(8, 242, 14))
    )
    lamp = 200 - x if turned else x
    band = -0.15 / (1 + ((lamp - 140) / 40) ** 2)
    ones = np.ones(len(x))
    return PlacedSheet(
        x_mm=x,
        y_mm=y,
        difference=band + rng.normal(0, 0.01, len(x)),
        exposure_weight=ones,
        coating_weight=ones,
        width_mm=200,
        height_mm=250,
        turned=turned,
        name="b" if turned else "a",
    )


def named(figure):
    """Every text with letters, and whether it lies inside the picture."""
    figure.draw_without_rendering()
    width, height = figure.get_size_inches() * figure.dpi
    found = {}
    for text in figure.findobj(lambda each: hasattr(each, "get_text")):
        if any(letter.isalpha() for letter in text.get_text()):
            box = text.get_window_extent()
            found[text.get_text()] = (
                box.x0 > -1
                and box.y0 > -1
                and box.x1 < width + 1
                and box.y1 < height + 1
            )
    return found


@pytest.mark.parametrize("count", [1, 2, 12, 40])
def test_history_names_quantities_and_stays_inside(count):
    texts = named(history_figure(judgement(count), times=times(count)))
    assert all(texts.values())
    assert {"change, D", "change, %", "session", "D-max", "Contrast", "White"} <= set(
        texts
    )


def test_history_tells_alarms_by_shape_and_word():
    figure = history_figure(judgement(24, shifted=6), times=times(24))
    assert "alarm" in named(figure)
    lines = figure.axes[0].get_lines()
    squares = next(each for each in lines if each.get_marker() == "s")
    assert set(squares.get_xdata()) <= set(range(17, 25))
    assert len(squares.get_xdata()) >= 4


def test_history_draws_the_values():
    made = judgement(15)
    figure = history_figure(made, times=times(15))
    line = next(each for each in figure.axes[0].get_lines() if each.get_marker() == "o")
    np.testing.assert_allclose(line.get_ydata(), made.charts["exposure"].value)


@pytest.mark.parametrize("two", [False, True])
def test_map_names_axes_unit_and_both_sheets(two):
    sheets = [sheet(), sheet(turned=True)] if two else [sheet()]
    figure = field_figure(study(sheets))
    texts = named(figure)
    assert all(texts.values())
    assert "from the left, mm" in texts
    assert "density at mid-tone, D: lighter (orange) to darker (blue)" in texts
    assert ("sheet b, turned" in texts) == two


def test_the_line_of_a_dead_row_stands_where_each_print_shows_it():
    figure = field_figure(study([sheet(), sheet(turned=True)]))
    places = [
        line.get_xdata()[0]
        for axes in figure.axes[:2]
        for line in axes.get_lines()
        if line.get_linestyle() == "--"
    ]
    assert places == pytest.approx([140, 60], abs=10)


def test_both_are_the_same_every_time():
    made, studied = judgement(12), study([sheet()])
    for draw in (
        lambda: history_figure(made, times=times(12)),
        lambda: field_figure(studied),
    ):
        assert svg_text(draw()) == svg_text(draw())
