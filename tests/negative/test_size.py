"""Sizes: lengths and resolution to pixels and back."""

import pytest

from negcurve.errors import InvalidValueError
from negcurve.negative.size import WantedSize, negative_size


def test_without_a_length_the_pixels_stay() -> None:
    size = negative_size(2880, 3600, WantedSize(resolution_ppi=360))
    assert (size.width_px, size.height_px) == (2880, 3600)
    assert size.width_mm == pytest.approx(8 * 25.4)
    assert size.height_mm == pytest.approx(10 * 25.4)
    assert size.findings == ()


def test_another_resolution_in_the_file_is_named() -> None:
    size = negative_size(
        2400, 3000, WantedSize(resolution_ppi=720), own_ppi=(300, 300), name="a.tif"
    )
    (note,) = size.findings
    assert "states 300 ppi, which makes it 8.00 x 10.00 in" in note.what
    assert note.fix == "For its own size give --width 8.00in."


@pytest.mark.parametrize(
    ("wanted", "pixels"),
    [
        ({"width_mm": 203.2}, (5760, 7200)),
        ({"height_mm": 254}, (5760, 7200)),
        ({"long_edge_mm": 254}, (5760, 7200)),
        ({"width_mm": 203.2, "height_mm": 254}, (5760, 7200)),
        ({"width_mm": 203.2, "height_mm": 254.5}, (5760, 7214)),
    ],
)
def test_lengths_give_pixels(wanted: dict[str, float], pixels: tuple[int, int]) -> None:
    size = negative_size(2400, 3000, WantedSize(resolution_ppi=720, **wanted))
    assert (size.width_px, size.height_px) == pixels


def test_long_edge_of_a_landscape_is_its_width() -> None:
    size = negative_size(3000, 2000, WantedSize(resolution_ppi=254, long_edge_mm=100))
    assert (size.width_px, size.height_px) == (1000, 667)


def test_a_stretch_is_refused() -> None:
    wanted = WantedSize(resolution_ppi=720, width_mm=200, height_mm=200)
    with pytest.raises(InvalidValueError) as caught:
        negative_size(2400, 3000, wanted)
    assert str(caught.value) == (
        "size: 200 x 200 mm would stretch a picture of 2400 x 3000 pixels by 25.0 %\n"
        "Give the width or the height alone, or crop the picture first."
    )


def test_few_pixels_an_inch_are_noted() -> None:
    size = negative_size(800, 1000, WantedSize(resolution_ppi=720, width_mm=203.2))
    (note,) = size.findings
    assert "has 100 pixels for each inch" in note.what


@pytest.mark.parametrize(
    "wrong",
    [
        {"resolution_ppi": 0},
        {"resolution_ppi": 1e6},
        {"resolution_ppi": 720, "width_mm": -1},
        {"resolution_ppi": 720, "width_mm": 100, "long_edge_mm": 100},
        {"resolution_ppi": 720, "width_mm": 100, "fit_mm": (100, 100)},
        {"resolution_ppi": 720, "fit_mm": (100, -3)},
    ],
)
def test_sizes_without_meaning_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(InvalidValueError):
        WantedSize(**wrong)


def test_a_mistaken_unit_is_refused() -> None:
    with pytest.raises(InvalidValueError, match="check the unit"):
        negative_size(800, 1000, WantedSize(resolution_ppi=720, width_mm=203_200))


@pytest.mark.parametrize(
    ("pixels", "wanted_mm"),
    [((300, 200), (150, 100)), ((200, 300), (100, 150)), ((200, 200), (120, 120))],
)
def test_a_picture_fits_a_room_either_way_round(
    pixels: tuple[int, int], wanted_mm: tuple[float, float]
) -> None:
    for room in ((120.0, 150.0), (150.0, 120.0)):
        wanted = WantedSize(resolution_ppi=254, fit_mm=room)
        size = negative_size(*pixels, wanted)
        assert (size.width_mm, size.height_mm) == pytest.approx(wanted_mm)


@pytest.mark.parametrize(
    ("shape", "pixels"), [((3000, 2000), (1500, 1000)), ((2000, 3000), (1000, 1500))]
)
def test_room_taken_below_the_picture_is_left_free(
    shape: tuple[int, int], pixels: tuple[int, int]
) -> None:
    # The picture would fill 200 x 120 mm, or 120 x 170 with 20 mm taken below it.
    room = (200.0, 120.0) if shape[0] > shape[1] else (170.0, 120.0)
    wanted = WantedSize(resolution_ppi=254, fit_mm=room, below_mm=20)
    size = negative_size(*shape, wanted)
    assert (size.width_px, size.height_px) == pixels
    with pytest.raises(InvalidValueError, match="leave no room"):
        WantedSize(resolution_ppi=254, fit_mm=(100, 20), below_mm=20)
