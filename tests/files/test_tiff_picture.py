"""Reading TIFF: every way of storing the same picture reads the same."""

import errno
import threading
import tracemalloc

import imagecodecs
import numpy as np
import pytest
import tifffile
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageOps

from negcurve.errors import FileError
from negcurve.files import tiff_blocks, tiff_spool
from negcurve.files.pictures import open_picture
from negcurve.files.samples import on_white
from negcurve.files.tiff_picture import TiffPicture
from tests.files.bad_files import small_tiff

HEIGHT, WIDTH = 75, 52


def pixels(channels=1, dtype=np.uint16, *, height=HEIGHT, width=WIDTH):
    """A smooth picture with noise, every code of its type possible."""
    rng = np.random.default_rng(20260101)
    ramp = np.linspace(0, 1, height * width * channels)
    noisy = np.clip(ramp + rng.normal(0, 0.05, ramp.size), 0, 1)
    noisy = noisy.reshape(height, width, channels)
    if np.dtype(dtype).kind == "f":
        return noisy.astype(dtype)
    return np.rint(noisy * np.iinfo(dtype).max).astype(dtype)


def save(path, array, **options):
    """Write with tifffile, a writer from outside the project."""
    squeezed = array[..., 0] if array.shape[-1] == 1 else array
    options.setdefault("photometric", "rgb" if array.shape[-1] >= 3 else "minisblack")
    tifffile.imwrite(path, squeezed, metadata=None, **options)
    return path


def read_all(path, **options):
    with TiffPicture(path, **options) as source:
        return source.rows(0, source.height)


@pytest.mark.parametrize("positional", [True, False])
@pytest.mark.parametrize(
    "options",
    [
        {},
        {"rowsperstrip": 7},
        {"compression": "lzw", "rowsperstrip": 16},
        {"compression": "lzw", "predictor": True},
        {"compression": "zlib", "rowsperstrip": 10, "predictor": True},
        {"compression": "deflate"},
        {"compression": "packbits", "rowsperstrip": 16},
        {"compression": "zstd", "rowsperstrip": 16, "predictor": True},
        {"tile": (32, 16)},
        {"tile": (16, 32), "compression": "lzw", "predictor": True},
        {"byteorder": ">"},
        {"byteorder": ">", "compression": "zlib", "predictor": True},
        {"bigtiff": True},
        {"bigtiff": True, "byteorder": ">", "tile": (16, 16)},
    ],
    ids=str,
)
@pytest.mark.parametrize(("channels", "dtype"), [(1, "u1"), (1, "u2"), (3, "u2")])
def test_every_layout_reads_the_same(tmp_path, options, channels, dtype, positional):
    array = pixels(channels, dtype)
    path = save(tmp_path / "a.tif", array, **options)
    with TiffPicture(path, positional=positional) as source:
        assert (source.height, source.width) == (HEIGHT, WIDTH)
        assert source.channels == channels
        assert source.dtype == array.dtype
        np.testing.assert_array_equal(source.rows(0, HEIGHT), array)
        np.testing.assert_array_equal(source.rows(30, 41), array[30:41])
        np.testing.assert_array_equal(source.window(13, 9, 20, 31), array[13:33, 9:40])
        assert source.findings == ()


@pytest.mark.parametrize("compression", [None, "lzw", "zlib"])
@pytest.mark.parametrize("tile", [None, (16, 16)])
def test_separate_planes(tmp_path, compression, tile):
    array = pixels(3)
    planes = np.moveaxis(array, 2, 0)
    path = tmp_path / "planes.tif"
    tifffile.imwrite(
        path,
        planes,
        photometric="rgb",
        planarconfig="separate",
        compression=compression,
        tile=tile,
        metadata=None,
    )
    np.testing.assert_array_equal(read_all(path), array)


@pytest.mark.parametrize("dtype", ["f2", "f4", "f8"])
@pytest.mark.parametrize("byteorder", ["<", ">"])
@pytest.mark.parametrize(
    "options", [{}, {"compression": "zlib", "predictor": 3}, {"compression": "lzw"}]
)
@pytest.mark.parametrize("channels", [1, 3])
def test_floating_point(tmp_path, dtype, byteorder, options, channels):
    array = pixels(channels, dtype)
    path = save(tmp_path / "f.tif", array, byteorder=byteorder, **options)
    found = read_all(path)
    assert found.dtype == np.float32
    np.testing.assert_array_equal(found, array.astype(np.float32))


def test_floating_point_a_little_outside_is_clipped_and_said(tmp_path):
    array = pixels(1, "f4")
    array[3, 4], array[5, 6] = -0.01, 1.2
    with TiffPicture(save(tmp_path / "f.tif", array)) as source:
        np.testing.assert_array_equal(source.rows(0, HEIGHT), np.clip(array, 0, 1))
        assert [str(each) for each in source.findings] == [
            "note: f.tif: floating-point samples outside 0..1 are clipped"
        ]


@pytest.mark.parametrize("bad", [np.nan, np.inf, 255.0, -3.0])
def test_floating_point_that_means_something_else_is_refused(tmp_path, bad):
    array = pixels(1, "f4")
    array[3, 4] = bad
    with (
        TiffPicture(save(tmp_path / "f.tif", array)) as source,
        pytest.raises(FileError, match="Save it with 16 bits"),
    ):
        source.rows(0, HEIGHT)


# Where stored row 0 and column 0 lie in the upright picture: TIFF 6.0 (1992), section
# 8, Orientation. Written out as numpy steps from upright to stored.
STORED = {
    1: lambda upright: upright,
    2: lambda upright: upright[:, ::-1],
    3: lambda upright: upright[::-1, ::-1],
    4: lambda upright: upright[::-1],
    5: lambda upright: upright.swapaxes(0, 1),
    6: lambda upright: upright[:, ::-1].swapaxes(0, 1),
    7: lambda upright: upright[::-1, ::-1].swapaxes(0, 1),
    8: lambda upright: upright[::-1].swapaxes(0, 1),
}


@pytest.mark.parametrize("orientation", sorted(STORED))
@pytest.mark.parametrize("spooled", [False, True])
@pytest.mark.parametrize("options", [{"rowsperstrip": 9}, {"compression": "lzw"}])
def test_orientation(tmp_path, monkeypatch, orientation, spooled, options):
    if spooled:
        monkeypatch.setattr(tiff_spool, "CACHE_BYTES", 1000)
        monkeypatch.setattr(tiff_spool, "LARGE_BLOCK_BYTES", 1000)
    array = pixels(3)
    stored = np.ascontiguousarray(STORED[orientation](array))
    path = save(
        tmp_path / "o.tif",
        stored,
        resolution=(300, 600),
        resolutionunit="inch",
        extratags=[(274, "H", 1, orientation, True)],
        **options,
    )
    with TiffPicture(path) as source:
        assert (source.height, source.width) == (HEIGHT, WIDTH)
        np.testing.assert_array_equal(source.rows(0, HEIGHT), array)
        np.testing.assert_array_equal(source.window(3, 5, 40, 21), array[3:43, 5:26])
        turned = orientation >= 5
        assert source.resolution_ppi == ((600, 300) if turned else (300, 600))


def test_orientation_six_is_what_pillow_turns(tmp_path):
    # Pillow 13 turns deflated files right (its own decoder scrambles plain ones).
    array = pixels(1, "u1")
    path = save(
        tmp_path / "o.tif",
        array,
        compression="zlib",
        extratags=[(274, "H", 1, 6, True)],
    )
    with Image.open(path) as image:
        upright = np.asarray(ImageOps.exif_transpose(image))
    np.testing.assert_array_equal(read_all(path)[..., 0], upright)


@pytest.mark.parametrize("dtype", ["u1", "u2", "f4"])
@pytest.mark.parametrize("compression", [None, "lzw"])
def test_white_is_zero_is_inverted(tmp_path, dtype, compression):
    array = pixels(1, dtype)
    largest = 1.0 if dtype == "f4" else np.iinfo(dtype).max
    path = save(
        tmp_path / "w.tif",
        (largest - array).astype(dtype),
        photometric="miniswhite",
        compression=compression,
    )
    np.testing.assert_allclose(read_all(path), array, atol=1e-7 * largest)


def test_unassociated_alpha_is_laid_on_white(tmp_path):
    array = pixels(4, "u2")
    array[..., 3] = 65535
    array[10:20, :, 3] = 0
    array[20:30, :, 3] = 32768
    path = save(tmp_path / "a.tif", array, extrasamples=["unassalpha"])
    with TiffPicture(path) as source:
        found = source.rows(0, HEIGHT)
        said = [str(each) for each in source.findings]
    np.testing.assert_array_equal(found[:10], array[:10, :, :3])
    np.testing.assert_array_equal(found[10:20], 65535)
    share = 32768 / 65535
    expected = np.rint(array[20:30, :, :3] * share + 65535 * (1 - share))
    np.testing.assert_array_equal(found[20:30], expected)
    assert said == ["note: a.tif: transparent parts are laid on white"]


def test_associated_alpha_is_laid_on_white(tmp_path):
    array = np.full((8, 8, 2), 100, np.uint8)
    array[..., 1] = 155
    path = tmp_path / "a.tif"
    tifffile.imwrite(
        path,
        array,
        photometric="minisblack",
        extrasamples=["assocalpha"],
        planarconfig="contig",
        metadata=None,
    )
    np.testing.assert_array_equal(read_all(path), 200)


def test_further_channels_are_left_out_and_said(tmp_path):
    array = pixels(5, "u1")
    path = save(tmp_path / "x.tif", array, extrasamples=["unspecified", "unspecified"])
    with TiffPicture(path) as source:
        np.testing.assert_array_equal(source.rows(0, HEIGHT), array[..., :3])
        assert [each.what for each in source.findings] == ["2 extra channels left out"]


def palette_file(path, palette, indices):
    tifffile.imwrite(
        path, indices, photometric="palette", colormap=palette, metadata=None
    )
    return path


def test_palettes(tmp_path):
    indices = pixels(1, "u1")[..., 0]
    rng = np.random.default_rng(5)
    wide = rng.integers(0, 65536, (3, 256), dtype=np.uint16)
    found = read_all(palette_file(tmp_path / "w.tif", wide, indices))
    np.testing.assert_array_equal(found, wide.T[indices])
    narrow = (wide // 257).astype(np.uint16)
    for stored in (narrow, narrow * 257, narrow << 8):
        found = read_all(palette_file(tmp_path / "n.tif", stored, indices))
        assert found.dtype == np.uint8
        np.testing.assert_array_equal(found, narrow.T[indices])
    grey = np.broadcast_to(narrow[:1], (3, 256)).copy()
    found = read_all(palette_file(tmp_path / "g.tif", grey * np.uint16(257), indices))
    np.testing.assert_array_equal(found[..., 0], grey[0][indices])
    assert found.shape[2] == 1


@pytest.mark.parametrize("photometric", ["ycbcr", "rgb", "minisblack"])
@pytest.mark.parametrize("options", [{"tile": (32, 32)}, {"rowsperstrip": 16}])
def test_jpeg_within_tiff(tmp_path, photometric, options):
    ramp = np.linspace(20, 230, HEIGHT * WIDTH).reshape(HEIGHT, WIDTH, 1)
    channels = 1 if photometric == "minisblack" else 3
    array = np.repeat(ramp, channels, axis=2).astype(np.uint8)
    path = save(
        tmp_path / "j.tif",
        array,
        photometric="rgb" if channels == 3 else "minisblack",
        compression="jpeg",
        compressionargs={
            "level": 98,
            "outcolorspace": photometric if channels == 3 else None,
        },
        **options,
    )
    # A picture without detail: JPEG at this quality moves no code by more than 3.
    np.testing.assert_allclose(read_all(path).astype(int), array, atol=3)


def test_thumbnails_are_skipped_and_said(tmp_path):
    array, small = pixels(1), pixels(1, height=10, width=7)
    for flag in (1, 0):
        path = tmp_path / f"thumb{flag}.tif"
        with tifffile.TiffWriter(path) as writer:
            writer.write(small[..., 0], subfiletype=flag, metadata=None)
            writer.write(array[..., 0], metadata=None)
        with TiffPicture(path) as source:
            np.testing.assert_array_equal(source.rows(0, HEIGHT), array)
            assert [each.what for each in source.findings] == [
                "holds 2 pages, page 2 is read"
            ]


def test_the_first_of_equal_pages_is_read(tmp_path):
    array = pixels(1)
    path = tmp_path / "pages.tif"
    with tifffile.TiffWriter(path) as writer:
        for page in (array, 65535 - array, array):
            writer.write(page[..., 0], metadata=None)
    with TiffPicture(path) as source:
        np.testing.assert_array_equal(source.rows(0, HEIGHT), array)
        assert source.findings[0].what == "holds 3 pages, page 1 is read"


@pytest.mark.parametrize(
    ("options", "expected"),
    [
        ({"resolution": (1440, 720), "resolutionunit": "inch"}, (1440, 720)),
        ({"resolution": (100, 200), "resolutionunit": "centimeter"}, (254, 508)),
        ({"resolution": (300, 300), "resolutionunit": "none"}, None),
        ({}, None),
    ],
)
def test_resolution(tmp_path, options, expected):
    path = save(tmp_path / "r.tif", pixels(1), **options)
    with TiffPicture(path) as source:
        assert source.resolution_ppi == expected


def test_description_and_profile_are_handed_on(tmp_path):
    profile = bytes(imagecodecs.cms_profile("gray", gamma=1.8))
    path = save(tmp_path / "d.tif", pixels(1), description="A hill", iccprofile=profile)
    with open_picture(path) as source:
        assert source.description == "A hill"
        assert source.profile == profile
        assert source.name == "d.tif"


@pytest.mark.parametrize("compression", ["zlib", "lzw"])
@pytest.mark.parametrize("dtype", ["u2", "f4"])
def test_one_huge_strip_is_laid_out_anew(tmp_path, monkeypatch, compression, dtype):
    monkeypatch.setattr(tiff_spool, "LARGE_BLOCK_BYTES", 1000)
    monkeypatch.setattr(tiff_spool, "_PIECE_BYTES", 100)
    array = pixels(3, dtype, height=600, width=300)
    predictor = 3 if dtype == "f4" else 2
    path = save(
        tmp_path / "s.tif",
        array,
        compression=compression,
        predictor=predictor,
        rowsperstrip=600,
        byteorder=">",
    )
    for positional in (True, False):
        with TiffPicture(path, positional=positional) as source:
            np.testing.assert_array_equal(
                source.window(250, 3, 20, 280), array[250:270, 3:283]
            )
            np.testing.assert_array_equal(source.rows(0, 600), array)


@pytest.mark.parametrize(
    ("orientation", "options", "anew"),
    [
        (1, {"rowsperstrip": 9}, False),
        (6, {"rowsperstrip": 9}, True),
        (6, {"tile": (16, 16)}, False),
        (1, {"rowsperstrip": 75, "compression": "zlib"}, True),
        (1, {"rowsperstrip": 75}, False),
    ],
)
def test_only_awkward_pages_are_laid_out_anew(
    tmp_path, monkeypatch, orientation, options, anew
):
    monkeypatch.setattr(tiff_spool, "CACHE_BYTES", 1000)
    monkeypatch.setattr(tiff_spool, "LARGE_BLOCK_BYTES", 1000)
    path = save(
        tmp_path / "o.tif",
        pixels(1),
        extratags=[(274, "H", 1, orientation, True)],
        **options,
    )
    with TiffPicture(path) as source:
        source.rows(0, 1)
        assert isinstance(source._file, tiff_spool.TemporaryBlocks) == anew


def test_a_huge_deflated_strip_is_never_held_whole(tmp_path, monkeypatch):
    monkeypatch.setattr(tiff_spool, "LARGE_BLOCK_BYTES", 1000)
    monkeypatch.setattr(tiff_spool, "_PIECE_BYTES", 2**16)
    array = np.zeros((4000, 2000), np.uint16)
    path = save(
        tmp_path / "h.tif",
        array[..., np.newaxis],
        compression="zlib",
        rowsperstrip=4000,
    )
    tracemalloc.start()
    try:
        with TiffPicture(path) as source:
            source.rows(2000, 2010)
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < array.nbytes / 2


def test_one_piece_that_memory_cannot_hold(tmp_path, monkeypatch):
    monkeypatch.setattr(tiff_blocks, "LARGEST_BLOCK_BYTES", 1000)
    path = save(tmp_path / "h.tif", pixels(1), compression="lzw", rowsperstrip=75)
    with TiffPicture(path) as source, pytest.raises(FileError) as caught:
        source.rows(0, 1)
    assert str(caught.value) == (
        "h.tif: is packed in one piece of 0 MB\n"
        "Save it without compression, or in strips or tiles."
    )


def test_a_page_too_large_to_be_laid_out_anew(tmp_path, monkeypatch):
    monkeypatch.setattr(tiff_spool, "CACHE_BYTES", 1000)
    monkeypatch.setattr(tiff_spool, "LARGEST_BYTES", 100_000)
    path = save(tmp_path / "h.tif", pixels(1), extratags=[(274, "H", 1, 6, True)])
    with TiffPicture(path) as source, pytest.raises(FileError) as caught:
        source.rows(0, 1)
    assert str(caught.value) == (
        "h.tif: is too large (52 x 75 pixels) to be turned or unpacked on the way\n"
        "Save it upright, without compression or in strips or tiles."
    )


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
def test_alpha_in_whole_numbers_is_the_exact_mixture_rounded(dtype):
    largest = np.iinfo(dtype).max
    rng = np.random.default_rng(6)
    colours = rng.integers(0, largest + 1, (300, 300, 1)).astype(dtype)
    alpha = rng.integers(0, largest + 1, (300, 300)).astype(dtype)
    colours[0], alpha[0] = largest, largest
    colours[1], alpha[1] = 0, 0
    found = on_white(colours, alpha, premultiplied=False)
    share = alpha[..., np.newaxis] / largest
    exact = np.rint(colours * share + largest * (1 - share))
    np.testing.assert_array_equal(found, exact)
    over = on_white(colours, alpha, premultiplied=True)
    exact = np.minimum(colours + (largest - alpha.astype(int))[..., None], largest)
    np.testing.assert_array_equal(over, exact)


def test_a_temporary_folder_that_is_full(tmp_path, monkeypatch):
    monkeypatch.setattr(tiff_spool, "LARGE_BLOCK_BYTES", 1000)

    def full(spool, band, across):
        raise OSError(errno.ENOSPC, "no space")

    monkeypatch.setattr(tiff_spool, "_write_tiles", full)
    path = save(tmp_path / "h.tif", pixels(1), compression="zlib", rowsperstrip=75)
    with (
        TiffPicture(path) as source,
        pytest.raises(FileError, match=r"temporary folder .*the disk is full"),
    ):
        source.rows(0, 1)


def test_a_last_strip_filled_up_is_read(tmp_path):
    array = pixels(1, "u1", height=20, width=16)
    path = tmp_path / "full.tif"
    strips = [
        imagecodecs.zlib_encode(array[:16].tobytes()),
        imagecodecs.zlib_encode(array[16:].tobytes() + bytes(12 * 16)),
    ]
    path.write_bytes(small_tiff(20, 16, strips, rows_per_strip=16, compression=8))
    np.testing.assert_array_equal(read_all(path), array)


def test_fill_order_two_is_read(tmp_path):
    array = pixels(1, "u1", height=4, width=6)
    reversed_bits = imagecodecs.bitorder_encode(array.tobytes())
    path = tmp_path / "bits.tif"
    path.write_bytes(
        small_tiff(
            4, 6, [bytes(reversed_bits)], rows_per_strip=4, extra=[(266, 3, [2])]
        )
    )
    np.testing.assert_array_equal(read_all(path), array)


def test_threads_read_the_same(tmp_path):
    array = pixels(1, "u2", height=400, width=200)
    path = save(tmp_path / "t.tif", array, compression="lzw", rowsperstrip=16)
    for positional in (True, False):
        with TiffPicture(path, positional=positional) as source:
            wrong = []

            def check(source=source, wrong=wrong):
                for top in range(0, 390, 7):
                    part = source.rows(top, top + 10)
                    if not np.array_equal(part, array[top : top + 10]):
                        wrong.append(top)

            threads = [threading.Thread(target=check) for _ in range(4)]
            for thread in threads:
                thread.start()
            for thread in threads:
                thread.join()
            assert wrong == []


def test_the_cache_keeps_within_its_limit(tmp_path, monkeypatch):
    monkeypatch.setattr(tiff_blocks, "CACHE_BYTES", 10_000)
    array = pixels(1, "u2", height=400, width=100)
    path = save(tmp_path / "c.tif", array, compression="lzw", rowsperstrip=10)
    with TiffPicture(path) as source:
        for top in range(0, 400, 50):
            source.rows(top, top + 50)
        reader = source._reader
        assert sum(each.nbytes for each in reader._cache.values()) == reader._kept
        assert reader._kept <= 10_000


@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_windows_equal_the_whole(tmp_path_factory, data):
    folder = tmp_path_factory.mktemp("w")
    height, width = data.draw(st.integers(1, 60)), data.draw(st.integers(1, 60))
    channels = data.draw(st.sampled_from([1, 3]))
    array = pixels(
        channels, data.draw(st.sampled_from(["u1", "u2"])), height=height, width=width
    )
    orientation = data.draw(st.integers(1, 8))
    options = data.draw(st.sampled_from([{}, {"rowsperstrip": 5}, {"tile": (16, 32)}]))
    stored = np.ascontiguousarray(STORED[orientation](array))
    path = save(
        folder / "w.tif",
        stored,
        compression=data.draw(st.sampled_from([None, "lzw", "zlib"])),
        extratags=[(274, "H", 1, orientation, True)],
        **options,
    )
    top, left = (data.draw(st.integers(0, size - 1)) for size in (height, width))
    rows = data.draw(st.integers(1, height - top))
    columns = data.draw(st.integers(1, width - left))
    with TiffPicture(path) as source:
        np.testing.assert_array_equal(
            source.window(top, left, rows, columns),
            array[top : top + rows, left : left + columns],
        )
