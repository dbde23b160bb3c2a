"""Unusual files read the same as the plain one; bad ones end in one clear sentence.

What single formats do stands in `tests/files`; here whole scans go through `read_scan`
and the command line.
"""

import os
import subprocess
import sys

import imagecodecs
import numpy as np
import pytest
import tifffile
from PIL import Image

import negcurve
from negcurve.errors import FileError, NegcurveError, ReadingsError
from negcurve.files.layout_json import write_layout
from negcurve.tasks.read import read
from negcurve.tasks.read_options import ReadOptions
from tests.files.bad_files import BAD_TIFF
from tests.reading.prints import scan_of, small_layout

LAYOUT = small_layout()
PPI = 150
GAMMA = 2.2

PROGRAM = "import sys; from negcurve.cli import main; sys.exit(main())"

MOST_BYTES = 2_000_000_000
MOST_SECONDS = 20
"""What a bad file may cost, promised for every one."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A folder with the layout, and one without it beside the scans."""
    made = tmp_path_factory.mktemp("bad-input")
    (made / "target").mkdir()
    write_layout(LAYOUT, made / "target" / "t.layout.json")
    return made


@pytest.fixture(scope="module")
def codes():
    """One print in colour with 16 bits, shape (rows, columns, 3)."""
    source, _ = scan_of(
        LAYOUT, ppi=PPI, tilt_degrees=1.5, noise=0.002, scan_gamma=GAMMA
    )
    tint = np.array([1.0, 0.97, 0.9])
    return np.rint(source.codes * tint).astype(np.uint16)


def reading(folder, path):
    """Read a file; return densities and the marks' places in the upright scan."""
    options = ReadOptions(
        inputs=[path], target=folder / "target" / "t.layout.json", gamma=GAMMA
    )
    result = read(options)
    corners = result.scans[0].corners
    marks = np.array([(corners[each].x, corners[each].y) for each in range(4)])
    return result.readings.density, marks


def plain_tiff(path, array, **options):
    usual = {
        "resolution": (PPI, PPI),
        "resolutionunit": "INCH",
        "metadata": None,
        "photometric": "rgb" if array.shape[-1] >= 3 else "minisblack",
    }
    if array.shape[-1] == 1:
        array = array[..., 0]
    tifffile.imwrite(path, array, **{**usual, **options})
    return path


def to_8_bits(codes):
    return np.rint(codes / 257).astype(np.uint8)


@pytest.fixture(scope="module")
def plain(folder, codes):
    """Readings of plain files: 16-bit colour, 8-bit colour, 16-bit grey, JPEG."""
    arrays = {"colour": codes, "8 bits": to_8_bits(codes), "grey": codes[..., :1]}
    found = {
        name: reading(folder, plain_tiff(folder / f"plain {name}.tif", array))
        for name, array in arrays.items()
    }
    jpeg(folder / "plain.jpg", codes)
    return {**found, "jpeg": reading(folder, folder / "plain.jpg")}


def tiff(**options):
    return lambda path, codes: plain_tiff(path, codes, **options)


def separate(path, codes):
    planes = np.ascontiguousarray(np.moveaxis(codes, 2, 0))
    resolution = {"resolution": (PPI, PPI), "resolutionunit": "INCH"}
    tifffile.imwrite(
        path,
        planes,
        photometric="rgb",
        planarconfig="separate",
        metadata=None,
        **resolution,
    )


def with_alpha(path, codes):
    alpha = np.full((*codes.shape[:2], 1), 65535, np.uint16)
    plain_tiff(path, np.dstack([codes, alpha]), extrasamples=["unassalpha"])


def with_thumbnail(path, codes, *, first):
    small = codes[::8, ::8]
    pages = [(small, 1), (codes, 0)] if first else [(codes, 0), (small, 1)]
    with tifffile.TiffWriter(path) as writer:
        for page, kind in pages:
            writer.write(
                page,
                photometric="rgb",
                subfiletype=kind,
                resolution=(PPI, PPI),
                resolutionunit="INCH",
                metadata=None,
            )


def white_is_zero(path, codes):
    plain_tiff(path, 65535 - codes[..., :1], photometric="miniswhite")


def floating(path, codes):
    plain_tiff(path, (codes / 65535).astype(np.float32))


def png(path, codes, *, eight=False, **options):
    array = to_8_bits(codes) if eight else codes
    path.write_bytes(imagecodecs.png_encode(array, **options))


def palette_png(path, codes):
    grey = Image.fromarray(to_8_bits(codes[..., 0]))
    grey.convert("P").save(path, "png", dpi=(PPI, PPI))


def jpeg(path, codes, **options):
    picture = Image.fromarray(to_8_bits(codes))
    usual = {"quality": 98, "subsampling": 0, "dpi": (PPI, PPI)}
    picture.save(path, "jpeg", **usual, **options)


UNUSUAL = {
    "tiles": ("colour", tiff(tile=(64, 48))),
    "LZW": ("colour", tiff(compression="lzw", predictor=True)),
    "deflate in tiles": ("colour", tiff(compression="zlib", tile=(128, 128))),
    "ZSTD": ("colour", tiff(compression="zstd")),
    "separate planes": ("colour", separate),
    "big-endian": ("colour", tiff(byteorder=">")),
    "BigTIFF": ("colour", tiff(bigtiff=True)),
    "one strip": ("colour", tiff(rowsperstrip=10_000)),
    "alpha": ("colour", with_alpha),
    "thumbnail first": (
        "colour",
        lambda path, codes: with_thumbnail(path, codes, first=True),
    ),
    "thumbnail last": (
        "colour",
        lambda path, codes: with_thumbnail(path, codes, first=False),
    ),
    "per centimetre": (
        "colour",
        tiff(resolution=(PPI / 2.54, PPI / 2.54), resolutionunit="CENTIMETER"),
    ),
    "no resolution": ("colour", tiff(resolution=(1, 1), resolutionunit="NONE")),
    "floating point": ("colour", floating),
    "MinIsWhite": ("grey", white_is_zero),
    "PNG of 16 bits": ("colour", png),
    "PNG of 8 bits": ("8 bits", lambda path, codes: png(path, codes, eight=True)),
    "palette": ("8 bits", palette_png),
    "progressive JPEG": (
        "jpeg",
        lambda path, codes: jpeg(path, codes, progressive=True),
    ),
}


@pytest.mark.parametrize("name", UNUSUAL)
def test_unusual_files_read_as_the_plain_one(folder, plain, codes, name):
    kind, write = UNUSUAL[name]
    path = folder / f"{name}.tif"  # told by content, not by name
    write(path, codes)
    density, marks = reading(folder, path)
    wanted, places = plain[kind]
    if name == "palette":
        wanted = plain["grey"][0]
    np.testing.assert_allclose(density, wanted, atol=0.002)
    np.testing.assert_allclose(marks, places, atol=0.05)
    path.unlink()


# TIFF 6.0 (1992), section 8: where stored row 0 and column 0 lie in the upright
# picture, as numpy steps from upright to stored.
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


@pytest.mark.parametrize(
    ("kind", "orientation"),
    [*(("tiff", each) for each in STORED), ("jpeg", 2), ("jpeg", 6), ("jpeg", 7)],
)
def test_every_orientation_reads_upright(folder, plain, codes, kind, orientation):
    stored = np.ascontiguousarray(STORED[orientation](codes))
    path = folder / f"turned.{kind}.tif"
    if kind == "tiff":
        plain_tiff(path, stored, extratags=[(274, "H", 1, orientation, True)])
    else:
        exif = Image.Exif()
        exif[274] = orientation
        jpeg(path, stored, exif=exif)
    density, marks = reading(folder, path)
    wanted, places = plain["colour" if kind == "tiff" else "jpeg"]
    np.testing.assert_allclose(density, wanted, atol=0.002)
    np.testing.assert_allclose(marks, places, atol=0.05)


def test_a_good_jpeg_loses_little(plain):
    # What its coarse colours lose in the blacks; no reader can bring it back.
    np.testing.assert_allclose(plain["jpeg"][0], plain["8 bits"][0], atol=0.006)


def refusal(folder, path):
    """Read what must be refused; return the error, which says where and what to do."""
    with pytest.raises(NegcurveError) as caught:
        negcurve.read_scan(path, target=folder / "target" / "t.layout.json", gamma=2.2)
    error = caught.value
    assert error.where
    assert error.fix
    assert "\n" not in error.what
    return error


@pytest.mark.parametrize("name", BAD_TIFF)
def test_files_that_are_no_good_pictures(folder, name):
    path = folder / "bad.tif"
    path.write_bytes(BAD_TIFF[name][0])
    error = refusal(folder, path)
    assert isinstance(error, FileError)
    assert BAD_TIFF[name][1] in error.what


def test_floating_point_that_is_not_a_number(folder, codes):
    array = (codes / 65535).astype(np.float32)
    array[50:52, 60:70] = np.nan
    path = plain_tiff(folder / "nan.tif", array)
    assert isinstance(refusal(folder, path), FileError)


def test_a_picture_of_one_bit(folder, codes):
    path = folder / "bit.png"
    Image.fromarray(to_8_bits(codes[..., 0])).convert("1").save(path)
    assert "one bit" in refusal(folder, path).what


def test_cmyk(folder, codes):
    path = folder / "cmyk.jpg"
    Image.fromarray(to_8_bits(codes)).convert("CMYK").save(path, quality=90)
    assert "CMYK" in refusal(folder, path).what


@pytest.mark.parametrize("share", [0.0, 0.001, 0.3, 0.9, 0.999])
@pytest.mark.parametrize("ending", ["tif", "png", "jpg"])
def test_files_cut_off_anywhere(folder, codes, share, ending):
    whole = folder / f"whole.{ending}"
    if not whole.exists():
        {"tif": plain_tiff, "png": png, "jpg": jpeg}[ending](whole, codes)
    content = whole.read_bytes()
    path = folder / f"cut.{ending}"
    path.write_bytes(content[: int(share * len(content))])
    assert isinstance(refusal(folder, path), FileError)


def test_nothing_where_a_scan_should_be(folder):
    assert refusal(folder, folder / "none.tif").what == "does not exist"
    directory = folder / "a folder.tif"
    directory.mkdir()
    assert refusal(folder, directory).what == "is a folder"


def test_an_inverted_scan(folder, codes):
    path = plain_tiff(folder / "inverted.tif", 65535 - codes)
    error = refusal(folder, path)
    assert isinstance(error, ReadingsError)
    assert error.what == "black and white are exchanged in this scan"


def test_blank_paper_and_noise(folder):
    rng = np.random.default_rng(1)
    blank = rng.normal(60_000, 300, (700, 900, 1)).astype(np.uint16)
    path = plain_tiff(folder / "blank.tif", blank)
    assert "nearly blank" in refusal(folder, path).what
    noise = rng.integers(0, 65536, (700, 900, 1)).astype(np.uint16)
    path = plain_tiff(folder / "noise.tif", noise)
    assert "no target found" in refusal(folder, path).what


def test_another_target(folder, codes, tmp_path):
    other = small_layout(seed=8)
    write_layout(other, tmp_path / "other.layout.json")
    path = plain_tiff(folder / "scan.tif", codes)
    with pytest.raises(ReadingsError) as caught:
        negcurve.read_scan(path, target=tmp_path / "other.layout.json", gamma=2.2)
    assert LAYOUT.identity_text.split()[-1] in caught.value.what
    assert other.identity_text in caught.value.what


@pytest.mark.parametrize("share", [0.5, 0.7])
@pytest.mark.parametrize("side", ["top", "bottom", "left", "right"])
def test_part_of_a_target(folder, codes, share, side):
    rows, columns = (round(share * length) for length in codes.shape[:2])
    part = {
        "top": codes[:rows],
        "bottom": codes[-rows:],
        "left": codes[:, :columns],
        "right": codes[:, -columns:],
    }[side]
    path = plain_tiff(folder / "part.tif", np.ascontiguousarray(part))
    assert isinstance(refusal(folder, path), ReadingsError)


def run(folder, *words):
    """Run the program within the memory that it may take; return what it printed."""
    limits = {}
    if sys.platform == "linux":
        import resource  # noqa: PLC0415  # only there

        limits["preexec_fn"] = lambda: resource.setrlimit(
            resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES)
        )
    one_thread = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
    return subprocess.run(
        [sys.executable, "-c", PROGRAM, *words],
        cwd=folder,
        env={**os.environ, **one_thread},
        capture_output=True,
        text=True,
        timeout=MOST_SECONDS,
        **limits,
    )


def bomb(path):
    """Few bytes that would unpack to a thousand million."""
    path.write_bytes(BAD_TIFF["deflate bomb"][0])


def cut(path):
    path.write_bytes(BAD_TIFF["LZW cut"][0])


@pytest.mark.parametrize(
    ("make", "code"),
    [
        (bomb, 3),
        (cut, 3),
        (lambda path: path.write_bytes(b""), 3),
        (lambda path: plain_tiff(path, np.full((900, 900, 1), 60_000, np.uint16)), 4),
    ],
    ids=["bomb", "cut off", "empty", "blank paper"],
)
def test_the_program_ends_in_a_sentence(folder, make, code):
    make(folder / "input.tif")
    done = run(
        folder, "read", "input.tif", "-o", "out.csv", "--gamma", "2.2",
        "--target", "target/t.layout.json",
    )  # fmt: skip
    assert done.returncode == code
    assert done.stdout == ""
    assert "Traceback" not in done.stderr
    said = done.stderr.strip().splitlines()
    assert said[0].startswith("negcurve: input.tif: ")
    assert len(said) <= 3
    assert not (folder / "out.csv").exists()
