import math
from dataclasses import replace

import numpy as np
import pytest

from negcurve.target.composition import Design, compose
from negcurve.target.drawing import Drawing, draw
from negcurve.target.glyphs import ADVANCE, glyphs
from negcurve.target.identity import decode_bits
from negcurve.target.layout import IDENTITY_CELL_MM, Box, Layout
from negcurve.target.preview import PREVIEW_PPI, preview

PPI = 200


@pytest.fixture(scope="module")
def layout() -> Layout:
    return compose(Design(sheet="4x5in", levels=21, resolution_ppi=PPI, mirrored=False))


@pytest.fixture(scope="module")
def codes(layout: Layout) -> np.ndarray:
    return draw(layout)


def ink_in(codes: np.ndarray, box: Box) -> np.ndarray:
    """Ink, 0..1, in the pixels that a box touches."""
    scale = PPI / 25.4
    rows = slice(math.floor(box.top_mm * scale), math.ceil(box.bottom_mm * scale))
    columns = slice(math.floor(box.left_mm * scale), math.ceil(box.right_mm * scale))
    return 1 - codes[rows, columns] / 65535


def test_size_and_type(layout: Layout, codes: np.ndarray) -> None:
    assert codes.shape == (1000, 800)  # 5 x 4 in at 200 ppi
    assert codes.dtype == np.uint16


def test_strips_are_the_whole(layout: Layout, codes: np.ndarray) -> None:
    drawing = Drawing(layout)
    for height in (1, 37, 256):
        starts = range(0, 1000, height)
        if height == 1:
            starts = range(60, 140)
        for start in starts:
            stop = min(start + height, 1000)
            np.testing.assert_array_equal(drawing.rows(start, stop), codes[start:stop])
    np.testing.assert_array_equal(draw(layout, slice(100, 120)), codes[100:120])
    assert drawing.rows(5, 5).shape == (0, 800)


def test_mirrored_file_is_the_mirror_image(layout: Layout, codes: np.ndarray) -> None:
    """Only the printed identity differs, since `mirrored` is part of it."""
    print_side = draw(replace(layout, mirrored=True))[:, ::-1]
    marks = draw(replace(layout, mirrored=True), slice(0, 150))[:, ::-1]
    np.testing.assert_array_equal(marks, print_side[:150])
    for patch in layout.patches:
        np.testing.assert_array_equal(
            ink_in(print_side, patch.box), ink_in(codes, patch.box)
        )
    differs = np.argwhere(print_side != codes) * 25.4 / PPI
    title = next(layout.lettering()).box
    for top, left in differs:
        place = Box(left_mm=left, top_mm=top, width_mm=0.1, height_mm=0.1)
        assert any(
            box.grown(0.2).overlaps(place) for box in (*layout.identity_boxes, title)
        )


def test_patches_are_flat_and_of_their_level(layout: Layout, codes: np.ndarray) -> None:
    scale = PPI / 25.4
    for patch in layout.patches:
        box = patch.box
        inside = codes[
            math.ceil(box.top_mm * scale) : math.floor(box.bottom_mm * scale),
            math.ceil(box.left_mm * scale) : math.floor(box.right_mm * scale),
        ]
        assert set(inside.ravel().tolist()) == {round(patch.negative_level * 65535)}
        assert inside.size > 0.9 * box.width_mm * box.height_mm * scale**2


def test_ends_of_the_scale(codes: np.ndarray) -> None:
    assert codes.min() == 0
    assert codes.max() == 65535


def test_ground_is_clear_film(layout: Layout, codes: np.ndarray) -> None:
    margin = int(layout.margin_mm * PPI / 25.4)
    frame = np.ones(codes.shape, dtype=bool)
    frame[margin:-margin, margin:-margin] = False
    assert (codes[frame] == 65535).all()
    assert layout.tape_box is not None
    assert ink_in(codes, layout.tape_box).max() == 0


def test_tablet_window_is_clear_film() -> None:
    layout = compose(Design(levels=11, resolution_ppi=PPI, mirrored=False))
    assert layout.tablet_window is not None
    assert ink_in(draw(layout), layout.tablet_window).max() == 0


def test_marks_have_the_area_of_their_rings(layout: Layout, codes: np.ndarray) -> None:
    """Area of disc, ring and dot by pi r^2; centre of mass in the middle."""
    expected = math.pi * (5.0**2 - 3.6**2 + 2.2**2)
    for x, y in layout.marks_mm:
        box = Box(left_mm=x - 5.2, top_mm=y - 5.2, width_mm=10.4, height_mm=10.4)
        ink = ink_in(codes, box)
        area = ink.sum() * (25.4 / PPI) ** 2
        assert area == pytest.approx(expected, rel=0.002)
        rows, columns = np.indices(ink.shape) + 0.5
        scale = PPI / 25.4
        top = math.floor(box.top_mm * scale)
        left = math.floor(box.left_mm * scale)
        assert (ink * rows).sum() / ink.sum() + top == pytest.approx(
            y * scale, abs=0.02
        )
        assert (ink * columns).sum() / ink.sum() + left == pytest.approx(
            x * scale, abs=0.02
        )


def test_marks_seen_along_a_line(layout: Layout, codes: np.ndarray) -> None:
    """White dot to 2.2 mm, dark ring to 3.6 mm, white to 5 mm, dark beyond."""
    x, y = layout.marks_mm[0]
    scale = PPI / 25.4
    for radius, inked in ((0, 1), (1.9, 1), (2.5, 0), (3.3, 0), (3.9, 1), (4.7, 1)):
        for turn in range(8):
            angle = turn * math.pi / 4
            row = int((y + radius * math.sin(angle)) * scale)
            column = int((x + radius * math.cos(angle)) * scale)
            assert 1 - codes[row, column] / 65535 == inked
    assert codes[int(y * scale), int((x + 5.3) * scale)] == 65535


def test_printed_identity_can_be_read_back(layout: Layout, codes: np.ndarray) -> None:
    width, height = IDENTITY_CELL_MM
    for box in layout.identity_boxes:
        scores = []
        for column in range(48):
            upper, lower = (
                ink_in(
                    codes,
                    Box(
                        left_mm=box.left_mm + (column + 0.25) * width,
                        top_mm=box.top_mm + (half + 0.25) * height,
                        width_mm=width / 2,
                        height_mm=height / 2,
                    ),
                ).mean()
                for half in (0, 1)
            )
            assert sorted((upper, lower)) == [0, 1]
            scores.append(lower - upper)  # white below, where ink was: bit 1
        assert decode_bits(scores) == layout.identity


def test_scale_bars_are_as_long_as_they_say(layout: Layout, codes: np.ndarray) -> None:
    for bar in layout.scale_bars:
        ink = ink_in(codes, bar.box.grown(0.3))
        along = ink.max(axis=0 if bar.direction == "across" else 1)
        assert along.sum() * 25.4 / PPI == pytest.approx(bar.length_mm, abs=0.002)


def test_lettering_is_made_of_its_dots() -> None:
    layout = compose(
        Design(sheet="4x5in", levels=11, resolution_ppi=600, mirrored=False)
    )
    codes = draw(layout)
    scale = 600 / 25.4
    for text in list(layout.lettering())[:4]:
        for place, letter in enumerate(text.text):
            for row, dots in enumerate(glyphs()[letter]):
                for column, dot in enumerate(dots):
                    x = text.left_mm + (place * ADVANCE + column + 0.5) * text.dot_mm
                    y = text.top_mm + (row + 0.5) * text.dot_mm
                    code = codes[int(y * scale), int(x * scale)]
                    assert code == (0 if dot == "#" else 65535)


def test_8_bits(layout: Layout) -> None:
    codes = draw(replace(layout, bits=8))
    assert codes.dtype == np.uint8
    for patch in layout.patches[:8]:
        x, y = patch.box.center
        found = codes[int(y * PPI / 25.4), int(x * PPI / 25.4)]
        assert found == round(patch.negative_level * 255)


def test_ink_is_spent_on_patches(codes: np.ndarray) -> None:
    """Marks, letters and lines take less than a tenth of the sheet's ink."""
    assert 0 < (1 - codes / 65535).mean() < 0.3


def test_preview_shows_file_and_print(layout: Layout) -> None:
    mirrored = preview(replace(layout, mirrored=True))
    plain = preview(layout)
    assert mirrored.dtype == np.uint8
    assert mirrored.shape == plain.shape
    width = mirrored.shape[1] // 2
    assert not np.array_equal(mirrored[:, :width], plain[:, :width])
    block = round(PPI / PREVIEW_PPI)
    x, y = layout.patches[0].box.center
    code = 255 - round(layout.patches[0].negative_level * 255)
    scale = PPI / 25.4 / block
    head = mirrored.shape[0] - 1000 // block - 24
    for picture in (mirrored, plain):
        assert picture[head + int(y * scale), width + 24 + int(x * scale)] == code
