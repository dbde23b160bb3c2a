import numpy as np
import pytest
from PIL import Image

from negcurve.errors import InvalidValueError
from negcurve.plots.before_after import ShownPrint, before_after_figure
from negcurve.plots.style import save_figure


def made(count: int = 11):
    pixels = np.full((30, 40, 3), 200, np.uint8)
    tone = np.linspace(0, 1, count)
    aim = 25 + 70 * tone
    bent = ShownPrint(pixels=pixels, lightness=aim + 9 * np.sin(6 * tone), rms=6.4)
    near = ShownPrint(pixels=pixels // 2, lightness=aim + 0.2, rms=0.2)
    return pixels, bent, near, tone, aim


def test_figure_says_both_errors_and_names_its_axes(tmp_path):
    pixels, bent, near, tone, aim = made()
    figure = before_after_figure(
        pixels, before=bent, after=near, image_tone=tone, aim=aim
    )
    titles = [axes.get_title(loc="left") for axes in figure.axes]
    assert titles == [
        "The picture",
        "What each tone prints",
        "Straight-line negative: 6.4 L* rms off",
        "Negative through the table: 0.2 L* rms off",
    ]
    chart = figure.axes[1]
    assert (chart.get_xlabel(), chart.get_ylabel()) == ("image tone", "printed L*")
    drawn = [line.get_ydata() for line in chart.lines]
    assert [list(line) for line in drawn] == [
        list(aim),
        list(bent.lightness),
        list(near.lightness),
    ]
    shown = [np.asarray(axes.images[0].get_array()) for axes in figure.axes[2:]]
    assert np.array_equal(shown[0], bent.pixels)
    assert np.array_equal(shown[1], near.pixels)
    save_figure(figure, tmp_path / "both.png")
    with Image.open(tmp_path / "both.png") as written:
        assert written.width == 1440


def test_arrays_of_differing_length_are_refused():
    pixels, bent, near, tone, aim = made()
    with pytest.raises(InvalidValueError, match="differ in length"):
        before_after_figure(
            pixels, before=bent, after=near, image_tone=tone[1:], aim=aim
        )
