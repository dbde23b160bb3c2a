"""PNG files as others read them: Pillow, and our own reader."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from negcurve.errors import FileError, InvalidValueError
from negcurve.files.pictures import open_picture
from negcurve.files.png import write_png
from negcurve.values import CodeArray


def drawn(*shape: int) -> CodeArray:
    return np.random.default_rng(1).integers(0, 256, shape, dtype=np.uint8)


@pytest.mark.parametrize("shape", [(7, 5), (7, 5, 1), (1, 1), (20, 31, 3)])
def test_pixels_come_back_through_pillow(
    shape: tuple[int, ...], tmp_path: Path
) -> None:
    array = drawn(*shape)
    write_png(tmp_path / "a.png", array)
    with Image.open(tmp_path / "a.png") as found:
        found.verify()  # the checksum of every chunk
    with Image.open(tmp_path / "a.png") as found:
        assert found.mode == ("RGB" if shape[2:] == (3,) else "L")
        seen = array[..., 0] if shape[2:] == (1,) else array
        np.testing.assert_array_equal(np.asarray(found), seen)
        assert "dpi" not in found.info


@pytest.mark.parametrize(
    "said", ["negcurve proof, table 1234", "dichte µ", "tone → ink"]
)
def test_description_and_resolution_come_back(said: str, tmp_path: Path) -> None:
    write_png(tmp_path / "a.png", drawn(4, 6, 3), resolution_ppi=360, description=said)
    with Image.open(tmp_path / "a.png") as found:
        found.verify()
    with Image.open(tmp_path / "a.png") as found:
        assert found.info["Description"] == said
        assert found.info["dpi"] == pytest.approx((360, 360), abs=0.02)
    with open_picture(tmp_path / "a.png") as source:
        assert source.description == said
        assert source.resolution_ppi == pytest.approx((360, 360), abs=0.02)


def test_what_a_png_cannot_hold_is_refused(tmp_path: Path) -> None:
    for array in (drawn(4, 4).astype(np.uint16), drawn(4, 4, 2), drawn(0, 4), drawn(4)):
        with pytest.raises(InvalidValueError, match="array"):
            write_png(tmp_path / "a.png", array)
    assert not list(tmp_path.iterdir())


def test_nothing_is_overwritten_unasked(tmp_path: Path) -> None:
    write_png(tmp_path / "a.png", drawn(3, 3))
    with pytest.raises(FileError):
        write_png(tmp_path / "a.png", drawn(5, 5))
    write_png(tmp_path / "a.png", drawn(5, 5), overwrite=True)
    with Image.open(tmp_path / "a.png") as found:
        assert found.size == (5, 5)
