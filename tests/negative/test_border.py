"""Borders: where they stand, what they print as, what is drawn in them."""

import numpy as np
import pytest

from negcurve.errors import InvalidValueError
from negcurve.negative.border import Border, BorderedSink, least_ink_level
from negcurve.negative.ink_sink import InkColour, ThreeChannels
from negcurve.target.drawing import draw
from negcurve.target.edge_strip import StripDesign, compose_strip
from negcurve.target.glyphs import runs
from negcurve.target.ink import Ink
from tests.negative.pictures import PlacedSheet, Sheet, noise
from tests.negative.test_tally import solution


def bordered(border: Border, *, width: int = 300, height: int = 40) -> np.ndarray:
    sheet = Sheet()
    sink = BorderedSink(
        sheet, border, width=width, height=height, dtype=np.dtype(np.uint16)
    )
    picture = noise((height, width), np.uint16)
    for top in range(0, height, 7):
        sink.write(picture[top : top + 7])
    edge = border.width_px
    inside = sheet.codes[edge : edge + height, edge : edge + width]
    np.testing.assert_array_equal(inside, picture)
    assert sheet.codes.shape == (height + 2 * edge, width + 2 * edge)
    return sheet.codes


def test_clear_border_prints_black_and_is_drawn_on_in_ink() -> None:
    codes = bordered(Border(width_px=30, resolution_ppi=100, ink_level=0.2))
    ring = np.concatenate([codes[:30].ravel(), codes[-30:].ravel()])
    assert set(ring.tolist()) == {65535, 13107}
    assert (codes[30:-30, :30] == 65535).all()
    assert (codes[30:-30, -30:] == 65535).all()


def test_ink_border_has_no_more_ink_than_white_needs() -> None:
    border = Border(width_px=30, resolution_ppi=100, surround="ink", ink_level=0.2)
    codes = bordered(border)
    assert codes[0, 0] == 13107
    assert codes.min() == 0  # of the picture only
    assert set(codes[:30].ravel().tolist()) == {65535, 13107}


def test_least_ink_prints_within_a_hundredth_of_paper_white() -> None:
    solved = solution()
    level = least_ink_level(solved.table, solved)
    assert level > solved.ends.white_level
    density = float(solved.response.density(level))
    assert density == pytest.approx(solved.ends.d_min + 0.01, abs=1e-6)
    assert least_ink_level(solved.table, None) == solved.table.level_nodes[-1]


def test_ticks_point_at_the_corners() -> None:
    border = Border(width_px=40, resolution_ppi=254, ink_level=0.0)  # 10 px a mm
    drawn = bordered(border) == 0
    top, bottom = drawn[:40], drawn[-40:][::-1]
    np.testing.assert_array_equal(top, bottom)  # without a caption
    columns = np.flatnonzero(top[20])  # 2 mm above the picture
    np.testing.assert_array_equal(columns, [40, 41, 338, 339])
    rows = np.flatnonzero(top[:, 20])  # 2 mm beside it
    np.testing.assert_array_equal(rows, [38, 39])


def test_caption_stands_below_and_is_mirrored_with_the_picture() -> None:
    right, turned = (
        bordered(
            Border(
                width_px=80,
                resolution_ppi=254,
                caption="table 1 \u00b5",
                mirrored=mirrored,
            )
        )
        for mirrored in (False, True)
    )
    np.testing.assert_array_equal(right[-80:], turned[-80:, ::-1])
    dots = sum(stop - start for _, start, stop in runs("table 1 ?"))
    ticks = (right[:80] == 0).sum()
    assert (right[-80:] == 0).sum() == ticks + 4 * dots  # a dot is 2 x 2 pixels


def test_long_captions_stop_at_the_picture_and_narrow_borders_have_none() -> None:
    long = Border(width_px=80, resolution_ppi=254, caption="x" * 500, mirrored=False)
    codes = bordered(long)
    assert (codes[-70:, :80][:, :40] == 65535).all()
    assert (codes[-60:, -80:] == 65535).all()
    narrow = Border(width_px=20, resolution_ppi=254, caption="table")
    plain = Border(width_px=20, resolution_ppi=254)
    np.testing.assert_array_equal(bordered(narrow), bordered(plain))


@pytest.mark.parametrize("wrong", [{"width_px": 0}, {"surround": "grey"}])
def test_borders_without_meaning_are_refused(wrong: dict[str, object]) -> None:
    with pytest.raises(InvalidValueError):
        Border(**{"width_px": 10, "resolution_ppi": 360, **wrong})  # type: ignore[arg-type]


def test_strip_below_is_written_in_pieces_and_stands_on_clear_film() -> None:
    strip = compose_strip(StripDesign(resolution_ppi=254, bits=8))
    border = Border(
        width_px=40, resolution_ppi=254, surround="ink", ink_level=0.2, strip=strip
    )
    sheet = Sheet()
    sink = BorderedSink(sheet, border, width=1400, height=30, dtype=np.dtype(np.uint8))
    sink.write(np.full((30, 1400), 7, np.uint8))
    assert border.bottom_px == 230  # 5 mm and 18 mm at 10 pixels a millimetre
    assert sheet.codes.shape == (40 + 30 + 230, 1480)
    below = sheet.codes[120:, 60:1420]
    np.testing.assert_array_equal(below, draw(strip))
    assert set(sheet.codes[120:, :60].ravel().tolist()) == {51}


def test_border_wider_than_a_strip_needs_is_filled() -> None:
    strip = compose_strip(StripDesign(resolution_ppi=254))
    border = Border(width_px=260, resolution_ppi=254, strip=strip)
    sheet = Sheet()
    sink = BorderedSink(sheet, border, width=900, height=10, dtype=np.dtype(np.uint16))
    sink.write(np.zeros((10, 900), np.uint16))
    assert border.bottom_px == 260
    assert sheet.codes.shape == (530, 1420)
    assert (sheet.codes[-30:] == 65535).all()


@pytest.mark.parametrize("with_strip", [False, True])
@pytest.mark.parametrize("border_mm", [4, 30])
def test_rows_in_any_order_give_the_same_film(with_strip: bool, border_mm: int) -> None:
    design = StripDesign(resolution_ppi=180, tone_levels=tuple(np.linspace(1, 0, 11)))
    border = Border(
        width_px=round(border_mm / 25.4 * 180),
        resolution_ppi=180,
        caption="table 1234",
        strip=compose_strip(design) if with_strip else None,
    )
    height, width = 50, 1000
    picture = noise((height, width), np.uint16)
    kind = np.dtype(np.uint16)
    ordered, placed = Sheet(), PlacedSheet()
    in_order = BorderedSink(ordered, border, width=width, height=height, dtype=kind)
    anywhere = BorderedSink(placed, border, width=width, height=height, dtype=kind)
    assert anywhere.in_any_order
    assert not in_order.in_any_order
    for top in (0, 20, 40):
        in_order.write(picture[top : top + 20])
    for top in (20, 40, 0):
        anywhere.write_at(top, picture[top : top + 20])
    np.testing.assert_array_equal(placed.codes, ordered.codes)
    assert len(placed.codes) == height + border.width_px + border.bottom_px


@pytest.mark.parametrize("bits", [8, 16])
def test_colours_in_any_order_are_the_same(bits: int) -> None:
    picture = noise((50, 300), np.uint16)
    sheets = Sheet(), PlacedSheet(), Sheet(), PlacedSheet()
    ink = Ink(red=0, green=90, blue=200)
    ordered, placed = (
        InkColour(each, ink, width=300, bits=bits) for each in sheets[:2]
    )
    grey_ordered, grey_placed = map(ThreeChannels, sheets[2:])
    for top in (0, 20, 40):
        ordered.write(picture[top : top + 20])
        grey_ordered.write(picture[top : top + 20])
    for top in (40, 0, 20):
        placed.write_at(top, picture[top : top + 20])
        grey_placed.write_at(top, picture[top : top + 20])
    np.testing.assert_array_equal(sheets[1].codes, sheets[0].codes)
    np.testing.assert_array_equal(sheets[3].codes, sheets[2].codes)
    with pytest.raises(InvalidValueError, match="in order"):
        ordered.write_at(0, picture)
