import numpy as np

from negcurve.density import lightness_from_density
from negcurve.plots.check_plot import check_figure
from negcurve.plots.response_plot import response_figure
from negcurve.plots.style import svg_text


def words(figure) -> str:
    figure.draw_without_rendering()
    found = [
        text.get_text()
        for text in figure.findobj(lambda each: hasattr(each, "get_text"))
    ]
    return "\n".join(found)


def overlong(figure) -> list[str]:
    """Titles, axis names and labels that leave the picture."""
    figure.draw_without_rendering()
    width, height = figure.get_size_inches() * figure.dpi
    out = []
    for text in figure.findobj(lambda each: hasattr(each, "get_text")):
        named = any(letter.isalpha() for letter in text.get_text())
        if named:  # numbers along an axis are only drawn where they fit
            box = text.get_window_extent()
            if box.x0 < -1 or box.x1 > width + 1 or box.y0 < -1 or box.y1 > height + 1:
                out.append(text.get_text())
    return out


def line_through(axes, x, y, *, tolerance):
    """Whether some line of the axes passes the points."""
    for line in axes.get_lines():
        data_x, data_y = map(np.asarray, line.get_data())
        rising = len(data_x) > 10 and np.all(np.diff(data_x) > 0)
        if rising and np.allclose(np.interp(x, data_x, data_y), y, atol=tolerance):
            return True
    return False


def test_every_axis_of_the_response_figure_says_quantity_and_unit(solution):
    text = words(response_figure(solution))
    for name in ("negative level", "print density, D", "image tone (L* of the picture"):
        assert name in text
    assert "left out" in text


def test_response_figure_draws_the_numbers_of_the_solution(solution):
    figure = response_figure(solution)
    axes = figure.findobj(lambda each: hasattr(each, "get_lines") and each.get_lines())
    level = np.linspace(0.1, 0.9, 9)
    drawn = [
        line_through(a, level, solution.response.density(level), tolerance=2e-3)
        for a in axes
    ]
    assert any(drawn)
    table = [
        line_through(a, level, solution.table.negative_level(level), tolerance=2e-3)
        for a in axes
    ]
    assert any(table)


def test_no_text_leaves_the_picture(solution, check, check_far_off):
    assert overlong(response_figure(solution)) == []
    assert overlong(check_figure(check, solution)) == []
    assert overlong(check_figure(check_far_off, solution)) == []


def test_check_figure_says_the_verdict_and_the_size_of_the_error(check, solution):
    text = words(check_figure(check, solution))
    assert f"Accept: {check.rms:.1f} L* rms" in text
    assert "image tone (L* of the picture / 100)" in text


def test_check_figure_draws_lightness_of_print_and_aim(check, solution):
    upper, lower = check_figure(check, solution).axes
    wanted = lightness_from_density(check.printed_density) - lightness_from_density(
        check.aim_density
    )
    points = next(line for line in upper.get_lines() if len(line.get_xdata()) == 51)
    np.testing.assert_allclose(points.get_ydata(), wanted, atol=1e-9)
    points = next(line for line in lower.get_lines() if len(line.get_xdata()) == 51)
    np.testing.assert_allclose(points.get_ydata(), check.printed_lightness, atol=1e-9)


def test_figures_are_the_same_every_time(solution):
    one, two = (svg_text(response_figure(solution)) for _ in range(2))
    assert one == two


def test_strays_are_told_by_shape_not_by_colour_alone(solution):
    figure = response_figure(solution)
    markers = {
        line.get_marker()
        for line in figure.findobj(lambda each: hasattr(each, "get_marker"))
        if len(line.get_xdata())
    }
    assert {"o", "x"} <= markers
