"""Colours of ink, mixtures of them, and targets drawn in them."""

from dataclasses import replace

import numpy as np
import pytest

from negcurve.errors import InvalidValueError
from negcurve.files.layout_json import layout_from_text, layout_text
from negcurve.target.colouring import ColouredDrawing
from negcurve.target.composition import Design, compose
from negcurve.target.drawing import Drawing
from negcurve.target.ink import BLACK, CLEAR, Ink, film_ink, parse_ink
from negcurve.target.layout import Layout
from negcurve.target.mixtures import _STEPS, ink_mixtures
from negcurve.target.preview import preview

GREEN = Ink(red=0, green=96, blue=32)


def test_a_level_becomes_a_colour() -> None:
    # RGB = 1 - (1 - level)(1 - ink), by hand for level 0.25 and green 96/255.
    colour = GREEN.colour([0.0, 0.25, 1.0])
    np.testing.assert_allclose(colour[0], [0, 96 / 255, 32 / 255])
    np.testing.assert_allclose(colour[1, 1], 1 - 0.75 * (159 / 255))
    np.testing.assert_allclose(colour[2], 1)
    np.testing.assert_allclose(BLACK.colour(0.3), [0.3] * 3)
    assert (BLACK.amount, CLEAR.amount) == (1, 0)
    assert GREEN.amount == pytest.approx((255 + 159 + 223) / 765)


def test_a_colour_is_typed_as_three_codes() -> None:
    assert parse_ink(" 0, 96,32") == GREEN
    assert GREEN.text == "0,96,32"
    for text in ("0,96", "0,96,32,1", "green", "0,96,256", "-1,0,0", "0.5,0,0", ""):
        with pytest.raises(InvalidValueError, match="is not a colour of ink"):
            parse_ink(text)
    with pytest.raises(InvalidValueError, match="asks for no ink at all"):
        film_ink("255,255,255")


def test_the_steps_are_those_of_their_source() -> None:
    g = 1 / _STEPS[0]
    assert g**4 == pytest.approx(g + 1, rel=1e-14)
    np.testing.assert_allclose(_STEPS, (1 / g, 1 / g**2, 1 / g**3), rtol=1e-14)


def hue_of(ink: Ink) -> float:
    """Hue of the colour as a picture editor has it, 0..1, by colorsys's own formula."""
    lacking = 255 - np.array(ink.codes, float)
    angles = np.exp(2j * np.pi * np.arange(3) / 3)
    return float(np.angle(lacking @ angles) / (2 * np.pi) % 1)


def test_mixtures_cover_hue_and_amount_without_a_grid() -> None:
    found = ink_mixtures(48)
    assert len(set(found)) == 48
    assert (found[0], found[-1]) == (CLEAR, BLACK)
    amounts = np.array([ink.amount for ink in found])
    assert (np.diff(amounts) >= 0).all()
    coloured = [ink for ink in found if max(ink.codes) - min(ink.codes) > 8]
    hues = np.sort([hue_of(ink) for ink in coloured])
    gaps = np.diff(np.append(hues, hues[0] + 1))
    assert gaps.max() < 0.12
    among = np.array([ink.amount for ink in coloured])
    assert among.min() < 0.2
    assert among.max() > 0.75
    # No grid: hue does not go along with amount, and hardly any value comes twice.
    turns = np.exp(2j * np.pi * np.array([hue_of(ink) for ink in coloured]))
    assert abs(np.corrcoef(turns.real, among)[0, 1]) < 0.2
    assert abs(np.corrcoef(turns.imag, among)[0, 1]) < 0.2
    assert len(np.unique(among.round(3))) > 0.8 * len(coloured)


def test_mixtures_hold_steps_of_black_to_compare_with() -> None:
    greys = [ink for ink in ink_mixtures(16) if len(set(ink.codes)) == 1]
    assert [ink.codes[0] for ink in greys] == [255, 223, 191, 159, 128, 96, 64, 32, 0]


def test_more_mixtures_hold_the_fewer() -> None:
    assert set(ink_mixtures(20)) < set(ink_mixtures(48))
    for count in (15, 257):
        with pytest.raises(InvalidValueError, match="mixtures are not possible"):
            ink_mixtures(count)


def mixture_layout(**changes: object) -> Layout:
    mixtures = ink_mixtures(24)
    values = {"levels": 24, "mode": "rgb", "resolution_ppi": 72, **changes}
    return compose(Design(mixtures=mixtures, **values))  # type: ignore[arg-type]


def test_a_sheet_of_mixtures_scatters_them() -> None:
    layout = mixture_layout()
    assert layout.has_mixtures
    inks = [patch.ink for patch in layout.patches]
    assert {inks.count(ink) for ink in ink_mixtures(24)} == {2}
    amounts = np.array([ink.amount for ink in inks if ink])
    places = np.array([patch.box.center for patch in layout.patches])
    for across in places.T:
        assert abs(np.corrcoef(across, amounts)[0, 1]) < 0.06
    assert "24 ink mixtures x 2" in " ".join(each.text for each in layout.texts)
    assert layout_from_text(layout_text(layout), where="it") == layout


@pytest.mark.parametrize("mirrored", [True, False])
@pytest.mark.parametrize("bits", [8, 16])
def test_each_mixture_is_drawn_in_its_own_colour(mirrored: bool, bits: int) -> None:
    layout = mixture_layout(mirrored=mirrored, bits=bits)
    drawing = ColouredDrawing(layout)
    whole = drawing.rows(0, drawing.height)
    parts = [
        drawing.rows(at, min(at + 37, drawing.height))
        for at in range(0, drawing.height, 37)
    ]
    np.testing.assert_array_equal(np.concatenate(parts), whole)
    upright = whole[:, ::-1] if mirrored else whole
    for patch in layout.patches:
        x, y = (int(each * 72 / 25.4) for each in patch.box.center)
        assert patch.ink is not None
        wanted = np.array(patch.ink.codes) * (257 if bits == 16 else 1)
        np.testing.assert_array_equal(upright[y, x], wanted)
    x, y = (int(each * 72 / 25.4) for each in layout.marks_mm[0])
    assert upright[y, x].max() == 0  # marks are black all the same


def test_a_black_ink_gives_the_pixels_of_the_grey_target() -> None:
    layout = compose(Design(levels=21, resolution_ppi=72, mode="rgb"))
    grey = Drawing(layout).rows(0, 400)
    rgb = ColouredDrawing(layout).rows(0, 400)
    np.testing.assert_array_equal(rgb, np.repeat(grey[..., np.newaxis], 3, axis=2))


def test_a_coloured_ink_runs_from_clear_film_to_its_code() -> None:
    layout = compose(Design(levels=21, resolution_ppi=72, mode="rgb", ink=GREEN))
    grey = Drawing(layout).rows(0, 800) / 65535
    rgb = ColouredDrawing(layout).rows(0, 800) / 65535
    exact = 1 - (1 - grey[..., np.newaxis]) * (1 - np.array(GREEN.codes) / 255)
    np.testing.assert_allclose(rgb, exact, atol=0.5001 / 65535)
    assert "ink 0,96,32" in " ".join(each.text for each in layout.texts)
    assert replace(layout, ink=None).identity != layout.identity


def test_the_preview_shows_the_colours() -> None:
    picture = preview(mixture_layout())
    assert picture.ndim == 3
    film, shown = np.split(picture, [picture.shape[1] // 2], axis=1)
    assert np.ptp(film.astype(int), axis=2).max() > 200
    assert np.ptp(shown.astype(int), axis=2).max() == 0
