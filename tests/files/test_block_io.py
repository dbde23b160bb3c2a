"""Reading and writing by place, with and without the system's help."""

import os
from concurrent.futures import ThreadPoolExecutor

import pytest

from negcurve.errors import FileError
from negcurve.files.block_io import BlockBytes, BlockFile, PlacedWriter

CONTENT = bytes(range(256)) * 4


@pytest.fixture
def path(tmp_path):
    path = tmp_path / "a.bin"
    path.write_bytes(CONTENT)
    return path


@pytest.mark.parametrize("positional", [True, False])
@pytest.mark.parametrize(("offset", "count"), [(0, 1024), (3, 7), (1023, 1), (5, 0)])
def test_pieces(path, positional, offset, count):
    with BlockFile(path, positional=positional) as file:
        assert file.size == 1024
        assert file.read(offset, count) == CONTENT[offset : offset + count]


@pytest.mark.parametrize("positional", [True, False])
@pytest.mark.parametrize(
    ("offset", "count"), [(0, 1025), (1024, 1), (10**15, 1), (0, 10**15)]
)
def test_beyond_the_end(path, positional, offset, count):
    # A count that memory could never hold is refused before it is tried.
    with (
        BlockFile(path, positional=positional) as file,
        pytest.raises(FileError) as caught,
    ):
        file.read(offset, count)
    assert str(caught.value) == (
        f"{path}: is cut off: it has 1024 bytes, byte {offset + count} is asked for\n"
        "Copy or save the file again."
    )


@pytest.mark.parametrize("positional", [True, False])
@pytest.mark.parametrize(("offset", "count"), [(-1, 5), (5, -1)])
def test_before_the_start(path, positional, offset, count):
    with (
        BlockFile(path, positional=positional) as file,
        pytest.raises(FileError, match="is cut off"),
    ):
        file.read(offset, count)


@pytest.mark.parametrize("positional", [True, False])
def test_a_file_that_shrinks_while_it_is_read(path, positional):
    with BlockFile(path, positional=positional) as file:
        os.truncate(path, 100)
        with pytest.raises(FileError, match="is cut off"):
            file.read(50, 100)


def test_bytes_in_memory():
    file = BlockBytes(CONTENT, name="Exif")
    assert file.read(3, 7) == CONTENT[3:10]
    for offset, count in [(1020, 5), (-1, 5), (5, -1)]:
        with pytest.raises(FileError, match="Exif: is cut off"):
            file.read(offset, count)


@pytest.mark.parametrize("positional", [True, False])
@pytest.mark.parametrize(("offset", "count"), [(0, 1024), (3, 7), (1023, 1), (5, 0)])
def test_reading_into_memory(path, positional, offset, count):
    room = bytearray(count)
    with BlockFile(path, positional=positional) as file:
        file.read_into(offset, memoryview(room))
    assert room == CONTENT[offset : offset + count]


@pytest.mark.parametrize("positional", [True, False])
@pytest.mark.parametrize("offset", [-1, 1020])
def test_reading_into_memory_beyond_the_file(path, positional, offset):
    with (
        BlockFile(path, positional=positional) as file,
        pytest.raises(FileError, match="is cut off"),
    ):
        file.read_into(offset, memoryview(bytearray(5)))


@pytest.mark.parametrize("positional", [True, False])
def test_reading_into_memory_from_a_file_that_shrinks(path, positional):
    with BlockFile(path, positional=positional) as file:
        os.truncate(path, 100)
        with pytest.raises(FileError, match="is cut off"):
            file.read_into(50, memoryview(bytearray(100)))


@pytest.mark.parametrize("positional", [True, False])
def test_threads_write_in_any_order(path, positional):
    places = range(1000, -1, -8)
    with path.open("r+b") as handle, ThreadPoolExecutor(4) as pool:
        writer = PlacedWriter(handle, positional=positional)
        for place in places:
            turned = CONTENT[place : place + 8][::-1]
            pool.submit(writer.write, place, memoryview(turned))
    found = path.read_bytes()
    assert found[:1008] == b"".join(
        CONTENT[place : place + 8][::-1] for place in reversed(places)
    )
    assert found[1008:] == CONTENT[1008:]


def test_a_write_that_takes_only_a_part_goes_on(path, monkeypatch):
    whole = os.pwrite
    monkeypatch.setattr(
        os, "pwrite", lambda file, content, place: whole(file, content[:3], place)
    )
    with path.open("r+b") as handle:
        PlacedWriter(handle, positional=True).write(4, memoryview(b"0123456789"))
    assert path.read_bytes() == CONTENT[:4] + b"0123456789" + CONTENT[14:]
