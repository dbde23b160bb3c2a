"""Laying out a page anew in a temporary file, where its own order would cost too much.

Needed for pages packed in one huge piece and for pages stored sideways, whose upright
rows run across every strip.
"""

import os
import tempfile
import threading
import zlib
from collections.abc import Iterator
from dataclasses import replace
from typing import BinaryIO

import numpy as np

from negcurve.errors import FileError
from negcurve.files.block_io import HAS_POSITIONAL_READS, Blocks
from negcurve.files.safe import file_errors
from negcurve.files.tiff_blocks import (
    CACHE_BYTES,
    BlockReader,
    samples_from,
    without_prediction,
)
from negcurve.files.tiff_page import TiffPage
from negcurve.files.tiff_tags import damaged
from negcurve.files.upright import is_turned
from negcurve.values import CodeArray

LARGE_BLOCK_BYTES = 48_000_000
"""Unpacked size of a block that is not worth keeping in memory."""

LARGEST_BYTES = 2_000_000_000
"""Of the temporary file; a sheet of 24 x 36 inches at 720 ppi needs half of it."""

TILE = 256
"""Side of a tile of the temporary file. [pixels]"""

_PIECE_BYTES = 2**20


class TemporaryBlocks:
    """A temporary file without a name; it is gone once it is closed."""

    def __init__(self, file: BinaryIO, *, positional: bool) -> None:
        self._file = file
        self._positional = positional
        self._lock = threading.Lock()
        self.size = os.fstat(file.fileno()).st_size

    def read(self, offset: int, count: int) -> bytes:
        """Return exactly `count` bytes from `offset` on."""
        if self._positional:
            return os.pread(self._file.fileno(), count, offset)
        with self._lock:
            self._file.seek(offset)
            return self._file.read(count)

    def read_into(self, offset: int, room: memoryview) -> None:
        """Fill `room` with the bytes from `offset` on."""
        room[:] = self.read(offset, len(room))

    def close(self) -> None:
        """Close and so remove the file."""
        self._file.close()


def is_awkward(page: TiffPage) -> bool:
    """Whether a page is better laid out anew than read as it is stored."""
    packed = page.compression != "none"
    if packed and page.block_bytes(0) > LARGE_BLOCK_BYTES:
        return True
    size = page.height * page.width * page.samples * page.sample.itemsize
    sideways = is_turned(page.orientation) and not page.tiled
    return sideways and size > CACHE_BYTES


def laid_out_anew(
    file: Blocks, page: TiffPage, *, positional: bool = HAS_POSITIONAL_READS
) -> tuple[TemporaryBlocks, TiffPage]:
    """Unpack a page into plain tiles in a temporary file.

    Parameters
    ----------
    file : Blocks
        That the page lies in.
    page : TiffPage
        Checked tags.
    positional : bool
        Whether to read the temporary file by place.

    Returns
    -------
    tuple of TemporaryBlocks and TiffPage
        The same samples, laid out otherwise.

    Raises
    ------
    FileError
        If a block cannot be unpacked, the temporary folder is full, or the file would
        be too large.
    """
    native = page.sample.newbyteorder("=")
    across, down = -(-page.width // TILE), -(-page.height // TILE)
    tile_bytes = TILE * TILE * page.samples * native.itemsize
    if across * down * tile_bytes > LARGEST_BYTES:
        raise FileError(
            f"is too large ({page.width} x {page.height} pixels) to be turned or "
            "unpacked on the way",
            where=page.name,
            fix="Save it upright, without compression or in strips or tiles.",
        )
    with file_errors(f"temporary folder {tempfile.gettempdir()}"):
        spool: BinaryIO = tempfile.TemporaryFile()  # noqa: SIM115  # closed by its owner
        try:
            for band in _bands(file, page):
                _write_tiles(spool, band, across)
            spool.flush()
        except BaseException:
            spool.close()
            raise
    tiles = across * down
    changed = replace(
        page,
        sample=native,
        compression="none",
        predictor=1,
        planes=1,
        block_height=TILE,
        block_width=TILE,
        tiled=True,
        offsets=tuple(tile_bytes * tile for tile in range(tiles)),
        counts=(tile_bytes,) * tiles,
        bits_reversed=False,
    )
    return TemporaryBlocks(spool, positional=positional), changed


def _write_tiles(spool: BinaryIO, band: CodeArray, across: int) -> None:
    rows, columns, samples = band.shape
    padded = np.zeros((TILE, across * TILE, samples), dtype=band.dtype)
    padded[:rows, :columns] = band
    for tile in range(across):
        part = padded[:, tile * TILE : (tile + 1) * TILE]
        spool.write(np.ascontiguousarray(part).data)


def _bands(file: Blocks, page: TiffPage) -> Iterator[CodeArray]:
    """Yield TILE rows at a time, from the top."""
    reader = BlockReader(file, page)
    one_strip = page.blocks_down == 1 and page.blocks_across == 1 and page.planes == 1
    if one_strip and page.compression == "deflate" and not page.bits_reversed:
        yield from _bands_of(page, _inflated(file, page))
    elif one_strip and page.compression not in ("none", "jpeg"):
        yield from _bands_of(page, _sliced(reader.unpacked_bytes(0)))
    else:
        for top in range(0, page.height, TILE):
            yield reader.window((top, 0, min(TILE, page.height - top), page.width))


def _bands_of(
    page: TiffPage, pieces: Iterator[bytes | bytearray]
) -> Iterator[CodeArray]:
    """Yield TILE rows at a time of one strip that comes in pieces."""
    row_bytes = page.block_width * page.samples * page.sample.itemsize
    waiting = bytearray()
    for top in range(0, page.height, TILE):
        rows = min(TILE, page.height - top)
        while len(waiting) < rows * row_bytes:
            piece = next(pieces, b"")
            if not piece:
                raise damaged(page.name, "its only block is cut off")
            waiting += piece
        content = bytes(waiting[: rows * row_bytes])
        del waiting[: rows * row_bytes]
        samples = without_prediction(page, samples_from(page, content, rows))
        yield samples[:, : page.width]


def _sliced(content: bytes | bytearray) -> Iterator[bytes | bytearray]:
    for place in range(0, len(content), _PIECE_BYTES):
        yield content[place : place + _PIECE_BYTES]


def _inflated(file: Blocks, page: TiffPage) -> Iterator[bytes]:
    unpacker = zlib.decompressobj()
    start, length = page.offsets[0], page.counts[0]
    try:
        for place in range(0, length, _PIECE_BYTES):
            packed = file.read(start + place, min(_PIECE_BYTES, length - place))
            while packed:
                piece = unpacker.decompress(packed, 4 * _PIECE_BYTES)
                packed = unpacker.unconsumed_tail
                if piece:
                    yield piece
        rest = unpacker.flush()
    except zlib.error as error:
        raise damaged(page.name, "its only block cannot be unpacked") from error
    if rest:
        yield rest
