import re
import xml.etree.ElementTree as ET
from pathlib import Path

import matplotlib
import numpy as np
import pytest
from PIL import Image

from negcurve.errors import FileError, InvalidValueError
from negcurve.plots import style


@style.quiet()
def small_figure():
    figure = style.new_figure(height_in=2.5)
    axes = figure.subplots()
    axes.plot([0, 1], [0, 1], color=style.BLUE)
    style.name_axes(axes, x="negative level", y="density, D", title="A & B < C")
    return style.describe(figure, title="A & B", text="A line that rises <slowly>.")


def contrast(one: str, other: str) -> float:
    """WCAG 2.1, definition of contrast ratio and relative luminance."""

    def luminance(color: str) -> float:
        value = np.array([int(color[i : i + 2], 16) for i in (1, 3, 5)]) / 255
        linear = np.where(
            value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4
        )
        return float(linear @ [0.2126, 0.7152, 0.0722])

    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("color", [style.INK, style.QUIET, style.BLUE, style.GREEN])
def test_colours_of_text_reach_the_contrast_that_wcag_asks_for_text(color):
    assert contrast(color, "#ffffff") >= 4.5  # WCAG 2.1, success criterion 1.4.3


def test_the_second_colour_reaches_the_contrast_for_graphics():
    assert contrast(style.ORANGE, "#ffffff") >= 3.0  # WCAG 2.1, 1.4.11


def test_contrast_of_black_on_white_is_21():
    assert contrast("#000000", "#ffffff") == pytest.approx(21)  # WCAG 2.1


def test_svg_is_well_formed_titled_and_described():
    root = ET.fromstring(style.svg_text(small_figure()))
    space = {"s": "http://www.w3.org/2000/svg"}
    assert root.find("s:title", space).text == "A & B"
    assert root.find("s:desc", space).text == "A line that rises <slowly>."
    assert root.get("role") == "img"
    assert root.get("aria-labelledby") == "title about"


def test_svg_is_the_same_every_time_and_carries_no_date():
    assert style.svg_text(small_figure()) == style.svg_text(small_figure())
    assert not re.search(
        r"20\d\d-\d\d|<metadata|matplotlib", style.svg_text(small_figure())
    )


def test_inline_svg_styles_nothing_outside_itself_and_shares_no_id():
    pages = [style.svg_text(small_figure(), prefix=p, inline=True) for p in "ab"]
    ids = [set(re.findall(r'\bid="([^"]+)"', page)) for page in pages]
    assert ids[0]
    assert not ids[0] & ids[1]
    for page, own in zip(pages, ids, strict=True):
        assert page.startswith("<svg ")
        assert "<style" not in page
        assert set(re.findall(r'(?:url\(#|href="#)([^")]+)', page)) <= own
        assert "var(--blue, #0072b2)" in page
        ET.fromstring(page)


def test_numbers_in_labels_keep_their_digits():
    with style.quiet():
        figure = style.new_figure(height_in=2)
        figure.subplots().set_title("D 0.12345")
    assert "D 0.12345" in style.svg_text(figure, inline=True)


def test_png_is_the_same_every_time():
    assert style.png_bytes(small_figure()) == style.png_bytes(small_figure())


def test_settings_of_matplotlib_come_back():
    before = dict(matplotlib.rcParams)
    style.svg_text(small_figure())
    assert dict(matplotlib.rcParams) == before


@pytest.mark.parametrize("ending", [".png", ".PNG"])
def test_saved_png_opens_at_the_standard_width(tmp_path: Path, ending):
    path = tmp_path / f"plot{ending}"
    style.save_figure(small_figure(), path)
    with Image.open(path) as image:
        assert image.format == "PNG"
        assert image.width == round(style.WIDTH_IN * 160)
        assert image.info["Title"] == "A & B"


def test_saved_svg_is_what_svg_text_gives(tmp_path: Path):
    path = tmp_path / "plot.svg"
    style.save_figure(small_figure(), path)
    assert path.read_text(encoding="utf-8") == style.svg_text(small_figure())


def test_another_ending_is_refused_by_name(tmp_path: Path):
    with pytest.raises(InvalidValueError) as caught:
        style.save_figure(small_figure(), tmp_path / "plot.gif")
    assert str(caught.value) == (
        f"{tmp_path / 'plot.gif'}: a plot is written as .png or .svg, not .gif\n"
        "Give the plot a name that ends in .png or .svg."
    )


def test_an_existing_plot_stays_unless_overwritten(tmp_path: Path):
    path = tmp_path / "plot.svg"
    path.write_text("mine", encoding="utf-8")
    with pytest.raises(FileError):
        style.save_figure(small_figure(), path)
    assert path.read_text(encoding="utf-8") == "mine"
    style.save_figure(small_figure(), path, overwrite=True)
    assert path.read_text(encoding="utf-8") != "mine"
    assert [each.name for each in tmp_path.iterdir()] == ["plot.svg"]


def test_signed_numbers_have_a_true_minus():
    assert style.signed(-2.34) == "\N{MINUS SIGN}2.3"
    assert style.signed(2.34, 2) == "+2.34"
