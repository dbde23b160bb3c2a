import io

import numpy as np
import pytest
from PIL import Image

from negcurve.files.jpeg_header import parse_jpeg_header
from negcurve.files.jpeg_picture import open_jpeg
from negcurve.files.jpeg_quality import (
    quality_of,
    read_tables,
    scaled_table,
    zigzag,
)

FIRST_OF_ZIGZAG = (0, 1, 8, 16, 9, 2, 3, 10, 17, 24, 32, 25, 18, 11, 4, 5)
"""Source: ITU-T T.81 (1992), figure A.6, retyped row by row."""


def saved(quality, *, mode="L"):
    held = io.BytesIO()
    rng = np.random.default_rng(1)
    shape = (40, 48) if mode == "L" else (40, 48, 3)
    picture = Image.fromarray(rng.integers(0, 255, shape).astype(np.uint8))
    picture.save(held, "jpeg", quality=quality)
    return held.getvalue()


@pytest.mark.parametrize("quality", [3, 10, 25, 49, 50, 51, 74, 75, 90, 95, 100])
@pytest.mark.parametrize("mode", ["L", "RGB"])
def test_the_quality_that_a_library_saved_with(quality, mode):
    """Against the tables that Pillow, built on libjpeg, writes and reads."""
    content = saved(quality, mode=mode)
    header = parse_jpeg_header(content)
    assert quality_of(header.table) == quality
    # Pillow gives tables row by row, the file has them in zigzag order.
    theirs = np.array(Image.open(io.BytesIO(content)).quantization[0])
    np.testing.assert_array_equal(header.table, theirs[zigzag()])
    np.testing.assert_array_equal(header.table, scaled_table(quality))


def test_zigzag_is_that_of_the_standard():
    assert tuple(zigzag()[:16]) == FIRST_OF_ZIGZAG
    assert sorted(zigzag()) == list(range(64))
    # It is its own mirror image through the middle of the block.
    np.testing.assert_array_equal(zigzag() + zigzag()[::-1], np.full(64, 63))


def test_tables_of_other_programs_get_the_nearest_quality():
    doubled = tuple(int(each) for each in 2 * scaled_table(50))
    assert quality_of(doubled) == 25
    assert quality_of((1,) * 64) == 100


def test_wide_and_cut_off_tables():
    wide = bytes([0x12]) + np.arange(300, 364).astype(">u2").tobytes()
    narrow = bytes([0x01]) + bytes(range(1, 65))
    assert read_tables([wide + narrow]) == {
        2: tuple(range(300, 364)),
        1: tuple(range(1, 65)),
    }
    assert read_tables([narrow[:-1], b""]) == {}


@pytest.mark.parametrize(("quality", "warned"), [(74, True), (75, False), (40, True)])
def test_strong_compression_is_warned_about(tmp_path, quality, warned):
    path = tmp_path / "scan.jpg"
    path.write_bytes(saved(quality))
    found = open_jpeg(path).findings
    assert len(found) == warned
    if quality == 40:
        # K.1 at quality 40 is scaled by 1.25: 16 becomes 20, and 20 / 8 is 2.5.
        assert str(found[0]) == (
            "warning: scan.jpg: is a JPEG of quality about 40 of 100, which rounds the "
            "mean of each 8 x 8 pixels to 2.5 codes. Save scans as 16-bit TIFF; of a "
            "picture use a better copy."
        )
