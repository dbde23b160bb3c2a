"""One page of a TIFF, checked: how its pixels are stored and what they mean.

Everything that cannot be read right is refused here, with the cure; decoding is left
to `tiff_blocks`. Source of tags and values: TIFF 6.0 (1992) and its Technical Notes 1
and 2; floating-point predictor: Adobe Photoshop TIFF Technical Note 3 (2005).
"""

from dataclasses import dataclass

import numpy as np

from negcurve.errors import FileError
from negcurve.files.tiff_tags import Directory, damaged

MOST_PIXELS = 4_000_000_000
"""Twice a 36 x 60 inch sheet at 1000 ppi; more is a damaged or hostile file."""

COMPRESSIONS = {
    1: "none",
    5: "lzw",
    7: "jpeg",
    8: "deflate",
    32946: "deflate",
    32773: "packbits",
    50000: "zstd",
}

_LARGEST_RATIO = {
    "none": 1,
    "lzw": 3000,
    "jpeg": 3000,
    "deflate": 1100,
    "packbits": 64,
    "zstd": 40_000,
}
"""No honest file of the kind is packed tighter; above, it is damaged or hostile."""

GREY_INVERTED, GREY, RGB, PALETTE, YCBCR = 0, 1, 2, 3, 6

_REFUSED_COLOURS = {
    4: "a mask",
    5: "CMYK",
    8: "Lab",
    9: "Lab",
    10: "Lab",
    32803: "undeveloped camera data",
    34892: "undeveloped camera data",
}

_RESAVE = "Save it as a grey or RGB TIFF with 8 or 16 bits."


@dataclass(frozen=True, kw_only=True)
class TiffPage:
    """How the pixels of one page are stored, and what they mean.

    Attributes
    ----------
    name : str
        File, for messages.
    width, height : int
        As stored. [pixels]
    samples : int
        Per pixel, with alpha.
    sample : numpy dtype
        Of one sample, in the file's byte order.
    compression : str
        One of the values of `COMPRESSIONS`.
    predictor : {1, 2, 3}
        None, horizontal, floating-point.
    photometric : int
        0 grey, white is zero; 1 grey; 2 RGB; 3 palette; 6 YCbCr within JPEG.
    planes : int
        1, or the number of samples where each has blocks of its own.
    block_height, block_width : int
        Of a strip or tile. [pixels]
    tiled : bool
        Tiles are stored in full at the edges, strips are not.
    offsets, counts : tuple of int
        Place and length of each block. [bytes]
    alpha : {"", "associated", "unassociated"}
        Kind of the first sample after the colours.
    bits_reversed : bool
        Fill order 2.
    jpeg_tables : bytes
    palette : array of uint16, shape (256, 3), or None
    orientation : int
        1..8.
    """

    name: str
    width: int
    height: int
    samples: int
    sample: np.dtype[np.generic]
    compression: str
    predictor: int
    photometric: int
    planes: int
    block_height: int
    block_width: int
    tiled: bool
    offsets: tuple[int, ...]
    counts: tuple[int, ...]
    alpha: str
    bits_reversed: bool
    jpeg_tables: bytes
    palette: np.ndarray[tuple[int, ...], np.dtype[np.uint16]] | None
    orientation: int

    @property
    def colours(self) -> int:
        """Samples per pixel that carry colour: 3 or 1."""
        return 3 if self.photometric in (RGB, YCBCR) else 1

    @property
    def blocks_across(self) -> int:
        """Number of blocks side by side."""
        return -(-self.width // self.block_width)

    @property
    def blocks_down(self) -> int:
        """Number of blocks above each other."""
        return -(-self.height // self.block_height)

    @property
    def block_samples(self) -> int:
        """Samples per pixel within a block."""
        return 1 if self.planes > 1 else self.samples

    def rows_in(self, block: int) -> int:
        """Return the number of stored rows in a block, counted over all planes."""
        if self.tiled:
            return self.block_height
        row = block % (self.blocks_across * self.blocks_down) // self.blocks_across
        return min(self.block_height, self.height - row * self.block_height)

    def block_bytes(self, block: int) -> int:
        """Return the number of bytes of a block when unpacked."""
        pixels = self.rows_in(block) * self.block_width
        return pixels * self.block_samples * self.sample.itemsize


def page_size(tags: Directory) -> tuple[int, int]:
    """Return width and height as stored, in pixels."""
    width, height = tags.integer(256, 0), tags.integer(257, 0)
    if width < 1 or height < 1:
        raise damaged(tags.name, f"a page measures {width} x {height} pixels")
    if width * height > MOST_PIXELS or max(width, height) >= 2**31:
        raise FileError(
            f"claims to measure {width} x {height} pixels",
            where=tags.name,
            fix="No picture is that large; the file is damaged.",
        )
    return width, height


def parse_page(tags: Directory, file_size: int) -> TiffPage:
    """Check the tags of a page.

    Parameters
    ----------
    tags : Directory
        Of the page.
    file_size : int
        [bytes]

    Returns
    -------
    TiffPage

    Raises
    ------
    FileError
        If the page is damaged or of a kind that is not read; with the cure.
    """
    width, height = page_size(tags)
    photometric, samples = _colours(tags)
    compression = _compression(tags, photometric)
    sample = _sample(tags, compression)
    planes = samples if tags.integer(284, 1) == 2 and samples > 1 else 1
    tiled = 322 in tags
    block_width = tags.integer(322, 0) if tiled else width
    block_height = (
        tags.integer(323, 0) if tiled else min(tags.integer(278, height), height)
    )
    if block_width < 1 or block_height < 1 or block_width * block_height > MOST_PIXELS:
        raise damaged(tags.name, f"its blocks measure {block_width} x {block_height}")
    page = TiffPage(
        name=tags.name,
        width=width,
        height=height,
        samples=samples,
        sample=sample,
        compression=compression,
        predictor=_predictor(tags, compression, sample),
        photometric=photometric,
        planes=planes,
        block_height=block_height,
        block_width=block_width,
        tiled=tiled,
        offsets=tuple(tags.integers(324 if tiled else 273)),
        counts=tuple(tags.integers(325 if tiled else 279)),
        alpha=_alpha(tags, samples, photometric),
        bits_reversed=tags.integer(266, 1) == 2,
        jpeg_tables=tags.content(347),
        palette=_palette(tags, photometric, sample),
        orientation=_orientation(tags),
    )
    return _with_checked_blocks(page, file_size)


def _colours(tags: Directory) -> tuple[int, int]:
    samples = tags.integer(277, 1)
    photometric = tags.integer(262, RGB if samples >= 3 else GREY)
    if photometric in _REFUSED_COLOURS:
        raise FileError(
            f"holds {_REFUSED_COLOURS[photometric]}, not grey or RGB",
            where=tags.name,
            fix=_RESAVE,
        )
    if photometric not in (GREY_INVERTED, GREY, RGB, PALETTE, YCBCR):
        raise FileError(
            f"has colours of an unknown kind ({photometric})",
            where=tags.name,
            fix=_RESAVE,
        )
    needed = 3 if photometric in (RGB, YCBCR) else 1
    if not needed <= samples <= 64:
        raise damaged(tags.name, f"it has {samples} samples a pixel, not {needed}")
    return photometric, samples


def _compression(tags: Directory, photometric: int) -> str:
    number = tags.integer(259, 1)
    if number not in COMPRESSIONS:
        raise FileError(
            f"is compressed in a way that is not read (number {number})",
            where=tags.name,
            fix="Save it as TIFF without compression, or with LZW or ZIP.",
        )
    name = COMPRESSIONS[number]
    if photometric == YCBCR and name != "jpeg":
        raise FileError("holds YCbCr, not grey or RGB", where=tags.name, fix=_RESAVE)
    return name


def _sample(tags: Directory, compression: str) -> np.dtype[np.generic]:
    depths = set(tags.integers(258) or [1])
    formats = set(tags.integers(339) or [1])
    if len(depths) != 1 or len(formats) != 1:
        raise FileError("has samples of different kinds", where=tags.name, fix=_RESAVE)
    bits, kind = depths.pop(), formats.pop()
    if kind == 4:  # "undefined" is read as unsigned, TIFF 6.0 section 19
        kind = 1
    known = {(8, 1): "u1", (16, 1): "u2", (16, 3): "f2", (32, 3): "f4", (64, 3): "f8"}
    if (bits, kind) not in known:
        kinds = {1: "whole numbers", 2: "signed numbers", 3: "floating-point numbers"}
        what = "one bit, black or white only" if bits == 1 else f"{bits} bits"
        raise FileError(
            f"has samples of {what} ({kinds.get(kind, 'unknown kind')})",
            where=tags.name,
            fix=_RESAVE,
        )
    if compression == "jpeg" and bits != 8:
        raise FileError(
            f"is JPEG with {bits} bits a sample", where=tags.name, fix=_RESAVE
        )
    return np.dtype(tags.order + known[bits, kind])


def _predictor(tags: Directory, compression: str, sample: np.dtype[np.generic]) -> int:
    if compression in ("none", "jpeg", "packbits"):
        return 1  # the tag says nothing there, TIFF 6.0 section 14
    predictor = tags.integer(317, 1)
    if predictor not in (1, 2, 3) or (predictor == 3 and sample.kind != "f"):
        raise damaged(tags.name, f"its predictor is {predictor}")
    return predictor


def _alpha(tags: Directory, samples: int, photometric: int) -> str:
    if samples == (3 if photometric in (RGB, YCBCR) else 1):
        return ""
    kind = tags.integer(338, 0)
    return {1: "associated", 2: "unassociated"}.get(kind, "")


def _orientation(tags: Directory) -> int:
    found = tags.integer(274, 1)
    return found if 1 <= found <= 8 else 1


def _palette(
    tags: Directory, photometric: int, sample: np.dtype[np.generic]
) -> np.ndarray[tuple[int, ...], np.dtype[np.uint16]] | None:
    if photometric != PALETTE:
        return None
    if sample != np.uint8:
        raise FileError(
            f"has a palette with {sample.itemsize * 8} bits",
            where=tags.name,
            fix=_RESAVE,
        )
    values = tags.integers(320)
    if len(values) != 3 * 256 or not all(0 <= value < 65536 for value in values):
        raise damaged(tags.name, f"its palette has {len(values)} values, not 768")
    return np.array(values, dtype=np.uint16).reshape(3, 256).T


def _with_checked_blocks(page: TiffPage, file_size: int) -> TiffPage:
    count = page.blocks_across * page.blocks_down * page.planes
    offsets, counts = page.offsets[:count], page.counts[:count]
    if len(offsets) < count:
        raise damaged(page.name, f"it has {len(offsets)} of {count} blocks")
    unpacked = page.height * page.width * page.samples * page.sample.itemsize
    if page.compression == "none" and unpacked > file_size:
        raise damaged(
            page.name, f"it is cut off, {unpacked} bytes of pixels are promised"
        )
    if unpacked > file_size * _LARGEST_RATIO[page.compression]:
        raise damaged(
            page.name,
            f"{page.width} x {page.height} pixels cannot come from {file_size} bytes",
        )
    if page.compression == "none":
        counts = tuple(page.block_bytes(block) for block in range(count))
    elif len(counts) < count:
        raise damaged(page.name, "the lengths of its blocks are missing")
    for offset, length in zip(offsets, counts, strict=True):
        if offset < 8 or length < 1 or offset + length > file_size:
            raise damaged(page.name, "it is cut off: a block lies beyond its end")
    changed = {**page.__dict__, "offsets": offsets, "counts": counts}
    return TiffPage(**changed)
