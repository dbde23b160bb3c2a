"""Opening pictures of every kind, and what their codes stand for."""

import io
import struct
import zlib

import imagecodecs
import numpy as np
import pytest
import tifffile
from PIL import Image, ImageOps

from negcurve.encoding import SRGB, SRGB_GREY
from negcurve.errors import FileError, InvalidValueError
from negcurve.files.memory_picture import MemoryPicture
from negcurve.files.pictures import (
    encoding_of,
    is_untagged,
    open_picture,
    own_kind,
    read_profile,
)
from negcurve.files.png import write_png
from negcurve.files.tiff import GreyTiffWriter
from tests.files.bad_files import png_chunk
from tests.files.profiles import gamma, grey, lut, rgb

HEIGHT, WIDTH = 40, 30


def codes(channels, dtype=np.uint8):
    rng = np.random.default_rng(7)
    largest = np.iinfo(dtype).max
    return rng.integers(0, largest + 1, (HEIGHT, WIDTH, channels)).astype(dtype)


def smooth(channels):
    ramp = np.linspace(20, 235, HEIGHT * WIDTH).reshape(HEIGHT, WIDTH, 1)
    return np.repeat(ramp, channels, axis=2).astype(np.uint8)


def read(path):
    with open_picture(path) as source:
        return source, source.rows(0, source.height)


@pytest.mark.parametrize("channels", [1, 3])
@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
def test_png(tmp_path, channels, dtype):
    array = codes(channels, dtype)
    path = tmp_path / "a.png"
    path.write_bytes(imagecodecs.png_encode(array[..., 0] if channels == 1 else array))
    source, found = read(path)
    assert (source.dtype, source.channels) == (dtype, channels)
    assert (source.height, source.width) == (HEIGHT, WIDTH)
    np.testing.assert_array_equal(found, array)
    np.testing.assert_array_equal(source.window(3, 4, 10, 11), array[3:13, 4:15])
    assert source.findings == ()
    assert source.resolution_ppi is None


@pytest.mark.parametrize("channels", [2, 4])
@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
def test_png_with_alpha(tmp_path, channels, dtype):
    array, largest = codes(channels, dtype), np.iinfo(dtype).max
    path = tmp_path / "a.png"
    path.write_bytes(imagecodecs.png_encode(array))
    source, found = read(path)
    share = array[..., -1:] / largest
    expected = np.rint(array[..., :-1] * share + largest * (1 - share))
    np.testing.assert_array_equal(found, expected)
    assert [each.what for each in source.findings] == [
        "transparent parts are laid on white"
    ]
    array[..., -1] = largest
    path.write_bytes(imagecodecs.png_encode(array))
    source, found = read(path)
    np.testing.assert_array_equal(found, array[..., :-1])
    assert source.findings == ()


@pytest.mark.parametrize("colours", [3, 16, 200])
def test_png_with_palette(tmp_path, colours):
    image = Image.fromarray(codes(3)).quantize(colours)
    image.save(tmp_path / "p.png")
    _, found = read(tmp_path / "p.png")
    np.testing.assert_array_equal(found, np.asarray(image.convert("RGB")))


def test_png_of_four_grey_levels(tmp_path):
    # ISO/IEC 15948:2004, 13.12: samples are scaled to the full range.
    rows = b"".join(b"\0" + bytes([0b00011011]) for _ in range(4))
    head = struct.pack(">IIBBBBB", 4, 4, 2, 0, 0, 0, 0)
    (tmp_path / "g.png").write_bytes(
        b"\x89PNG\r\n\x1a\n"
        + png_chunk(b"IHDR", head)
        + png_chunk(b"IDAT", zlib.compress(rows))
        + png_chunk(b"IEND", b"")
    )
    _, found = read(tmp_path / "g.png")
    np.testing.assert_array_equal(found[..., 0], [[0, 85, 170, 255]] * 4)


def test_png_tells_resolution_profile_and_description(tmp_path):
    profile = rgb(gamma(1.8))
    image = Image.fromarray(codes(3))
    image.save(tmp_path / "a.png", dpi=(300, 600), icc_profile=profile)
    source, _ = read(tmp_path / "a.png")
    # PNG keeps whole pixels per metre: half of one is 0.0127 ppi.
    np.testing.assert_allclose(source.resolution_ppi, (300, 600), atol=0.0127)
    assert source.profile == profile
    write_png(tmp_path / "b.png", codes(3), description="negcurve proof, T 12AB")
    source, found = read(tmp_path / "b.png")
    np.testing.assert_array_equal(found, codes(3))
    assert source.description == "negcurve proof, T 12AB"
    assert own_kind(source) == "negcurve proof"


def test_png_that_states_another_gamma_says_so(tmp_path):
    content = imagecodecs.png_encode(codes(1)[..., 0])
    linear = png_chunk(b"gAMA", struct.pack(">I", 100_000))
    srgb = png_chunk(b"gAMA", struct.pack(">I", 45_455))
    (tmp_path / "l.png").write_bytes(content[:33] + linear + content[33:])
    (tmp_path / "s.png").write_bytes(content[:33] + srgb + content[33:])
    source, _ = read(tmp_path / "l.png")
    assert [each.what for each in source.findings] == [
        "states gamma 1.00; give it with --gamma to use it"
    ]
    assert read(tmp_path / "s.png")[0].findings == ()


@pytest.mark.parametrize("channels", [1, 3])
@pytest.mark.parametrize("progressive", [False, True])
def test_jpeg(tmp_path, channels, progressive):
    array = smooth(channels)
    image = Image.fromarray(array[..., 0] if channels == 1 else array)
    path = tmp_path / "a.jpg"
    profile = bytes(70_000) if channels == 3 else b"short"  # two segments, and one
    image.save(
        path, quality=98, dpi=(240, 240), icc_profile=profile, progressive=progressive
    )
    source, found = read(path)
    assert source.channels == channels
    assert source.resolution_ppi == (240, 240)
    assert source.profile == profile
    np.testing.assert_allclose(found.astype(int), array, atol=3)
    with Image.open(path) as outside:
        np.testing.assert_allclose(
            found.reshape(np.asarray(outside).shape).astype(int),
            np.asarray(outside).astype(int),
            atol=1,  # the two decoders round the colour conversion differently
        )


@pytest.mark.parametrize("orientation", range(1, 9))
def test_jpeg_orientation(tmp_path, orientation):
    image = Image.fromarray(smooth(1)[..., 0])
    exif = Image.Exif()
    exif[274] = orientation
    path = tmp_path / "a.jpg"
    image.save(path, quality=98, exif=exif)
    _, found = read(path)
    with Image.open(path) as outside:
        upright = np.asarray(ImageOps.exif_transpose(outside))
    np.testing.assert_array_equal(found[..., 0], upright)


def test_jpeg_resolution_from_exif_and_per_centimetre(tmp_path):
    image = Image.fromarray(smooth(1)[..., 0])
    exif = Image.Exif()
    exif[282], exif[283], exif[296] = 300.0, 600.0, 2
    exif[274] = 6
    exif[270] = "A hill"
    image.save(tmp_path / "e.jpg", exif=exif)
    content = (tmp_path / "e.jpg").read_bytes()
    source, _ = read(tmp_path / "e.jpg")
    assert source.description == "A hill"
    place = content.index(b"JFIF\0")
    for unit, expected in [(0, (600, 300)), (2, (254, 508))]:
        changed = bytearray(content)
        changed[place + 7 : place + 12] = struct.pack(">BHH", unit, 200, 100)
        (tmp_path / "c.jpg").write_bytes(changed)
        source, _ = read(tmp_path / "c.jpg")
        assert source.resolution_ppi == pytest.approx(expected)


def test_jpeg_without_any_resolution(tmp_path):
    (tmp_path / "n.jpg").write_bytes(imagecodecs.jpeg8_encode(smooth(1)[..., 0]))
    source, _ = read(tmp_path / "n.jpg")
    assert source.resolution_ppi is None
    assert source.profile is None


def test_the_kind_is_told_by_content_not_by_name(tmp_path):
    write_png(tmp_path / "a.tif", codes(1))
    _, found = read(tmp_path / "a.tif")
    np.testing.assert_array_equal(found, codes(1))


def test_our_own_files_are_recognised(tmp_path):
    for kind in ("negcurve target", "negcurve negative", "negcurve proof"):
        path = tmp_path / f"{kind}.tif"
        with GreyTiffWriter(
            path, width=4, height=1, resolution_ppi=360, description=f"{kind} 1234"
        ) as writer:
            writer.write(np.zeros((1, 4), np.uint16))
        with open_picture(path) as source:
            assert own_kind(source) == kind
    assert own_kind(MemoryPicture(name="a", array=codes(1))) == ""


@pytest.mark.parametrize(
    ("array", "message"),
    [
        (np.zeros((2, 2, 2), np.uint8), "has shape (2, 2, 2)"),
        (np.zeros((0, 2, 1), np.uint8), "has shape (0, 2, 1)"),
        (np.zeros((2, 2, 1), np.int32), "has samples of type int32"),
    ],
)
def test_a_picture_in_memory_is_checked(array, message):
    with pytest.raises(InvalidValueError) as caught:
        MemoryPicture(name="drawn", array=array)
    assert str(caught.value).startswith(f"drawn: {message}")


@pytest.mark.parametrize("kind", ["memory", "tiff", "float"])
@pytest.mark.parametrize(
    "window",
    [(-1, 0, 2, 2), (0, -1, 2, 2), (39, 0, 2, 2), (0, 29, 2, 2), (5, 5, -1, 2)],
)
def test_windows_outside_are_refused(tmp_path, kind, window):
    with source_of(tmp_path, kind) as source, pytest.raises(InvalidValueError) as error:
        source.window(*window)
    top, left, rows, columns = window
    assert str(error.value) == (
        f"{source.name}: rows {top}..{top + rows}, columns {left}..{left + columns} "
        "do not lie in a picture of 40 x 30"
    )


@pytest.mark.parametrize("kind", ["memory", "tiff", "float"])
def test_no_rows_are_an_empty_array(tmp_path, kind):
    with source_of(tmp_path, kind) as source:
        assert source.rows(7, 7).shape == (0, WIDTH, 3)
        with pytest.raises(InvalidValueError):
            source.rows(0, HEIGHT + 1)


def source_of(folder, kind):
    if kind == "memory":
        return MemoryPicture(name="drawn", array=codes(3))
    array = codes(3) if kind == "tiff" else (codes(3) / 255).astype(np.float32)
    tifffile.imwrite(folder / "a.tif", array, photometric="rgb", metadata=None)
    return open_picture(folder / "a.tif")


def picture(channels, *, profile=None, dtype=np.uint8):
    array = np.zeros((2, 2, channels), dtype)
    return MemoryPicture(name="scan.tif", array=array, profile=profile)


@pytest.mark.parametrize("channels", [1, 3])
@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
def test_without_profile_srgb_is_assumed_and_said(channels, dtype):
    source = picture(channels, dtype=dtype)
    encoding, findings = encoding_of(source)
    assert encoding is (SRGB if channels == 3 else SRGB_GREY)
    assert is_untagged(source)
    assert [str(each) for each in findings] == [
        "note: scan.tif: carries no ICC profile; sRGB is assumed. "
        "Give --profile or --gamma if it is something else."
    ]


def test_floating_point_without_profile_is_a_warning():
    _, findings = encoding_of(picture(3, dtype=np.float32))
    assert [each.severity for each in findings] == ["warning"]


def test_what_is_given_goes_before_what_is_embedded():
    half = np.full((1, 1), 0.5)
    source = picture(1, profile=grey(gamma(2.0)))
    assert not is_untagged(source)
    embedded, findings = encoding_of(source)
    assert findings == ()
    assert embedded.luminance(half)[0] == pytest.approx(0.25)
    given, findings = encoding_of(source, profile=grey(gamma(3.0)))
    assert findings == ()
    assert given.luminance(half)[0] == pytest.approx(0.125)
    typed, findings = encoding_of(source, gamma=1.0)
    assert findings == ()
    assert typed.luminance(half)[0] == pytest.approx(0.5)


def test_tables_are_honoured():
    encoding, _ = encoding_of(picture(3, profile=lut(9)))
    found = encoding.luminance(np.full((1, 3), 0.5))
    assert found[0] == pytest.approx(0.5**2.2, abs=1e-4)


def test_a_damaged_profile_names_the_file_that_carries_it():
    with pytest.raises(FileError, match=r"^scan\.tif: the ICC profile is damaged"):
        encoding_of(picture(3, profile=b"noise"))
    with pytest.raises(FileError, match=r"^profile: the ICC profile is damaged"):
        encoding_of(picture(3), profile=b"noise")


def test_profiles_are_read_from_files_and_pictures(tmp_path):
    profile = grey(gamma(2.2))
    (tmp_path / "a.icc").write_bytes(profile)
    assert read_profile(tmp_path / "a.icc") == profile
    tifffile.imwrite(tmp_path / "a.tif", codes(1)[..., 0], iccprofile=profile)
    assert read_profile(tmp_path / "a.tif") == profile
    (tmp_path / "a.txt").write_text("neither")
    with pytest.raises(FileError, match="is no ICC profile, nor a picture"):
        read_profile(tmp_path / "a.txt")
    with pytest.raises(FileError, match="does not exist"):
        read_profile(tmp_path / "none.icc")


@pytest.mark.parametrize(
    "array", [codes(1), codes(1)[..., 0], codes(3)], ids=["1", "flat", "3"]
)
def test_write_png(tmp_path, array):
    path = tmp_path / "a.png"
    write_png(path, array, resolution_ppi=300)
    with Image.open(path) as image:
        np.testing.assert_array_equal(
            np.asarray(image).reshape(HEIGHT, WIDTH, -1),
            array.reshape(HEIGHT, WIDTH, -1),
        )
        assert image.info["dpi"] == pytest.approx((300, 300), abs=0.0127)
    with pytest.raises(FileError, match="exists already"):
        write_png(path, array)
    write_png(path, array, overwrite=True)


@pytest.mark.parametrize(
    "array", [codes(2), codes(1, np.uint16), np.zeros((0, 3), np.uint8)]
)
def test_what_a_png_cannot_hold_is_refused(tmp_path, array):
    with pytest.raises(InvalidValueError, match="A PNG takes uint8"):
        write_png(tmp_path / "a.png", array)
    assert list(tmp_path.iterdir()) == []


def test_pillow_is_no_judge_of_sixteen_bit_colour(tmp_path):
    """Why 16-bit RGB is not read with Pillow: it drops to 8 bits without a word."""
    file = io.BytesIO(imagecodecs.png_encode(codes(3, np.uint16)))
    with Image.open(file) as image:
        assert np.asarray(image).dtype == np.uint8
