"""Writing TIFF 6.0 and BigTIFF, strip by strip, in little memory.

One writer makes targets and negatives, so both go down the same printer path. Reading
is left to `tiff_picture`.
"""

import os
import struct
import threading
from collections import deque
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack
from fractions import Fraction
from pathlib import Path
from types import TracebackType
from typing import BinaryIO, Literal, Self

import imagecodecs
import numpy as np

from negcurve import __version__
from negcurve.errors import InvalidValueError
from negcurve.files import tiff_pack
from negcurve.files.block_io import HAS_POSITIONAL_WRITES, PlacedWriter
from negcurve.files.safe import new_file
from negcurve.values import CodeArray

Compression = Literal["none", "lzw", "deflate"]

COMPRESSION_TAGS: dict[Compression, int] = {"none": 1, "lzw": 5, "deflate": 8}
"""Source: TIFF 6.0 (1992), section 8 and 13; TIFF Technical Note 2 for deflate."""

STRIP_BYTES = 2**21
"""About how much a strip holds before compression."""

DEFLATE_LEVEL = 1
"""Of libdeflate. Chosen by measurement: after differencing, 16-bit photographs with
grain pack within 1 % of level 6 in 0.7 of its time, smooth ones within 10 % in 0.2; in
both tighter than zlib's level 1."""

CLASSIC_LIMIT = 2**32 - 2**22
"""Largest file written as classic TIFF: offsets of 32 bits, less room for the tags."""


class GreyTiffWriter:
    """A grey or RGB TIFF written from top to bottom; use it in a `with` block.

    The file stands under its name only once the block ends well and every row was
    written; after an error or interruption nothing is left.

    Parameters
    ----------
    path : path
        Where the file is to stand.
    width, height : int
        [pixels]
    resolution_ppi : float or pair of float
        Across and down. [pixels per inch]
    description : str
        Image description; layout or identity of the table.
    software : str
        By default the program's name and version.
    bits : {8, 16}
        Per sample.
    compression : {"none", "lzw", "deflate"}
        Without loss; with horizontal predictor.
    profile : bytes, optional
        ICC profile to embed.
    channels : {1, 3}
        Grey or RGB.
    overwrite : bool
        Whether a file that stands there may be replaced.
    workers : int, optional
        Threads that compress; the file is the same for any number.
    positional : bool
        Use the system's positional writes, where it has them.
    """

    def __init__(
        self,
        path: Path | str,
        *,
        width: int,
        height: int,
        resolution_ppi: float | tuple[float, float],
        description: str,
        software: str = f"negcurve {__version__}",
        bits: int = 16,
        compression: Compression = "none",
        profile: bytes | None = None,
        channels: int = 1,
        overwrite: bool = False,
        workers: int | None = None,
        positional: bool = HAS_POSITIONAL_WRITES,
    ) -> None:
        _check_shape(width, height, bits=bits, channels=channels)
        if compression not in COMPRESSION_TAGS:
            raise InvalidValueError(
                f"{compression!r} is not known",
                where="compression",
                fix="Use none, lzw or deflate.",
            )
        self.path = Path(path)
        self.width, self.height, self.channels = width, height, channels
        self.dtype = np.dtype(np.uint8 if bits == 8 else np.uint16)
        self.compression: Compression = compression
        self._row_bytes = width * channels * bits // 8
        self._strip_rows = max(1, min(height, STRIP_BYTES // self._row_bytes))
        self._big = self._largest_size() > CLASSIC_LIMIT
        self._overwrite = overwrite
        self._workers = workers or min(4, os.cpu_count() or 1)
        self._text = (description, software, profile)
        self._resolution = _rationals(resolution_ppi)
        self._rows_written = 0
        self._positional = positional
        self._lock = threading.Lock()
        self._waiting: list[CodeArray] = []
        self._queue: deque[Future[bytes]] = deque()
        self._offsets: list[int] = []
        self._counts: list[int] = []

    def __enter__(self) -> Self:
        with ExitStack() as stack:
            part = stack.enter_context(new_file(self.path, overwrite=self._overwrite))
            self._file: BinaryIO = stack.enter_context(part.open("r+b"))
            if self.compression != "none":
                self._pool = ThreadPoolExecutor(self._workers)
                stack.callback(self._pool.shutdown, cancel_futures=True)
            self._file.write(self._header(0))
            self._file.flush()
            self._placed = PlacedWriter(self._file, positional=self._positional)
            self._stack = stack.pop_all()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if error is not None:
            self._stack.__exit__(kind, error, trace)
            return
        with self._stack:
            self._finish()

    def write(self, rows: CodeArray) -> None:
        """Append rows.

        Parameters
        ----------
        rows : array of uint8 or uint16, shape (n, width) or (n, width, channels)
            Codes, of the type that the bits ask for.

        Raises
        ------
        InvalidValueError
            If type, width or channels differ, or more rows come than the height.
        """
        if self.compression == "none":
            self.write_at(self._rows_written, rows)
            return
        codes = self._checked(rows, self._rows_written)
        self._rows_written += len(codes)
        self._waiting.append(codes.copy())  # the caller may use its array again
        self._compress(last=False)

    @property
    def in_any_order(self) -> bool:
        """Whether `write_at` may be used: where nothing is compressed."""
        return self.compression == "none"

    def write_at(self, top: int, rows: CodeArray) -> None:
        """Write rows in their place, from any thread; each row once, in any order.

        Parameters
        ----------
        top : int
            Row of the image that the first is.
        rows : array
            As for `write`.

        Raises
        ------
        InvalidValueError
            As `write`, or if the file is compressed.
        """
        if not self.in_any_order:
            raise InvalidValueError(
                "a compressed file is written from top to bottom", where="top"
            )
        codes = self._checked(rows, top)
        place = len(self._header(0)) + top * self._row_bytes
        content = _little_endian(codes).reshape(-1).view(np.uint8)
        self._placed.write(place, content.data)
        with self._lock:
            self._rows_written += len(codes)

    def _checked(self, rows: CodeArray, top: int) -> CodeArray:
        codes = np.asarray(rows)
        if codes.ndim == 3 and codes.shape[2] == self.channels:
            codes = codes.reshape(len(codes), -1)
        elif codes.ndim == 2 and self.channels > 1:
            codes = codes[:, :0]
        if codes.ndim != 2 or codes.shape[1] != self.width * self.channels:
            raise InvalidValueError(
                f"have shape {np.shape(rows)}, the image is {self.width} pixels wide "
                f"with {self.channels} channels",
                where="rows",
            )
        if codes.dtype != self.dtype:
            raise InvalidValueError(
                f"have type {codes.dtype}, the image {self.dtype}", where="rows"
            )
        if not 0 <= top <= self.height - len(codes):
            raise InvalidValueError(
                f"reach beyond the height of {self.height}", where="rows"
            )
        return codes

    def _compress(self, *, last: bool) -> None:
        """Hand full strips to the threads and write those that are done, in order."""
        waiting = sum(len(each) for each in self._waiting)
        if waiting < self._strip_rows and not last:
            return
        rows = np.concatenate(self._waiting)
        full = waiting if last else waiting - waiting % self._strip_rows
        for start in range(0, full, self._strip_rows):
            strip = rows[start : min(start + self._strip_rows, full)]
            task = self._pool.submit(_packed, strip, self.channels, self.compression)
            self._queue.append(task)
            self._write_compressed(leave=self._workers)
        self._waiting = [rows[full:].copy()]

    def _write_compressed(self, *, leave: int) -> None:
        while len(self._queue) > leave:
            packed = self._queue.popleft().result()
            self._offsets.append(self._file.tell())
            self._counts.append(len(packed))
            self._file.write(packed)

    def _finish(self) -> None:
        if self._rows_written != self.height:
            raise InvalidValueError(
                f"{self._rows_written} of {self.height} rows were written",
                where=str(self.path),
            )
        if self.compression == "none":
            self._note_plain_strips()
        else:
            self._compress(last=True)
            self._write_compressed(leave=0)
        self._file.write(b"\0" * (self._file.tell() % 2))
        place = self._file.tell()
        self._file.write(tiff_pack.directory(self._tags(), place, big=self._big))
        self._file.seek(0)
        self._file.write(self._header(place))

    def _note_plain_strips(self) -> None:
        first = len(self._header(0))
        self._file.seek(first + self.height * self._row_bytes)
        for row in range(0, self.height, self._strip_rows):
            rows = min(self._strip_rows, self.height - row)
            self._offsets.append(first + row * self._row_bytes)
            self._counts.append(rows * self._row_bytes)

    def _largest_size(self) -> int:
        raw = self.height * self._row_bytes
        return raw if self.compression == "none" else raw * 3 // 2

    def _header(self, directory: int) -> bytes:
        if self._big:
            return struct.pack("<2sHHHQ", b"II", 43, 8, 0, directory)
        return struct.pack("<2sHI", b"II", 42, directory)

    def _tags(self) -> list[tiff_pack.Tag]:
        description, software, profile = self._text
        bits = self.dtype.itemsize * 8
        place = tiff_pack.longs8 if self._big else tiff_pack.longs
        tags = [
            tiff_pack.longs(256, [self.width]),
            tiff_pack.longs(257, [self.height]),
            tiff_pack.shorts(258, [bits] * self.channels),
            tiff_pack.shorts(259, [COMPRESSION_TAGS[self.compression]]),
            tiff_pack.shorts(262, [1 if self.channels == 1 else 2]),
            place(273, self._offsets),
            tiff_pack.shorts(277, [self.channels]),
            tiff_pack.longs(278, [self._strip_rows]),
            place(279, self._counts),
            tiff_pack.rational(282, self._resolution[0]),
            tiff_pack.rational(283, self._resolution[1]),
            tiff_pack.shorts(284, [1]),
            tiff_pack.shorts(296, [2]),
        ]
        if description:
            tags.append(tiff_pack.text(270, description))
        if software:
            tags.append(tiff_pack.text(305, software))
        if self.compression != "none":
            tags.append(tiff_pack.shorts(317, [2]))
        if profile:
            tags.append(tiff_pack.undefined(34675, profile))
        return sorted(tags)


def _check_shape(width: int, height: int, *, bits: int, channels: int) -> None:
    for name, size in (("width", width), ("height", height)):
        if not 1 <= size < 2**31:
            raise InvalidValueError(f"{size} pixels cannot be written", where=name)
    if bits not in (8, 16):
        raise InvalidValueError(
            f"{bits} bits cannot be written", where="bits", fix="Use 8 or 16."
        )
    if channels not in (1, 3):
        raise InvalidValueError(f"{channels} is not 1 or 3", where="channels")


def _little_endian(codes: CodeArray) -> CodeArray:
    return np.ascontiguousarray(codes, dtype=codes.dtype.newbyteorder("<"))


def _packed(rows: CodeArray, channels: int, compression: Compression) -> bytes:
    """Compress rows of shape (n, width * channels) after horizontal differencing.

    Source: TIFF 6.0 (1992), section 14, predictor 2: differences per channel.
    """
    pixels = rows.reshape(len(rows), -1, channels)
    differences = np.empty_like(pixels)
    differences[:, 0] = pixels[:, 0]
    np.subtract(pixels[:, 1:], pixels[:, :-1], out=differences[:, 1:])
    plain = _little_endian(differences).tobytes()
    if compression == "lzw":
        return bytes(imagecodecs.lzw_encode(plain))
    return bytes(imagecodecs.deflate_encode(plain, level=DEFLATE_LEVEL))


def _rationals(
    resolution: float | tuple[float, float],
) -> tuple[tuple[int, int], tuple[int, int]]:
    pair = resolution if isinstance(resolution, tuple) else (resolution, resolution)
    across, down = (_as_rational(each) for each in pair)
    return across, down


def _as_rational(value: float) -> tuple[int, int]:
    if not 1 <= value <= 100_000:
        raise InvalidValueError(
            f"{value:g} lies outside 1..100000 pixels per inch",
            where="resolution_ppi",
            fix="Give the pixels per inch of the printer driver, such as 360.",
        )
    nearest = Fraction(value).limit_denominator(10_000)
    return nearest.numerator, nearest.denominator
