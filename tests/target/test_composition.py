import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from negcurve.errors import InvalidValueError
from negcurve.target.composition import Design, compose
from negcurve.target.grid import best_grid
from negcurve.target.layout import (
    IDENTITY_CELL_MM,
    IDENTITY_COLUMNS,
    MARK_RADIUS_MM,
    TABLET_CLEARANCE_MM,
    Layout,
)
from negcurve.target.page import cut_page, units
from tests.target.parts import live_area, parts

SHEETS = ["8x10in", "A4", "4x5in", "5x7in", "10x8in", "20x25cm", "11x14in", "A5"]


def check_page(layout: Layout) -> None:
    """No two parts overlap, and all lie inside the margins."""
    found = parts(layout)
    area = live_area(layout)
    outside = [name for name, box in found.items() if not area.holds(box)]
    assert outside == []
    edges = np.array(
        [(b.left_mm, b.top_mm, b.right_mm, b.bottom_mm) for b in found.values()]
    )
    low, high = edges[:, None, :2], edges[None, :, 2:]
    overlap = (low < high).all(axis=-1)
    both = overlap & overlap.T & ~np.eye(len(edges), dtype=bool)
    names = list(found)
    assert [(names[a], names[b]) for a, b in np.argwhere(both)] == []


@pytest.mark.parametrize("sheet", SHEETS)
def test_nothing_overlaps(sheet: str) -> None:
    check_page(compose(Design(sheet=sheet, levels=21, repeats=2)))


@settings(max_examples=25, deadline=None)
@given(
    width=st.integers(100, 450),
    height=st.integers(100, 450),
    margin=st.integers(3, 25),
    levels=st.integers(2, 60),
    repeats=st.integers(1, 2),
    window=st.sampled_from([None, True, False]),
    mirrored=st.booleans(),
)
def test_nothing_overlaps_on_any_sheet(
    width: int,
    height: int,
    margin: int,
    levels: int,
    repeats: int,
    window: bool | None,
    mirrored: bool,
) -> None:
    design = Design(
        sheet=f"{width}x{height}mm",
        margin=units(margin),
        levels=levels,
        repeats=repeats,
        tablet_window=window,
        mirrored=mirrored,
    )
    try:
        layout = compose(design)
    except InvalidValueError:
        assume(False)
    check_page(layout)
    if layout.tablet_window:
        near = layout.tablet_window.grown(TABLET_CLEARANCE_MM - 1e-6)
        assert not any(near.overlaps(patch.box) for patch in layout.patches)


def test_marks_and_identity_stand_where_reading_expects_them() -> None:
    layout = compose(Design())
    (left, top), (right, top2), (right2, bottom), (left2, bottom2) = layout.marks_mm
    assert (left, top, right, bottom) == (left2, top2, right2, bottom2)
    assert left == top == layout.margin_mm + MARK_RADIUS_MM
    for box, line in zip(layout.identity_boxes, (top, bottom), strict=True):
        np.testing.assert_allclose(box.center, ((left + right) / 2, line), atol=1e-9)
        assert box.width_mm == pytest.approx(IDENTITY_COLUMNS * IDENTITY_CELL_MM[0])
        assert box.height_mm == 2 * IDENTITY_CELL_MM[1]


@pytest.mark.parametrize(
    ("sheet", "window", "bars_mm"),
    [
        ("8x10in", True, 100),
        ("20x25cm", True, 100),
        ("A4", True, 100),
        ("4x5in", False, 50),
        ("5x7in", False, 50),
    ],
)
def test_window_and_bars_go_with_the_sheet(
    sheet: str, window: bool, bars_mm: float
) -> None:
    layout = compose(Design(sheet=sheet, levels=21))
    assert (layout.tablet_window is not None) == window
    assert layout.tape_box is not None
    assert [bar.direction for bar in layout.scale_bars] == ["across", "down"]
    for bar in layout.scale_bars:
        sides = {"across": bar.box.width_mm, "down": bar.box.height_mm}
        assert bar.length_mm == sides[bar.direction] == bars_mm


def test_window_takes_common_tablets() -> None:
    """Up to 140 x 25 mm; common practice, no source."""
    window = compose(Design()).tablet_window
    assert window is not None
    assert window.width_mm > 140
    assert window.height_mm > 25


def test_window_can_be_left_out_and_asked_for() -> None:
    without = compose(Design(tablet_window=False))
    assert without.tablet_window is None
    larger = without.patches[0].box
    smaller = compose(Design()).patches[0].box
    assert larger.width_mm * larger.height_mm > smaller.width_mm * smaller.height_mm
    assert compose(Design(sheet="7x9in", tablet_window=True)).tablet_window
    with pytest.raises(InvalidValueError) as caught:
        compose(Design(sheet="5x7in", tablet_window=True))
    assert str(caught.value) == (
        "sheet 5x7in: no room for a tablet window 144 mm long\n"
        "Leave the window out with --no-tablet-window, or use a wider sheet."
    )


@pytest.mark.parametrize("sheet", ["4x5in", "5x7in", "A5", "20x25cm", "8x10in"])
@pytest.mark.parametrize("repeats", [1, 2])
@pytest.mark.parametrize("patch", [None, units(8)])
def test_refusal_names_the_levels_that_fit(
    sheet: str, repeats: int, patch: int | None
) -> None:
    design = Design(sheet=sheet, levels=256, repeats=repeats + 3, patch=patch)
    with pytest.raises(InvalidValueError) as caught:
        compose(design)
    fitting = int(caught.value.what.split("; ")[1].split()[0])
    assert f"Use --levels {fitting}, fewer repeats" in caught.value.fix
    area = cut_page(sheet).patches
    assert best_grid(area, count=fitting * (repeats + 3), patch=patch)
    assert not best_grid(area, count=(fitting + 1) * (repeats + 3), patch=patch)


def test_refusal_in_full() -> None:
    with pytest.raises(InvalidValueError) as caught:
        compose(Design(sheet="4x5in", levels=101))
    assert str(caught.value) == (
        "sheet 4x5in: 101 levels x 2 do not fit in patches of 5 mm or more; "
        "55 levels would\n"
        "Use --levels 55, fewer repeats or a larger sheet."
    )


def test_sheets_without_room_for_anything() -> None:
    with pytest.raises(InvalidValueError) as caught:
        compose(Design(sheet="60x90mm"))
    assert str(caught.value) == (
        "sheet 60x90mm: 60 mm wide; marks and printed identity need 85.4 mm between "
        "margins of 8 mm\n"
        "Use a wider sheet or a smaller margin."
    )
    with pytest.raises(InvalidValueError, match="not even 2 levels would"):
        compose(Design(sheet="120x60mm", margin=units(5), repeats=9))


def test_patch_size_can_be_chosen() -> None:
    layout = compose(Design(patch=units(8)))
    for patch in layout.patches:
        assert (patch.box.width_mm, patch.box.height_mm) == (8, 8)
    with pytest.raises(InvalidValueError) as caught:
        Design(patch=units(3))
    assert str(caught.value) == (
        "patch: 3 mm is too small to be read\nUse 5 mm or more."
    )


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"levels": 1}, "levels: 1 is not possible\nUse 2 to 256."),
        ({"repeats": 0}, "repeats: 0 is not possible\nUse 1 to 16."),
        ({"resolution_ppi": 30}, "ppi: 30 is not possible\nUse 72 to 2880."),
        ({"seed": -1}, "seed: -1 is not possible\nUse 0 to 4294967295."),
        (
            {"negative_levels": (1.0, 0.0)},
            "negative_levels: 2 values for 51 levels",
        ),
    ],
)
def test_values_out_of_range(change: dict[str, object], message: str) -> None:
    with pytest.raises(InvalidValueError) as caught:
        Design(**change)  # type: ignore[arg-type]
    assert str(caught.value) == message


def test_levels_through_a_table() -> None:
    tones = tuple(each / 20 for each in range(21))
    levels = tuple((1 - tone) ** 1.7 for tone in tones)
    layout = compose(
        Design(levels=21, negative_levels=levels, image_tones=tones, table="1a2b3c4d")
    )
    assert layout.table == "1a2b3c4d"
    for patch in layout.patches:
        assert patch.image_tone is not None
        assert patch.negative_level == pytest.approx(
            (1 - patch.image_tone) ** 1.7, abs=1e-6
        )
    assert "table 1a2b3c4d" in " ".join(each.text for each in layout.texts)


def test_levels_in_8_bits_are_what_the_file_holds() -> None:
    for patch in compose(Design(bits=8)).patches:
        code = patch.negative_level * 255
        assert code == pytest.approx(round(code), abs=2e-4)


def test_caption_says_how_the_film_must_lie() -> None:
    for mirrored, line in ((True, "READS BACKWARDS"), (False, "READS RIGHT")):
        texts = [each.text for each in compose(Design(mirrored=mirrored)).lettering()]
        assert f"{line} ON THE INK SIDE" in texts
        assert any("Print at 100 %" in each for each in texts)


def test_caption_can_be_read() -> None:
    """Letters at least 1.2 mm high, as small print in books; no source."""
    for sheet in SHEETS:
        layout = compose(Design(sheet=sheet, levels=21))
        assert min(each.dot_mm for each in layout.texts) * 7 >= 1.2
        title = next(layout.lettering())
        assert title.text == f"negcurve target {layout.identity_text}"


def test_each_row_shows_the_number_of_its_first_patch() -> None:
    layout = compose(Design())
    rows: dict[float, list[int]] = {}
    for patch in layout.patches:
        rows.setdefault(patch.box.top_mm, []).append(patch.number)
    for numbers in rows.values():
        label = next(t for t in layout.texts if t.text == str(numbers[0]))
        first = layout.patches[numbers[0] - 1].box
        assert label.box.right_mm < first.left_mm
        assert first.top_mm < label.top_mm < first.bottom_mm
