"""The markers of a JPEG file before its pixels are unpacked.

Knows size, kind, resolution, profile, Exif block and compression. Source: ITU-T T.81
(1992) annex B; JFIF 1.02; ICC.1:2010 annex B.4 for the profile.
"""

import struct
from dataclasses import dataclass

from negcurve.files.jpeg_quality import Table, read_tables

_STANDALONE = {0x01, *range(0xD0, 0xD9)}
_FRAMES = {*range(0xC0, 0xD0)} - {0xC4, 0xC8, 0xCC}
MOST_MARKERS = 10_000


class JpegDamagedError(Exception):
    """The markers are damaged; turned into a FileError where the file is known."""


@dataclass(frozen=True, kw_only=True)
class JpegHeader:
    """What the markers say.

    Attributes
    ----------
    width, height : int
        [pixels]
    components : int
        1 grey, 3 colour, 4 CMYK.
    bits : int
        Per sample.
    frame : int
        Marker of the frame: C0 baseline, C1 extended, C2 progressive, others lossless
        or hierarchical.
    density : tuple of (unit, across, down)
        Of JFIF; unit 1 inch, 2 cm, 0 none.
    profile : bytes
        ICC profile, empty without one.
    exif : bytes
        A TIFF file in itself, empty without one.
    comment : str
    table : Table or None
        Quantisation of the first component, None where it stands elsewhere.
    pixels_after : int
        Place of the marker that begins the first scan.
    """

    width: int
    height: int
    components: int
    bits: int
    frame: int
    density: tuple[int, int, int]
    profile: bytes
    exif: bytes
    comment: str
    table: Table | None
    pixels_after: int


def parse_jpeg_header(content: bytes) -> JpegHeader:
    """Read the markers up to the first scan.

    Parameters
    ----------
    content : bytes
        A JPEG file.

    Returns
    -------
    JpegHeader

    Raises
    ------
    JpegDamagedError
        If the markers are damaged, or there is no frame.
    """
    frame: tuple[int, ...] = ()
    table = 0
    density, exif, comment = (0, 0, 0), b"", ""
    parts: dict[int, bytes] = {}
    segments, end = _segments(content)
    for marker, segment in segments:
        if marker in _FRAMES and len(segment) >= 6:
            bits, height, width, components = struct.unpack_from(">BHHB", segment)
            frame = (width, height, components, bits, marker)
            table = segment[8] if len(segment) > 8 else 0
        elif marker == 0xE0 and segment[:5] == b"JFIF\0" and len(segment) >= 12:
            density = struct.unpack_from(">BHH", segment, 7)
        elif marker == 0xE1 and segment[:6] == b"Exif\0\0":
            exif = exif or segment[6:]
        elif marker == 0xE2 and segment[:12] == b"ICC_PROFILE\0":
            parts[segment[12]] = segment[14:]
        elif marker == 0xFE:
            comment = comment or segment.decode("utf-8", "replace").strip("\0 \n")
    if not frame:
        raise JpegDamagedError("it has no frame")
    width, height, components, bits, marker = frame
    return JpegHeader(
        width=width,
        height=height,
        components=components,
        bits=bits,
        frame=marker,
        density=density,
        profile=b"".join(parts[number] for number in sorted(parts)),
        exif=exif,
        comment=comment,
        table=read_tables(each for mark, each in segments if mark == 0xDB).get(table),
        pixels_after=end,
    )


def _segments(content: bytes) -> tuple[list[tuple[int, bytes]], int]:
    """Return markers with their content, and the place of the first scan."""
    if content[:2] != b"\xff\xd8":
        raise JpegDamagedError("it does not begin like a JPEG")
    found: list[tuple[int, bytes]] = []
    place = 2
    while place + 4 <= len(content) and len(found) < MOST_MARKERS:
        if content[place] != 0xFF:
            raise JpegDamagedError("a marker is missing")
        marker = content[place + 1]
        if marker == 0xFF or marker in _STANDALONE:
            place += 1 if marker == 0xFF else 2
            continue
        if marker in (0xDA, 0xD9):
            return found, place
        (length,) = struct.unpack_from(">H", content, place + 2)
        if length < 2 or place + 2 + length > len(content):
            break
        found.append((marker, content[place + 4 : place + 2 + length]))
        place += 2 + length
    raise JpegDamagedError("it is cut off before its pixels")
