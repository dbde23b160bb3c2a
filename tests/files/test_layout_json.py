import json
from pathlib import Path

import pytest
import tifffile
from hypothesis import given, settings
from hypothesis import strategies as st

from negcurve.errors import FileError
from negcurve.files.layout_json import (
    description,
    layout_from_text,
    layout_text,
    layouts_known,
    read_layout,
    ready_made_layouts,
    sidecar_path,
    write_layout,
)
from negcurve.target.composition import Design, compose
from negcurve.target.layout import Layout


@pytest.fixture(scope="module")
def layout() -> Layout:
    return compose(Design(sheet="4x5in", levels=21))


@settings(max_examples=10, deadline=None)
@given(
    sheet=st.sampled_from(["8x10in", "A4", "13.7x19.3cm", "297x210mm"]),
    levels=st.integers(2, 30),
    repeats=st.integers(1, 2),
    seed=st.integers(0, 99),
    mirrored=st.booleans(),
)
def test_round_trip(
    sheet: str, levels: int, repeats: int, seed: int, mirrored: bool
) -> None:
    first = compose(
        Design(
            sheet=sheet, levels=levels, repeats=repeats, seed=seed, mirrored=mirrored
        )
    )
    for text in (layout_text(first), first.canonical_text):
        again = layout_from_text(text, where="t.layout.json")
        assert again == first
        assert again.identity == first.identity
        assert layout_text(again) == layout_text(first)


def test_round_trip_through_a_table() -> None:
    tones = (0.0, 1 / 3, 2 / 3, 1.0)
    levels = (1.0, 0.7071067811865476, 0.1, 0.0)
    first = compose(
        Design(levels=4, negative_levels=levels, image_tones=tones, table="0badcafe")
    )
    assert layout_from_text(layout_text(first), where="t") == first


def test_the_text_is_for_people_too(layout: Layout) -> None:
    lines = layout_text(layout).splitlines()
    assert lines[1] == f' "identity": "{layout.identity_text}",'
    assert sum(line.startswith('  {"number"') for line in lines) == 42
    assert max(len(line) for line in lines) < 200


def changed(layout: Layout, **changes: object) -> str:
    plain = json.loads(layout_text(layout))
    for key, value in changes.items():
        if value is None:
            del plain[key]
        else:
            plain[key] = value
    return json.dumps(plain)


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        (
            {"schema": "negcurve/layout/2"},
            "t.layout.json: is written as negcurve/layout/2, which negcurve",
        ),
        ({"schema": "negcurve/solution/1"}, "says it is 'negcurve/solution/1', not"),
        ({"patches": None}, "is a layout with something missing or wrong (no patches)"),
        ({"sheet": None}, "missing 1 required keyword-only argument: 'sheet'"),
        ({"colour": "blue"}, "unexpected keyword argument 'colour'"),
        ({"patches": "all"}, "is a layout with something missing or wrong"),
        ({"levels": 20}, "(patches: 42 for 20 levels x 2 repeats)"),
        ({"seed": 2}, "names itself"),
    ],
)
def test_what_is_no_layout(
    layout: Layout, changes: dict[str, object], message: str
) -> None:
    with pytest.raises(FileError) as caught:
        layout_from_text(changed(layout, **changes), where="t.layout.json")
    assert message in str(caught.value)


def test_changed_by_hand(layout: Layout) -> None:
    text = layout_text(layout).replace('"seed": 1', '"seed": 2')
    with pytest.raises(FileError) as caught:
        layout_from_text(text, where="t.layout.json")
    again = json.loads(text)
    assert again["identity"] == layout.identity_text
    assert str(caught.value).startswith(
        f"t.layout.json: names itself {layout.identity_text}, but its content is "
    )
    assert str(caught.value).endswith(
        "\nIt was changed; use the layout as it was written with the target."
    )


@pytest.mark.parametrize("text", ["", "{", "[1]", "7"])
def test_what_is_no_json_object(text: str) -> None:
    with pytest.raises(FileError, match="Name a layout or a target"):
        layout_from_text(text, where="t.layout.json")


def small_tiff(path: Path, said: str) -> Path:
    tifffile.imwrite(path, [[0, 9]], dtype="uint16", description=said, metadata=None)
    return path


def test_layout_in_the_description(layout: Layout, tmp_path: Path) -> None:
    path = small_tiff(tmp_path / "target.tif", description(layout))
    assert read_layout(path) == layout
    other = description(layout).replace('"seed":1', '"seed":2')
    with pytest.raises(FileError, match="names itself"):
        read_layout(small_tiff(tmp_path / "other.tif", other))


def test_layout_beside_a_file_that_lost_its_description(
    layout: Layout, tmp_path: Path
) -> None:
    path = small_tiff(tmp_path / "target.tif", "saved again")
    with pytest.raises(FileError) as caught:
        read_layout(path)
    assert str(caught.value) == (
        f"{path}: holds no layout, and target.layout.json is not beside it\n"
        "Name the TIFF that negcurve wrote, or its .layout.json."
    )
    write_layout(layout, sidecar_path(path))
    assert read_layout(path) == layout
    assert read_layout(sidecar_path(path)) == layout


def test_missing_and_binary_files(tmp_path: Path) -> None:
    with pytest.raises(FileError, match="does not exist"):
        read_layout(tmp_path / "none.layout.json")
    binary = tmp_path / "binary.layout.json"
    binary.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(FileError, match="is not text in UTF-8"):
        read_layout(binary)


def test_where_layouts_are_looked_for(layout: Layout, tmp_path: Path) -> None:
    scan = tmp_path / "scan.tif"
    ready = ready_made_layouts()
    assert layouts_known(beside=scan) == ready == layouts_known()
    own = compose(Design(levels=11, seed=9))
    write_layout(own, tmp_path / "own.layout.json")
    assert layouts_known(beside=scan) == (own, *ready)
    write_layout(layout, tmp_path / "other.layout.json")
    assert layouts_known(tmp_path / "other.layout.json", scan) == (layout,)


def test_a_layout_known_twice_is_there_once(tmp_path: Path) -> None:
    own = compose(Design(levels=11, seed=9))
    for name in ("a", "b"):
        write_layout(own, tmp_path / f"{name}.layout.json")
    found = [each.identity for each in layouts_known(beside=tmp_path / "scan.tif")]
    assert found.count(own.identity) == 1


def test_ready_made_layouts_differ() -> None:
    found = ready_made_layouts()
    assert {each.sheet for each in found} == {"8x10in", "A4", "4x5in"}
    assert len({each.identity for each in found}) == 3
