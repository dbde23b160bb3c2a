"""Every picture that cannot be read right ends in one clear sentence."""

import io
import struct
import tracemalloc
import zlib

import numpy as np
import pytest
import tifffile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image

from negcurve.errors import FileError
from negcurve.files import tiff_tags
from negcurve.files.pictures import open_picture
from tests.files.bad_files import BAD_TIFF, plain, png_chunk

MOST_MEMORY = 100_000_000
"""Far above what any of these small files may cost."""


def read_all(path):
    with open_picture(path) as source:
        return source.rows(0, source.height)


def refusal(path):
    """Read a file that must be refused, in little memory; return the error."""
    tracemalloc.start()
    try:
        with pytest.raises(FileError) as caught:
            read_all(path)
        assert tracemalloc.get_traced_memory()[1] < MOST_MEMORY
    finally:
        tracemalloc.stop()
    assert caught.value.where
    return caught.value


@pytest.mark.parametrize("name", BAD_TIFF)
def test_bad_tiff(tmp_path, name):
    content, sentence = BAD_TIFF[name]
    path = tmp_path / "bad.tif"
    path.write_bytes(content)
    error = refusal(path)
    assert sentence in error.what
    assert error.fix


def test_the_good_file_that_the_bad_ones_are_made_from(tmp_path):
    path = tmp_path / "good.tif"
    path.write_bytes(plain())
    np.testing.assert_array_equal(read_all(path).ravel(), np.arange(80))


def test_a_file_that_is_cut_off_is_refused_before_it_is_read(tmp_path):
    path = tmp_path / "cut.tif"
    path.write_bytes(BAD_TIFF["strip beyond its end"][0])
    with pytest.raises(FileError, match="a block lies beyond its end"):
        open_picture(path)


@pytest.mark.parametrize(
    ("limit", "sentence"),
    [("MOST_VALUES", "tag 273 has 2 values"), ("LARGEST_CONTENT", "tag 270 has 40")],
)
def test_tags_that_would_fill_memory(tmp_path, monkeypatch, limit, sentence):
    path = tmp_path / "tags.tif"
    tifffile.imwrite(
        path,
        np.zeros((32, 8), np.uint8),
        rowsperstrip=16,
        metadata=None,
        description="d" * 39,
    )
    read_all(path)
    monkeypatch.setattr(tiff_tags, limit, 1)
    assert sentence in refusal(path).what


def test_full_message(tmp_path):
    path = tmp_path / "cmyk.tif"
    path.write_bytes(BAD_TIFF["CMYK"][0])
    assert str(refusal(path)) == (
        "cmyk.tif: holds CMYK, not grey or RGB\n"
        "Save it as a grey or RGB TIFF with 8 or 16 bits."
    )


def test_no_picture_at_all(tmp_path):
    empty, text = tmp_path / "empty.tif", tmp_path / "text.tif"
    empty.write_bytes(b"")
    text.write_text("a letter, not a picture\n")
    assert refusal(empty).what == "is empty"
    assert refusal(text).what == "is not a TIFF, PNG or JPEG file"
    assert refusal(tmp_path).what == "is a folder"
    assert refusal(tmp_path / "none.tif").what == "does not exist"
    short = tmp_path / "short.tif"
    short.write_bytes(b"II")
    assert refusal(short).what == "is not a TIFF, PNG or JPEG file"


def encoded(kind, array=None, mode=None, **options):
    if array is None:
        array = np.arange(64 * 48, dtype=np.uint32).reshape(64, 48) % 251
    image = Image.fromarray(np.asarray(array, np.uint8))
    file = io.BytesIO()
    (image.convert(mode) if mode else image).save(file, kind, **options)
    return file.getvalue()


def png_of(width, height, bits, colour, packed):
    head = struct.pack(">IIBBBBB", width, height, bits, colour, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + png_chunk(b"IHDR", head)
        + png_chunk(b"IDAT", packed)
        + png_chunk(b"IEND", b"")
    )


def damaged_crc():
    content = bytearray(encoded("PNG"))
    content[len(content) // 2] ^= 0x55
    return bytes(content)


def jpeg_with(content, *, height=None, components=None, marker=None):
    """Change the frame of a JPEG."""
    changed = bytearray(content)
    place = content.index(b"\xff\xc0")
    if height is not None:
        changed[place + 5 : place + 9] = struct.pack(">HH", height, height)
    if components is not None:
        changed[place + 9] = components
    if marker is not None:
        changed[place + 1] = marker
    return bytes(changed)


BAD_OTHERS = {
    "PNG cut in half": (lambda: encoded("PNG")[:-100], "cut off"),
    "PNG cut at its end": (lambda: encoded("PNG")[:-12], "cut off"),
    "PNG with a wrong checksum": (damaged_crc, "cannot be unpacked"),
    "PNG head only": (lambda: encoded("PNG")[:16], "does not begin like a PNG"),
    "PNG of one bit": (lambda: encoded("PNG", mode="1"), "has one bit a sample"),
    "PNG of absurd size": (
        lambda: png_of(2**31 - 1, 2**31 - 1, 16, 6, b"x"),
        "cannot come from",
    ),
    "PNG bomb": (
        lambda: png_of(60_000, 60_000, 8, 0, zlib.compress(bytes(4_000_000), 9)),
        "cannot come from",
    ),
    "PNG without size": (lambda: png_of(0, 5, 8, 0, b"x"), "measures 0 x 5 pixels"),
    "PNG of unknown colour": (lambda: png_of(4, 5, 8, 5, b"x"), "measures 4 x 5"),
    "PNG with too few pixels": (
        lambda: png_of(40, 50, 8, 0, zlib.compress(bytes(41))),
        "cannot be unpacked",
    ),
    "JPEG cut in half": (lambda: encoded("JPEG")[:900], "cut off"),
    "JPEG without its end": (lambda: encoded("JPEG")[:-2], "it is cut off"),
    "JPEG head only": (lambda: encoded("JPEG")[:30], "cut off before its pixels"),
    "JPEG markers only": (lambda: b"\xff\xd8\xff\xd9", "cut off before its pixels"),
    "JPEG of CMYK": (lambda: encoded("JPEG", mode="CMYK"), "holds CMYK"),
    "JPEG of absurd size": (
        lambda: jpeg_with(encoded("JPEG"), height=65_500),
        "too many for a JPEG",
    ),
    "JPEG bomb": (lambda: jpeg_with(encoded("JPEG"), height=9_000), "pixels from"),
    "JPEG without rows": (lambda: jpeg_with(encoded("JPEG"), height=0), "0 x 0"),
    "JPEG of two components": (
        lambda: jpeg_with(encoded("JPEG"), components=2),
        "has 2 components",
    ),
    "JPEG of a rare kind": (
        lambda: jpeg_with(encoded("JPEG"), marker=0xC3),
        "rare kind",
    ),
}


@pytest.mark.parametrize("name", BAD_OTHERS)
def test_bad_png_and_jpeg(tmp_path, name):
    make, sentence = BAD_OTHERS[name]
    path = tmp_path / "bad"
    path.write_bytes(make())
    error = refusal(path)
    assert sentence in error.what
    assert error.fix


def good_files():
    array = np.arange(40 * 30 * 3, dtype=np.uint8).reshape(40, 30, 3)
    file = io.BytesIO()
    Image.fromarray(array).save(file, "TIFF", compression="tiff_lzw")
    return [plain(), file.getvalue(), encoded("PNG", array), encoded("JPEG", array)]


GOOD_FILES = good_files()


@settings(
    max_examples=300,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(data=st.data())
def test_damage_anywhere_gives_a_picture_or_a_sentence(tmp_path, data):
    content = bytearray(data.draw(st.sampled_from(GOOD_FILES)))
    for _ in range(data.draw(st.integers(1, 4))):
        place = data.draw(st.integers(0, len(content) - 1))
        content[place] = data.draw(st.integers(0, 255))
    cut = data.draw(st.integers(len(content) // 2, len(content)))
    path = tmp_path / "damaged"
    path.write_bytes(content[:cut])
    try:
        found = read_all(path)
    except FileError as error:
        assert error.where  # noqa: PT017  # either outcome is right
    else:
        assert found.ndim == 3
