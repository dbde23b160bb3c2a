from dataclasses import fields, replace

import pytest

from negcurve.errors import InvalidValueError
from negcurve.target.composition import Design, compose
from negcurve.target.ink import Ink
from negcurve.target.layout import Box, Layout


@pytest.fixture(scope="module")
def layout() -> Layout:
    return compose(Design(levels=21))


def box(left: float, top: float, width: float, height: float) -> Box:
    return Box(left_mm=left, top_mm=top, width_mm=width, height_mm=height)


def test_boxes() -> None:
    one = box(1, 2, 3, 4)
    assert (one.right_mm, one.bottom_mm, one.center) == (4, 6, (2.5, 4))
    assert one.overlaps(box(3, 5, 9, 9))
    assert not one.overlaps(box(4, 2, 3, 4))  # a common edge
    assert one.grown(1) == box(0, 1, 5, 6)
    assert one.grown(1).holds(one)
    assert not one.holds(one.grown(1))
    with pytest.raises(InvalidValueError, match="must have an extent"):
        box(0, 0, 0, 4)


def moved(value: Box) -> Box:
    return replace(value, left_mm=value.left_mm + 0.005)


def other(layout: Layout, name: str) -> object:
    """Another value for a field."""
    value = getattr(layout, name)
    own = {
        "mirrored": not layout.mirrored,
        "marks_mm": ((1.0, 1.0), *layout.marks_mm[1:]),
        "identity_boxes": layout.identity_boxes[::-1],
        "patches": (
            replace(layout.patches[0], box=moved(layout.patches[0].box)),
            *layout.patches[1:],
        ),
        "scale_bars": layout.scale_bars[:1],
        "texts": layout.texts[1:],
        "mode": "rgb",
        "bits": 8,
        "ink": Ink(red=0, green=96, blue=32),
    }
    if name in own:
        return own[name]
    if isinstance(value, Box):
        return moved(value)
    return value + ("x" if isinstance(value, str) else 1)


@pytest.mark.parametrize("name", [each.name for each in fields(Layout)])
def test_identity_changes_with_every_field(layout: Layout, name: str) -> None:
    if name == "ink":  # a colour needs three channels
        layout = replace(layout, mode="rgb")
    if name in ("levels", "repeats"):  # neither can change alone
        changed = {"levels": layout.repeats, "repeats": layout.levels}
    else:
        changed = {name: other(layout, name)}
    assert replace(layout, **changed).identity != layout.identity


def test_identity_changes_with_what_a_patch_says(layout: Layout) -> None:
    first, *rest = layout.patches
    for change in (
        {"negative_level": 0.123456},
        {"repeat": 9},
        {"image_tone": 0.5},
    ):
        patches = (replace(first, **change), *rest)
        assert replace(layout, patches=patches).identity != layout.identity


def test_identity_is_the_hash_that_it_says(layout: Layout) -> None:
    assert layout.identity_text == f"{layout.identity:08X}"
    assert 0 <= layout.identity < 2**32
    assert '"schema":"negcurve/layout/1"' in layout.canonical_text
    assert " " not in layout.canonical_text.split('"texts"')[0]


def test_the_printed_identity_is_no_part_of_what_it_is_made_from(
    layout: Layout,
) -> None:
    assert layout.identity_text not in layout.canonical_text
    assert layout.identity_text in next(layout.lettering()).text


def test_printer_path(layout: Layout) -> None:
    assert layout.printer_path == {
        "mode": "grey",
        "bits": "16",
        "ppi": "360",
        "profile": "none",
    }


def test_a_colour_of_ink_needs_three_channels(layout: Layout) -> None:
    ink = Ink(red=0, green=96, blue=32)
    with pytest.raises(InvalidValueError, match="ink: a colour needs mode rgb"):
        replace(layout, ink=ink)
    first = replace(layout.patches[0], ink=ink)
    with pytest.raises(InvalidValueError, match="ink: a colour needs mode rgb"):
        replace(layout, patches=(first, *layout.patches[1:]))
    coloured = replace(layout, mode="rgb", ink=ink)
    assert coloured.printer_path["ink"] == "0,96,32"
    assert '"ink":"0,96,32"' in coloured.canonical_text
    assert '"ink"' not in layout.canonical_text


def test_size_in_pixels(layout: Layout) -> None:
    assert layout.size_px == (2880, 3600)  # 8 x 10 in at 360 ppi
    assert compose(Design(sheet="A4")).size_px == (2976, 4209)  # 2976.4 x 4209.4


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (
            {"marks_mm": ((1.0, 1.0),)},
            "marks_mm: four marks are needed, two for a strip",
        ),
        ({"resolution_ppi": 0}, "resolution_ppi: 0 is not above 0"),
        ({"bits": 12}, "bits: 12 is not 8 or 16"),
        ({"levels": 20}, "patches: 42 for 20 levels x 2 repeats"),
        ({"width_mm": 50.0}, "patch 2: lies outside the sheet"),
    ],
)
def test_what_cannot_be(
    layout: Layout, change: dict[str, object], message: str
) -> None:
    with pytest.raises(InvalidValueError) as caught:
        replace(layout, **change)
    assert str(caught.value).splitlines()[0] == message
    assert caught.value.fix


def test_patches_are_numbered_in_order(layout: Layout) -> None:
    assert [patch.number for patch in layout.patches] == list(range(1, 43))
    with pytest.raises(InvalidValueError, match="stands in place 1"):
        replace(layout, patches=layout.patches[::-1])
    first = replace(layout.patches[0], negative_level=1.5)
    with pytest.raises(InvalidValueError, match="level lies outside"):
        replace(layout, patches=(first, *layout.patches[1:]))
