"""Files that are damaged, hostile or of a kind that is not read; made on the spot."""

import struct
import zlib

import imagecodecs
import numpy as np


def small_tiff(
    height,
    width,
    strips,
    *,
    rows_per_strip,
    compression=1,
    bits=8,
    extra=(),
    following=0,
):
    """Pack an 8-bit grey TIFF by hand, so that its tags can be wrong on purpose."""
    place, offsets = 8, []
    for strip in strips:
        offsets.append(place)
        place += len(strip)
    tags = [
        (256, 4, [width]),
        (257, 4, [height]),
        (258, 3, [bits]),
        (259, 3, [compression]),
        (262, 3, [1]),
        (273, 4, offsets),
        (278, 4, [rows_per_strip]),
        (279, 4, [len(strip) for strip in strips]),
    ]
    replaced = {tag for tag, _, _ in extra}
    tags = sorted([each for each in tags if each[0] not in replaced] + list(extra))
    tags = [each for each in tags if each[2] is not None]
    values, entries = b"", b""
    behind = place + 2 + 12 * len(tags) + 4
    for tag, kind, numbers in tags:
        packed = struct.pack(f"<{len(numbers)}{'HI'[kind - 3]}", *numbers)
        entries += struct.pack("<HHI", tag, kind, len(numbers))
        if len(packed) <= 4:
            entries += packed.ljust(4, b"\0")
        else:
            entries += struct.pack("<I", behind + len(values))
            values += packed
    head = struct.pack("<2sHI", b"II", 42, place)
    count = struct.pack("<H", len(tags))
    after = struct.pack("<I", place if following == "itself" else following)
    return head + b"".join(strips) + count + entries + after + values


def png_chunk(kind, data):
    content = kind + data
    checksum = struct.pack(">I", zlib.crc32(content))
    return struct.pack(">I", len(data)) + content + checksum


def plain(**options):
    """A good 10 x 8 file, but for what the options change."""
    strip = bytes(range(80))
    return small_tiff(10, 8, [strip], rows_per_strip=10, **options)


def tag(number, *values, short=False):
    return (number, 3 if short else 4, list(values))


def missing(number):
    return (number, 4, None)


def packed(height, width, strip, compression):
    return small_tiff(
        height, width, [strip], rows_per_strip=height, compression=compression
    )


def bomb(compression, encode):
    """Few bytes that would unpack to a thousand million."""
    return packed(40_000, 40_000, encode(bytes(4_000_000)), compression)


BAD_TIFF = {
    "cut in its header": (b"II*\0\x08", "cut off"),
    "cut in its directory": (plain()[:100], "cut off"),
    "directory beyond its end": (b"II*\0\xff\xff\xff\x7f", "cut off"),
    "no directory": (b"II*\0\0\0\0\0", "it has no page"),
    "no tags": (b"II*\0\x08\0\0\0\0\0\0\0\0\0", "a page has 0 tags"),
    "a loop": (plain(following="itself"), "its pages lead back to themselves"),
    "BigTIFF with odd offsets": (b"II+\0\x04\0\0\0" + bytes(20), "its version is 43"),
    "no width": (plain(extra=[missing(256)]), "a page measures 0 x 10 pixels"),
    "no strips": (plain(extra=[missing(273)]), "it has 0 of 1 blocks"),
    "too few strips": (plain(extra=[tag(278, 2)]), "it has 1 of 5 blocks"),
    "strip beyond its end": (plain(extra=[tag(273, 10**6)]), "cut off"),
    "absurd size": (
        plain(extra=[tag(256, 2**31 - 1), tag(257, 2**31 - 1)]),
        "claims to measure 2147483647 x 2147483647 pixels",
    ),
    "size beyond the file": (plain(extra=[tag(256, 30_000)]), "it is cut off"),
    "absurd count of values": (
        plain(extra=[tag(273, *[8] * 3)]).replace(
            struct.pack("<HHI", 273, 4, 3), struct.pack("<HHI", 273, 4, 2**32 - 1)
        ),
        "the values of tag 273 lie beyond its end",
    ),
    "absurd tiles": (
        plain(extra=[tag(322, 2**31), tag(323, 2**31), tag(324, 8), tag(325, 80)]),
        "its blocks measure",
    ),
    "tiles without size": (
        plain(extra=[tag(322, 0), tag(323, 0), tag(324, 8), tag(325, 80)]),
        "its blocks measure 0 x 0",
    ),
    "deflate bomb": (bomb(8, imagecodecs.zlib_encode), "cannot come from"),
    "LZW cut": (packed(10, 8, imagecodecs.lzw_encode(bytes(40)), 5), "cut off"),
    "deflate cut": (
        packed(10, 8, imagecodecs.zlib_encode(bytes(range(80)))[:40], 8),
        "cannot be unpacked",
    ),
    "deflate short": (packed(10, 8, imagecodecs.zlib_encode(bytes(40)), 8), "cut off"),
    "deflate of noise": (packed(10, 8, b"\x99" * 80, 8), "cannot be unpacked"),
    "ZSTD of noise": (packed(10, 8, b"\x99" * 80, 50000), "cannot be unpacked"),
    "PackBits cut": (packed(10, 8, b"\x05abc", 32773), "block 1 c"),
    "JPEG of noise": (packed(10, 8, b"\x99" * 80, 7), "JPEG block cannot be unpacked"),
    "JPEG of another size": (
        packed(10, 8, imagecodecs.jpeg8_encode(np.zeros((900, 900), "u1")), 7),
        "JPEG block cannot be unpacked",
    ),
    "one bit": (
        plain(extra=[tag(258, 1, short=True)]),
        "has samples of one bit, black or white only",
    ),
    "12 bits": (plain(extra=[tag(258, 12, short=True)]), "has samples of 12 bits"),
    "32-bit whole numbers": (
        plain(extra=[tag(258, 32, short=True)]),
        "has samples of 32 bits (whole numbers)",
    ),
    "signed numbers": (
        plain(extra=[tag(339, 2, short=True)]),
        "has samples of 8 bits (signed numbers)",
    ),
    "CMYK": (
        plain(extra=[tag(262, 5, short=True), tag(277, 4, short=True)]),
        "holds CMYK, not grey or RGB",
    ),
    "Lab": (
        plain(extra=[tag(262, 8, short=True), tag(277, 3, short=True)]),
        "holds Lab, not grey or RGB",
    ),
    "YCbCr": (
        plain(extra=[tag(262, 6, short=True), tag(277, 3, short=True)]),
        "holds YCbCr, not grey or RGB",
    ),
    "camera data": (
        plain(extra=[tag(262, 32803, short=True)]),
        "holds undeveloped camera data",
    ),
    "unknown colours": (
        plain(extra=[tag(262, 99, short=True)]),
        "has colours of an unknown kind (99)",
    ),
    "unknown compression": (
        plain(compression=34712),
        "is compressed in a way that is not read (number 34712)",
    ),
    "palette without colours": (
        plain(extra=[tag(262, 3, short=True)]),
        "its palette has 0 values, not 768",
    ),
    "RGB with one sample": (
        plain(extra=[tag(262, 2, short=True)]),
        "it has 1 samples a pixel, not 3",
    ),
    "only a preview": (plain(extra=[tag(254, 1)]), "holds only a preview"),
    "unknown predictor": (
        small_tiff(
            10,
            8,
            [imagecodecs.zlib_encode(bytes(80))],
            rows_per_strip=10,
            compression=8,
            extra=[tag(317, 9, short=True)],
        ),
        "its predictor is 9",
    ),
}
"""Content and a part of the sentence that it ends in."""
