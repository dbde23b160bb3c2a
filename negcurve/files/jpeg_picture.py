"""Reading a JPEG file: unpacked in memory, turned upright by its Exif block."""

from pathlib import Path

import imagecodecs

from negcurve.errors import FileError
from negcurve.files.block_io import BlockBytes, BlockFile
from negcurve.files.jpeg_header import JpegDamagedError, JpegHeader, parse_jpeg_header
from negcurve.files.jpeg_quality import quality_findings
from negcurve.files.memory_picture import MemoryPicture
from negcurve.files.tiff_picture import RESOLUTION_RANGE, resolution_of
from negcurve.files.tiff_tags import Directory, read_directories
from negcurve.files.upright import is_turned, upright
from negcurve.values import CodeArray

MOST_PIXELS = {0xC0: 400_000_000, 0xC1: 400_000_000, 0xC2: 150_000_000}
"""By frame: baseline, extended, progressive, which needs more memory."""

LARGEST_RATIO = 1000
"""Pixels per byte; a block of 64 needs two bits at least, 256 pixels a byte."""

_CURE = "Save it as a TIFF, or as an ordinary grey or RGB JPEG."


def open_jpeg(path: Path | str) -> MemoryPicture:
    """Read a grey or RGB JPEG.

    Parameters
    ----------
    path : path
        The file.

    Returns
    -------
    MemoryPicture
        8-bit codes.

    Raises
    ------
    FileError
        If the file is damaged, cut off, CMYK or of a rare kind.
    """
    name = Path(path).name
    with BlockFile(path) as file:
        content = file.read(0, file.size)
    try:
        header = parse_jpeg_header(content)
    except JpegDamagedError as error:
        raise _damaged(name, str(error)) from error
    _check(header, name, len(content))
    exif = _exif(header)
    orientation = exif.integer(274, 1) if exif else 1
    orientation = orientation if 1 <= orientation <= 8 else 1
    return MemoryPicture(
        name=name,
        array=upright(_pixels(content, header, name), orientation),
        resolution_ppi=_resolution(header, exif, orientation),
        profile=header.profile or None,
        description=(exif.text(270) if exif else "") or header.comment,
        findings=quality_findings(header.table, name=name),
    )


def _check(header: JpegHeader, name: str, size: int) -> None:
    if header.frame not in MOST_PIXELS or header.bits != 8:
        raise FileError(
            "is a JPEG of a rare kind (lossless, or more than 8 bits)",
            where=name,
            fix=_CURE,
        )
    if header.components == 4:
        raise FileError("holds CMYK, not grey or RGB", where=name, fix=_CURE)
    if header.components not in (1, 3):
        raise _damaged(name, f"it has {header.components} components")
    pixels = header.width * header.height
    if pixels == 0:
        raise _damaged(name, f"it measures {header.width} x {header.height} pixels")
    if pixels > MOST_PIXELS[header.frame]:
        raise FileError(
            f"measures {header.width} x {header.height} pixels, too many for a JPEG",
            where=name,
            fix="Save it as a TIFF.",
        )
    if pixels > size * LARGEST_RATIO:
        raise _damaged(
            name, f"{header.width} x {header.height} pixels from {size} bytes"
        )


def _pixels(content: bytes, header: JpegHeader, name: str) -> CodeArray:
    # The decoder fills up a file that is cut off with grey and says nothing. Within
    # packed data the end mark cannot occur, so its absence tells.
    if content.rfind(b"\xff\xd9") < content.find(b"\xff\xda", header.pixels_after):
        raise _damaged(name, "it is cut off")
    try:
        found: CodeArray = imagecodecs.jpeg8_decode(content)
    except Exception as error:  # the codec has an error class of its own
        raise _damaged(name, "its pixels cannot be unpacked") from error
    if found.shape[:2] != (header.height, header.width):
        raise _damaged(name, "its size changes on the way")
    return found.reshape(header.height, header.width, header.components)


def _exif(header: JpegHeader) -> Directory | None:
    """Return the first directory of the Exif block; a damaged one is as none."""
    if not header.exif.startswith((b"II", b"MM")):
        return None
    try:
        return read_directories(BlockBytes(header.exif, name="Exif"), name="Exif")[0]
    except FileError:
        return None


def _resolution(
    header: JpegHeader, exif: Directory | None, orientation: int
) -> tuple[float, float] | None:
    unit, across, down = header.density
    if unit in (1, 2) and min(across, down) >= RESOLUTION_RANGE[0]:
        scale = 2.54 if unit == 2 else 1.0
        found = (across * scale, down * scale)
        return found[::-1] if is_turned(orientation) else found
    return resolution_of(exif, orientation) if exif else None


def _damaged(name: str, what: str) -> FileError:
    return FileError(
        f"is a damaged JPEG: {what}",
        where=name,
        fix="Open it in an image editor and save it again.",
    )
