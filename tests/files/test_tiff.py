"""Writing TIFF: what outside readers find in it is what was given."""

import struct
import subprocess
import sys
import textwrap

import imagecodecs
import numpy as np
import pytest
import tifffile
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from negcurve.errors import FileError, InvalidValueError
from negcurve.files import tiff
from negcurve.files.tiff import GreyTiffWriter
from negcurve.files.tiff_picture import TiffPicture

COMPRESSIONS = ("none", "lzw", "deflate")


def noise(height, width, channels=1, bits=16, seed=1):
    rng = np.random.default_rng(seed)
    codes = rng.integers(0, 2**bits, (height, width, channels))
    return codes.astype(np.uint8 if bits == 8 else np.uint16)


def write(path, array, *, step=13, **options):
    height, width, channels = array.shape
    options = {"resolution_ppi": 360, "description": "", **options}
    with GreyTiffWriter(
        path,
        width=width,
        height=height,
        channels=channels,
        bits=array.dtype.itemsize * 8,
        **options,
    ) as writer:
        for top in range(0, height, step):
            writer.write(array[top : top + step])
    return path


def read_back(path):
    with TiffPicture(path) as source:
        return source.rows(0, source.height)


@pytest.mark.parametrize("compression", COMPRESSIONS)
@pytest.mark.parametrize("channels", [1, 3])
@pytest.mark.parametrize("bits", [8, 16])
@pytest.mark.parametrize("strip_bytes", [100, 2**21])
def test_what_readers_find(
    tmp_path, monkeypatch, compression, channels, bits, strip_bytes
):
    monkeypatch.setattr(tiff, "STRIP_BYTES", strip_bytes)
    array = noise(57, 31, channels, bits)
    path = write(tmp_path / "a.tif", array, compression=compression)
    np.testing.assert_array_equal(tifffile.imread(path).reshape(array.shape), array)
    np.testing.assert_array_equal(read_back(path), array)
    if bits == 8 or channels == 1:  # Pillow reads 16-bit RGB as 8-bit
        with Image.open(path) as image:
            assert image.info["dpi"] == (360.0, 360.0)
            np.testing.assert_array_equal(np.asarray(image).reshape(array.shape), array)


def test_tags(tmp_path):
    profile = bytes(imagecodecs.cms_profile("gray", gamma=2.2))
    path = write(
        tmp_path / "a.tif",
        noise(9, 7),
        resolution_ppi=(720, 362.5),
        description="negcurve negative",
        compression="deflate",
        profile=profile,
    )
    with tifffile.TiffFile(path) as opened:
        page = opened.pages[0]
        tags = {tag.name: tag.value for tag in page.tags.values()}
    assert tags["XResolution"] == (720, 1)
    assert tags["YResolution"] == (725, 2)
    assert tags["ResolutionUnit"] == 2
    assert tags["ImageDescription"] == "negcurve negative"
    assert tags["Software"].startswith("negcurve ")
    assert tags["PhotometricInterpretation"] == 1
    assert tags["Compression"] == 8  # Adobe deflate, not the obsolete 32946
    assert tags["Predictor"] == 2
    assert tags["InterColorProfile"] == profile
    assert "DateTime" not in tags


def test_the_first_directory_as_the_standard_asks(tmp_path):
    # TIFF 6.0 (1992), section 2: it begins on a word boundary, tags ascend.
    for width in (7, 8):
        path = tmp_path / f"{width}.tif"
        write(path, noise(5, width, bits=8), description="out of order when packed")
        content = path.read_bytes()
        magic, version, place = struct.unpack_from("<2sHI", content)
        assert (magic, version) == (b"II", 42)
        assert place % 2 == 0
        (count,) = struct.unpack_from("<H", content, place)
        numbers = [
            struct.unpack_from("<H", content, place + 2 + 12 * each)[0]
            for each in range(count)
        ]
        assert numbers == sorted(set(numbers))
        # The ten that grey and RGB images must have, sections 4 and 6.
        required = {256, 257, 259, 262, 273, 277, 278, 279, 282, 283, 296}
        assert required <= set(numbers)


def test_big_tiff_when_the_raw_size_needs_it(tmp_path, monkeypatch):
    monkeypatch.setattr(tiff, "CLASSIC_LIMIT", 1000)
    array = noise(57, 31)
    for compression in COMPRESSIONS:
        path = write(tmp_path / f"{compression}.tif", array, compression=compression)
        assert path.read_bytes()[:4] == b"II+\0"
        np.testing.assert_array_equal(tifffile.imread(path), array[..., 0])
        np.testing.assert_array_equal(read_back(path), array)


@pytest.mark.parametrize(
    ("width", "height", "compression", "expected"),
    [
        (40_000, 53_600, "none", False),
        (40_000, 53_700, "none", True),
        (40_000, 40_000, "lzw", True),  # LZW can make noise larger
        (40_000, 30_000, "lzw", False),
    ],
)
def test_the_limit_of_classic_tiff(width, height, compression, expected):
    writer = GreyTiffWriter(
        "unused.tif",
        width=width,
        height=height,
        resolution_ppi=720,
        description="",
        compression=compression,
    )
    assert writer._big == expected


def test_the_same_file_for_any_number_of_threads(tmp_path, monkeypatch):
    monkeypatch.setattr(tiff, "STRIP_BYTES", 500)
    array = noise(200, 31)
    contents = [
        write(
            tmp_path / f"{workers}{step}.tif",
            array,
            compression="deflate",
            workers=workers,
            step=step,
        ).read_bytes()
        for workers, step in [(1, 200), (3, 7), (2, 1)]
    ]
    assert contents[0] == contents[1] == contents[2]


@settings(max_examples=40, deadline=None)
@given(
    height=st.integers(1, 40),
    width=st.integers(1, 40),
    channels=st.sampled_from([1, 3]),
    bits=st.sampled_from([8, 16]),
    compression=st.sampled_from(COMPRESSIONS),
    step=st.integers(1, 50),
    flat=st.booleans(),
)
def test_round_trip(
    tmp_path_factory, height, width, channels, bits, compression, step, flat
):
    array = noise(height, width, channels, bits, seed=height * width)
    if flat:
        array[:] = array[0, 0]
    path = tmp_path_factory.mktemp("t") / "a.tif"
    write(path, array, compression=compression, step=step)
    np.testing.assert_array_equal(read_back(path), array)


def test_the_caller_may_use_its_array_again(tmp_path):
    array = noise(40, 20)
    buffer = np.empty((10, 20), np.uint16)
    path = tmp_path / "a.tif"
    with GreyTiffWriter(
        path,
        width=20,
        height=40,
        resolution_ppi=360,
        description="",
        compression="lzw",
    ) as writer:
        for top in range(0, 40, 10):
            buffer[:] = array[top : top + 10, :, 0]
            writer.write(buffer)
            buffer[:] = 0
    np.testing.assert_array_equal(read_back(path), array)


def writer(path, **changes):
    options = {
        "width": 4,
        "height": 3,
        "resolution_ppi": 360,
        "description": "",
        **changes,
    }
    return GreyTiffWriter(path, **options)


@pytest.mark.parametrize(
    ("rows", "message"),
    [
        (np.zeros((1, 5), np.uint16), "rows: have shape (1, 5), the image is 4 pixels"),
        (np.zeros((1, 4, 3), np.uint16), "rows: have shape (1, 4, 3)"),
        (np.zeros(4, np.uint16), "rows: have shape (4,)"),
        (np.zeros((1, 4), np.uint8), "rows: have type uint8, the image uint16"),
        (np.zeros((4, 4), np.uint16), "rows: reach beyond the height of 3"),
    ],
)
def test_wrong_rows_are_refused_and_leave_nothing(tmp_path, rows, message):
    def fail():
        with writer(tmp_path / "a.tif") as opened:
            opened.write(rows)

    with pytest.raises(InvalidValueError) as caught:
        fail()
    assert str(caught.value).startswith(message)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "changes",
    [
        {"width": 0},
        {"height": -1},
        {"bits": 12},
        {"channels": 2},
        {"compression": "zip"},
        {"resolution_ppi": 0},
        {"resolution_ppi": float("nan")},
        {"resolution_ppi": (360, -1)},
    ],
)
def test_what_cannot_be_written_is_refused(tmp_path, changes):
    with pytest.raises(InvalidValueError):
        writer(tmp_path / "a.tif", **changes)


@pytest.mark.parametrize("compression", COMPRESSIONS)
def test_missing_rows_leave_nothing(tmp_path, compression):
    path = tmp_path / "a.tif"

    def stop_early():
        with writer(path, compression=compression) as opened:
            opened.write(np.zeros((2, 4), np.uint16))

    with pytest.raises(InvalidValueError, match="2 of 3 rows were written"):
        stop_early()
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("compression", COMPRESSIONS)
@pytest.mark.parametrize("error", [KeyboardInterrupt, ValueError])
def test_an_error_half_way_leaves_nothing(tmp_path, compression, error):
    path = tmp_path / "a.tif"
    path.write_text("precious")

    def fail():
        with writer(path, compression=compression, overwrite=True) as opened:
            opened.write(np.zeros((2, 4), np.uint16))
            raise error

    with pytest.raises(error):
        fail()
    assert [each.name for each in tmp_path.iterdir()] == ["a.tif"]
    assert path.read_text() == "precious"


@pytest.mark.skipif(sys.platform == "win32", reason="needs limits of Unix")
@pytest.mark.parametrize("compression", COMPRESSIONS)
def test_a_disk_that_takes_no_more_leaves_nothing(tmp_path, compression):
    script = """
        import resource, sys
        import numpy as np
        from negcurve.errors import FileError
        from negcurve.files.tiff import GreyTiffWriter
        resource.setrlimit(resource.RLIMIT_FSIZE, (50_000, 50_000))
        noise = np.random.default_rng(1).integers(0, 65536, (400, 400))
        try:
            with GreyTiffWriter(
                sys.argv[1], width=400, height=400, resolution_ppi=360,
                description="", compression=sys.argv[2],
            ) as writer:
                writer.write(noise.astype(np.uint16))
        except FileError as error:
            print(error)
    """
    path = tmp_path / "a.tif"
    done = subprocess.run(
        [sys.executable, "-c", textwrap.dedent(script), str(path), compression],
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout == f"{path}: is too large for this disk\nChoose another disk.\n"
    assert list(tmp_path.iterdir()) == []


def test_an_existing_file_is_kept(tmp_path):
    path = write(tmp_path / "a.tif", noise(3, 4))
    before = path.read_bytes()
    with pytest.raises(FileError, match="exists already"):
        write(path, noise(3, 4, seed=2))
    assert path.read_bytes() == before
    write(path, noise(3, 4, seed=2), overwrite=True)
    assert path.read_bytes() != before


def test_a_description_beyond_ascii(tmp_path):
    path = write(tmp_path / "a.tif", noise(3, 4), description="Zürich \N{BULLET} 1")
    with TiffPicture(path) as source:
        assert source.description == "Zürich \N{BULLET} 1"


@pytest.mark.parametrize("positional", [True, False])
@pytest.mark.parametrize("channels", [1, 3])
def test_rows_in_any_order_give_the_same_file(tmp_path, positional, channels):
    array = noise(100, 37, channels)
    one = write(tmp_path / "one.tif", array)
    other = tmp_path / "other.tif"
    with GreyTiffWriter(
        other,
        width=37,
        height=100,
        channels=channels,
        resolution_ppi=360,
        description="",
        positional=positional,
    ) as placed:
        assert placed.in_any_order
        for top in (90, 0, 60, 30):
            placed.write_at(top, array[top : top + (10 if top == 90 else 30)])
    assert other.read_bytes() == one.read_bytes()


@pytest.mark.parametrize("top", [-1, 19])
def test_rows_outside_the_image_are_refused(tmp_path, top):
    with (
        pytest.raises(InvalidValueError, match="beyond the height of 20"),
        writer(tmp_path / "a.tif", width=5, height=20) as placed,
    ):
        placed.write_at(top, np.zeros((2, 5), np.uint16))
    assert list(tmp_path.iterdir()) == []


def test_compressed_rows_come_in_order(tmp_path):
    with (
        pytest.raises(InvalidValueError, match="from top to bottom"),
        writer(tmp_path / "a.tif", compression="lzw") as placed,
    ):
        placed.write_at(0, np.zeros((1, 5), np.uint16))
