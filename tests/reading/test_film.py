"""Films looked at: what is wrong is named, what is right is let through."""

import numpy as np
import pytest

from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.reading.film import film_density, read_film
from negcurve.target.edge_strip import TONES, StripDesign, compose_strip
from tests.reading.films import film_of
from tests.reading.prints import GammaEncoding, scan_of, small_layout

STRIP = compose_strip(
    StripDesign(
        resolution_ppi=360,
        tone_levels=tuple(0.9 - 0.8 * tone for tone in TONES),
        table="0a1b2c3d",
    )
)
SHEET = small_layout()
FIRST = STRIP.patches[0].box
MIDDLE = FIRST.top_mm + 0.45 * FIRST.height_mm
USUAL = {
    "ppi": 600.0,
    "mirrored": True,
    "grain": 0.05,
    "noise": 0.003,
    "tilt_degrees": 0.6,
}


def looked_at(layout=STRIP, *, ink_side="down", **setup):
    source, made = film_of(layout, **{**USUAL, **setup})
    film = read_film(source, GammaEncoding(), [STRIP, SHEET], ink_side=ink_side)
    return film, made


def warnings(film):
    return "\n".join(str(each) for each in film.findings if each.severity == "warning")


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_good_strip_passes_in_spite_of_dust_and_hairs(seed):
    film, made = looked_at(dust=60, hairs=6, seed=seed)
    assert film.verdict == "print with it"
    assert warnings(film) == ""
    assert film.layout == STRIP
    level = np.array([patch.negative_level for patch in STRIP.patches])
    true = made.density_of(level)
    np.testing.assert_allclose(film_density(film), true - true.min(), atol=0.02)


def test_a_good_sheet_passes():
    film, _ = looked_at(SHEET, ppi=400.0, dust=40, hairs=3)
    assert film.verdict == "print with it"
    assert film.layout == SHEET
    assert film.scales == pytest.approx((1, 1), abs=0.002)
    assert any("may stay unseen" in each.what for each in film.findings)


@pytest.mark.parametrize(
    ("mirrored", "ink_side", "right"),
    [
        (True, "down", True),
        (True, "up", False),
        (False, "up", True),
        (False, "down", False),
    ],
)
def test_side_by_what_the_user_says_of_the_glass(mirrored, ink_side, right):
    film, _ = looked_at(mirrored=mirrored, ink_side=ink_side, ppi=300.0)
    assert film.right_side is right
    assert film.mirrored is mirrored
    assert ("the lettering reads" in warnings(film)) is not right
    assert (film.verdict == "do not print with it") is not right


def test_size_is_warned_about_and_refused():
    film, _ = looked_at(SHEET, stretch=(1.012, 1.0), ppi=300.0)
    assert film.verdict == "look at it first"
    assert "101.2% of its width and 100.0% of its height" in warnings(film)
    film, _ = looked_at(stretch=(0.95, 0.95), ppi=300.0)
    assert film.verdict == "do not print with it"


@pytest.mark.parametrize("left", [0.0, 0.7, 0.9])
def test_a_missing_nozzle_is_found_where_it_is(left):
    # One row at 720 ppi, 0.035 mm, in every inked patch.
    film, _ = looked_at(lines=((0, MIDDLE, 25.4 / 720, left),))
    (line,) = film.streaks.lines
    assert line.direction == "across"
    assert line.place_mm == pytest.approx(MIDDLE, abs=0.06)
    assert line.depth > 0.03
    assert line.patches > 10
    assert film.verdict == "do not print with it"
    assert "ink is missing" in warnings(film)


def test_a_line_down_the_sheet_and_a_dark_one():
    box = SHEET.patches[0].box
    place = box.left_mm + 0.55 * box.width_mm
    film, _ = looked_at(SHEET, ppi=450.0, lines=((1, place, 0.06, 1.5),))
    (line,) = film.streaks.lines
    assert (line.direction, line.depth < 0, line.patches) == ("down", True, 6)
    assert line.place_mm == pytest.approx(place, abs=0.08)
    assert film.verdict == "look at it first"


def test_levels_that_do_not_step():
    film, _ = looked_at(swapped=((0.3, 0.7),), ppi=300.0)
    assert "hold more ink than a lower one" in warnings(film)
    film, _ = looked_at(least_ink=0.2, ppi=300.0)
    assert "hold no more ink than clear film" in warnings(film)
    film, _ = looked_at(full_ink=0.1, ppi=300.0)
    assert film.verdict == "do not print with it"
    assert "0.10 D darker" in warnings(film)
    film, _ = looked_at(ink_limit=0.75, ppi=300.0)
    assert film.verdict == "print with it"
    assert any("as much ink as level 0" in each.what for each in film.findings)


def test_a_print_is_not_taken_for_film():
    source, _ = scan_of(STRIP)
    with pytest.raises(ReadingsError, match="light on dark here, as on a print"):
        read_film(source, GammaEncoding(), [STRIP], ink_side="down")
    film, _ = film_of(STRIP, ppi=200.0)
    with pytest.raises(ReadingsError, match="this is target"):
        read_film(film, GammaEncoding(), [SHEET], ink_side="down")


def test_the_side_has_two_names():
    source, _ = film_of(STRIP, ppi=150.0)
    with pytest.raises(InvalidValueError, match="'left' is not known"):
        read_film(source, GammaEncoding(), [STRIP], ink_side="left")
