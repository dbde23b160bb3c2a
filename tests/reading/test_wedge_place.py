"""A step wedge is found wherever it lies, counted right or refused."""

from functools import cache

import numpy as np
import pytest

from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.reading.placing import place_target
from negcurve.reading.wedge_place import find_wedge, wedge_in_box
from tests.reading.prints import small_layout
from tests.reading.wedges import EVEN, UNEVEN, beside, scanned

LAYOUT = small_layout()


def scan(density, *, ppi=150, curve=lambda c: c ** (1 / 2.2), bits=16, **setup):
    """A scan with a wedge, and where its lightest and darkest ends lie. [px]"""
    light, made, laid = beside(
        LAYOUT, density, ppi=ppi, noise=0.001, grain=0.02, **setup
    )
    source = scanned(light, made, curve=curve, bits=bits)
    corners = laid.corners_mm * made.px_per_mm
    ends = [corners[[0, 3]].mean(axis=0), corners[[1, 2]].mean(axis=0)]
    if density[0] > density[-1]:
        ends = ends[::-1]
    return source, place_target(source, [LAYOUT]), np.array(ends), laid


@cache
def even(lid):
    """The same with 18 even steps."""
    return scan(EVEN, lid=lid)


def ends_of(place):
    outline = place.outline_px
    return np.array([outline[[0, 3]].mean(axis=0), outline[[1, 2]].mean(axis=0)])


@pytest.mark.parametrize(
    ("density", "setup"),
    [
        (EVEN, {"wedge": {"angle_degrees": 90}}),
        (EVEN[::-1], {"wedge": {"angle_degrees": 97}, "lid": 0.02}),
        (EVEN, {"wedge": {"angle_degrees": 263, "border_mm": 3}, "tilt_degrees": -4}),
        (UNEVEN, {"wedge": {"angle_degrees": 274}, "lid": 0.05, "turn": 2}),
        (
            UNEVEN[::-1],
            {"wedge": {"angle_degrees": 176}, "below": True, "high_mm": 150},
        ),
        (np.linspace(0.08, 1.9, 6), {"wedge": {"angle_degrees": 91, "gap_mm": 0.8}}),
        (
            np.linspace(0.05, 1.65, 41),
            {"wedge": {"angle_degrees": 88, "length_mm": 135}, "high_mm": 150},
        ),
    ],
)
def test_it_is_found_at_any_turn(density, setup):
    _, placed, ends, _ = (made := scan(density, **setup))
    place = find_wedge(made[0], placed, np.sort(density))
    pitch = np.hypot(*(ends[1] - ends[0])) / len(density)
    assert np.hypot(*(ends_of(place) - ends).T).max() < 0.1 * pitch
    assert len(place.boxes) == len(density)
    height = place.boxes[0].height_mm
    assert height == pytest.approx(14.0, abs=0.6)


@pytest.mark.parametrize("missing", [1, -1])
@pytest.mark.parametrize("lid", [0.02, 0.9])
def test_a_list_with_a_step_too_few_or_too_many_is_never_shifted(missing, lid):
    """Counting off by one is what must not happen, whichever way the list is wrong."""
    source, placed, ends, _ = even(lid)
    listed = len(EVEN) + missing
    known = 0.05 + 0.1 * np.arange(listed)
    if lid == 0.02 or missing == 1:
        with pytest.raises(ReadingsError, match=f"no strip of {listed} even steps"):
            find_wedge(source, placed, known)
        return
    place = find_wedge(source, placed, known)
    # The lightest step looks like the lid, so the list's last is taken for the darkest.
    pitch = np.hypot(*(ends[1] - ends[0])) / len(EVEN)
    assert np.hypot(*(ends_of(place)[1] - ends[1])) < 0.1 * pitch


def test_three_millimetres_beyond_its_end_are_enough():
    """The lid is as light as the first step, so only the dark end is seen."""
    high = LAYOUT.height_mm + 20
    wedge = {"middle_mm": (170, high - 45 - 3)}
    source, placed, ends, _ = scan(EVEN, lid=10**-0.05, wedge=wedge, high_mm=high)
    place = find_wedge(source, placed, EVEN)
    pitch = np.hypot(*(ends[1] - ends[0])) / len(EVEN)
    assert np.hypot(*(ends_of(place) - ends).T).max() < 0.1 * pitch


@pytest.mark.parametrize(("middle_mm", "lid"), [((170, 81), 0.9), ((170, 40), 0.015)])
def test_a_wedge_partly_off_the_glass_is_refused(middle_mm, lid):
    """Its dark end, on a white lid; its light end, on a black one that goes on."""
    source, placed, _, _ = scan(
        EVEN, wedge={"middle_mm": middle_mm}, high_mm=100, lid=lid
    )
    with pytest.raises(ReadingsError, match="lies the whole wedge on the glass"):
        find_wedge(source, placed, EVEN)


def test_none_is_refused_though_the_print_has_steps():
    source, placed, _, _ = scan(np.full(18, 0.05))
    with pytest.raises(ReadingsError, match="no strip of 18 even steps was found"):
        find_wedge(source, placed, EVEN)


def test_a_slope_is_no_wedge():
    """Density that rises evenly has no cells."""
    light, made, laid = beside(LAYOUT, EVEN, ppi=150, noise=0.001)
    rows = np.arange(light.shape[0]) / made.px_per_mm - laid.middle_mm[1]
    inside = np.abs(rows) < 45
    x = int(laid.middle_mm[0] * made.px_per_mm)
    slope = 10 ** -(0.9 + rows / 53)
    light[inside, x - 45 : x + 45] = slope[inside][:, np.newaxis]
    source = scanned(light, made)
    placed = place_target(source, [LAYOUT])
    with pytest.raises(ReadingsError, match="no strip of 18 even steps"):
        find_wedge(source, placed, EVEN)


def test_of_two_wedges_one_must_be_named():
    light, made, laid = beside(LAYOUT, EVEN, ppi=150, noise=0.001, room_mm=90)
    other = type(laid)(
        density=EVEN, middle_mm=(laid.middle_mm[0] + 26, laid.middle_mm[1])
    )
    laid.middle_mm = (laid.middle_mm[0] - 14, laid.middle_mm[1])
    light = made.reflectance.copy()
    for each in (laid, other):
        each.lay(light, made.px_per_mm, made.rng)
    source = scanned(light, made)
    placed = place_target(source, [LAYOUT])
    with pytest.raises(ReadingsError, match="two strips of 18 even steps"):
        find_wedge(source, placed, EVEN)
    for each in (laid, other):
        low, high = each.corners_mm.min(axis=0), each.corners_mm.max(axis=0)
        box = np.concatenate([low, high - low]) * made.px_per_mm
        place = wedge_in_box(source, placed, EVEN, tuple(box))
        middle = place.outline_px.mean(axis=0) / made.px_per_mm
        np.testing.assert_allclose(middle, each.middle_mm, atol=0.5)


def test_a_box_may_be_drawn_roughly_and_is_refused_elsewhere():
    source, placed, ends, _ = even(0.9)
    side = np.array([50, 0])
    low, high = ends.min(axis=0) - side, ends.max(axis=0) + side
    rough = (low[0] + 9, low[1] - 12, *(high - low - [4, -5]))
    place = wedge_in_box(source, placed, EVEN, rough)
    assert np.abs(ends_of(place) - ends).max() < 1.5
    with pytest.raises(ReadingsError, match="the box holds no strip of 18 even steps"):
        wedge_in_box(source, placed, EVEN, (rough[0], 200, rough[2], 300))
    with pytest.raises(ReadingsError, match="the box holds no strip of 18 even steps"):
        wedge_in_box(source, placed, EVEN, (60, 60, 300, 300))
    with pytest.raises(InvalidValueError, match="does not lie in the scan"):
        wedge_in_box(source, placed, EVEN, (0, 0, 9000, 40))
