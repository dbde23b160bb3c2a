"""Unpacking the strips and tiles of a TIFF page, only those that are asked for.

Gives stored samples in the machine's byte order; what they mean is `tiff_picture`'s.
"""

import threading
from collections import OrderedDict
from collections.abc import Callable

import imagecodecs
import numpy as np

from negcurve.errors import FileError
from negcurve.files.block_io import Blocks
from negcurve.files.jpeg_header import JpegDamagedError, parse_jpeg_header
from negcurve.files.tiff_page import YCBCR, TiffPage
from negcurve.files.tiff_tags import damaged
from negcurve.files.upright import Window, is_turned
from negcurve.values import CodeArray

CACHE_BYTES = 24_000_000
"""Unpacked blocks kept, at least; more where one row of blocks needs more."""

LARGEST_BLOCK_BYTES = 900_000_000
"""Unpacked size of one block above which memory would run out."""

_UNPACKERS: dict[str, Callable[[bytes, int], bytes | bytearray]] = {
    "lzw": lambda packed, size: imagecodecs.lzw_decode(packed, out=size),
    "deflate": lambda packed, size: imagecodecs.deflate_decode(packed, out=size),
    "packbits": lambda packed, size: imagecodecs.packbits_decode(packed, out=size),
    "zstd": lambda packed, size: imagecodecs.zstd_decode(packed, out=size),
}


class BlockReader:
    """Windows of stored samples; may be used by several threads at once.

    Parameters
    ----------
    file : Blocks
        That the page lies in.
    page : TiffPage
        Checked tags.
    """

    def __init__(self, file: Blocks, page: TiffPage) -> None:
        self._file = file
        self.page = page
        self._lock = threading.Lock()
        self._cache: OrderedDict[int, CodeArray] = OrderedDict()
        line = page.blocks_down if is_turned(page.orientation) else page.blocks_across
        line_of_blocks = line * page.planes * page.block_bytes(0)
        self._most = max(CACHE_BYTES, line_of_blocks + page.block_bytes(0))
        self._kept = 0

    def window(self, window: Window) -> CodeArray:
        """Return stored samples.

        Parameters
        ----------
        window : Window
            Among the pixels as stored.

        Returns
        -------
        array, shape (rows, columns, samples)
            In the machine's byte order.

        Raises
        ------
        FileError
            If a block cannot be unpacked.
        """
        top, left, height, width = window
        page = self.page
        shape = (height, width, page.samples)
        found = np.empty(shape, dtype=page.sample.newbyteorder("="))
        if self._is_as_stored(window):
            self._read_plain(found, top)
            return found
        for down in range(
            top // page.block_height, -(-(top + height) // page.block_height)
        ):
            for across in range(
                left // page.block_width, -(-(left + width) // page.block_width)
            ):
                for plane in range(page.planes):
                    self._copy(found, window, plane, down, across)
        return found

    def _is_as_stored(self, window: Window) -> bool:
        """Whether whole rows lie in the file as they are wanted in memory."""
        page = self.page
        return (
            page.compression == "none"
            and page.planes == 1
            and page.block_width == page.width == window[3]
            and page.sample.isnative
            and not page.bits_reversed
        )

    def _read_plain(self, found: CodeArray, top: int) -> None:
        """Fill whole rows, from row `top` on, without a copy between."""
        page, row_bytes = self.page, found[:1].nbytes
        room = found.reshape(-1).view(np.uint8).data
        row = top
        while row < top + len(found):
            down, inside = divmod(row, page.block_height)
            stop = min((down + 1) * page.block_height, top + len(found))
            part = room[(row - top) * row_bytes : (stop - top) * row_bytes]
            self._file.read_into(page.offsets[down] + inside * row_bytes, part)
            row = stop

    def _copy(
        self, found: CodeArray, window: Window, plane: int, down: int, across: int
    ) -> None:
        """Copy what one block holds of a window."""
        top, left, height, width = window
        page = self.page
        block_top, block_left = down * page.block_height, across * page.block_width
        first_row = max(top, block_top)
        last_row = min(top + height, block_top + page.block_height)
        first_column = max(left, block_left)
        last_column = min(left + width, block_left + page.block_width)
        index = (plane * page.blocks_down + down) * page.blocks_across + across
        rows = slice(first_row - block_top, last_row - block_top)
        samples = self._rows(index, rows)
        to_rows = slice(first_row - top, last_row - top)
        to_columns = slice(first_column - left, last_column - left)
        from_columns = slice(first_column - block_left, last_column - block_left)
        channels = slice(plane, plane + 1) if page.planes > 1 else slice(None)
        found[to_rows, to_columns, channels] = samples[:, from_columns]

    def _rows(self, index: int, rows: slice) -> CodeArray:
        """Return some rows of a block; plain ones are read alone, others kept."""
        page = self.page
        if page.compression == "none":
            row_bytes = page.block_width * page.block_samples * page.sample.itemsize
            place = page.offsets[index] + rows.start * row_bytes
            content = self._file.read(place, (rows.stop - rows.start) * row_bytes)
            return samples_from(page, self._ordered(content), rows.stop - rows.start)
        with self._lock:
            known = self._cache.get(index)
            if known is not None:
                self._cache.move_to_end(index)
        if known is None:
            known = self._unpacked(index)
            self._keep(index, known)
        return known[rows]

    def _keep(self, index: int, block: CodeArray) -> None:
        with self._lock:
            if index in self._cache:
                return
            self._cache[index] = block
            self._kept += block.nbytes
            while self._kept > self._most and len(self._cache) > 1:
                self._kept -= self._cache.popitem(last=False)[1].nbytes

    def _unpacked(self, index: int) -> CodeArray:
        page = self.page
        rows = page.rows_in(index)
        if page.compression == "jpeg":
            self._check_size(index)
            return self._from_jpeg(self._packed(index), rows)
        samples = samples_from(page, self.unpacked_bytes(index), rows)
        return without_prediction(page, samples)

    def unpacked_bytes(self, index: int) -> bytes | bytearray:
        """Return the content of a block that is not JPEG, its predictor not undone.

        Raises
        ------
        FileError
            If the block cannot be unpacked.
        """
        self._check_size(index)
        page = self.page
        # Some writers fill the last strip up to full height.
        most = page.block_bytes(0)
        try:
            content = _UNPACKERS[page.compression](self._packed(index), most)
        except FileError:
            raise
        except Exception as error:  # each codec has an error class of its own
            raise damaged(page.name, f"block {index + 1} cannot be unpacked") from error
        size = page.block_bytes(index)
        if len(content) < size:
            raise damaged(page.name, f"block {index + 1} is cut off")
        return content if len(content) == size else content[:size]

    def _check_size(self, index: int) -> None:
        size = self.page.block_bytes(index)
        if size > LARGEST_BLOCK_BYTES:
            raise FileError(
                f"is packed in one piece of {size / 1e6:.0f} MB",
                where=self.page.name,
                fix="Save it without compression, or in strips or tiles.",
            )

    def _packed(self, index: int) -> bytes:
        page = self.page
        return self._ordered(self._file.read(page.offsets[index], page.counts[index]))

    def _ordered(self, content: bytes) -> bytes:
        if not self.page.bits_reversed:
            return content
        return bytes(imagecodecs.bitorder_decode(content))

    def _from_jpeg(self, packed: bytes, rows: int) -> CodeArray:
        page = self.page
        try:
            header = parse_jpeg_header(packed)
            wanted = (page.block_width, page.block_samples, 8)
            found_size = (header.width, header.components, header.bits)
            if found_size != wanted or not rows <= header.height <= page.block_height:
                raise JpegDamagedError("a block has another size than the page says")
            found = imagecodecs.jpeg8_decode(
                packed,
                tables=page.jpeg_tables or None,
                colorspace=_jpeg_space(page),
                outcolorspace="rgb" if page.block_samples == 3 else None,
            )
        except Exception as error:  # the codec has an error class of its own
            raise damaged(page.name, "a JPEG block cannot be unpacked") from error
        shape = (header.height, page.block_width, page.block_samples)
        samples: CodeArray = found.reshape(shape)[:rows]
        return samples


def _jpeg_space(page: TiffPage) -> str | None:
    if page.block_samples != 3:
        return None
    return "ycbcr" if page.photometric == YCBCR else "rgb"


def samples_from(page: TiffPage, content: bytes | bytearray, rows: int) -> CodeArray:
    """View unpacked bytes as samples, shape (rows, block width, samples)."""
    flat = np.frombuffer(content, dtype=page.sample)
    return flat.reshape(rows, page.block_width, page.block_samples)


def without_prediction(page: TiffPage, samples: CodeArray) -> CodeArray:
    """Undo the predictor of a page on some of its rows.

    Parameters
    ----------
    page : TiffPage
        Says which predictor.
    samples : array, shape (rows, columns, samples)
        Whole rows, in the file's byte order.

    Returns
    -------
    array, same shape
        In the machine's byte order.
    """
    if page.predictor == 3:
        return _without_float_prediction(samples)
    native = samples.astype(page.sample.newbyteorder("="), copy=False)
    if page.predictor == 1:
        return native
    whole = native.view(f"u{page.sample.itemsize}")
    sums: CodeArray = imagecodecs.delta_decode(whole, axis=1)
    return sums.view(native.dtype)


def _without_float_prediction(samples: CodeArray) -> CodeArray:
    """Undo predictor 3: bytes of a row apart by significance, then differenced.

    Source: Adobe Photoshop TIFF Technical Note 3 (2005). The most significant bytes
    come first in files of either byte order.
    """
    rows, columns, channels = samples.shape
    size = samples.dtype.itemsize
    packed = np.ascontiguousarray(samples).view(np.uint8)
    sums = np.cumsum(packed.reshape(rows, -1, channels), axis=1, dtype=np.uint8)
    apart = sums.reshape(rows, size, columns * channels)
    together = np.ascontiguousarray(np.swapaxes(apart, 1, 2))
    values = together.view(f">f{size}").reshape(samples.shape)
    return values.astype(f"=f{size}")
