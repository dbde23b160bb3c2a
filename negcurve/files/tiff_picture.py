"""A TIFF as an upright picture: grey or RGB codes, 0 is black.

Chooses the page, turns it upright, inverts white-is-zero files, looks up palettes and
lays transparent parts on white. Unpacking is left to `tiff_blocks`.
"""

import threading
from pathlib import Path
from typing import Any, Self

import numpy as np

from negcurve.errors import FileError
from negcurve.files.block_io import HAS_POSITIONAL_READS, BlockFile, Blocks
from negcurve.files.samples import FloatLevels, on_white, palette_codes
from negcurve.files.tiff_blocks import BlockReader
from negcurve.files.tiff_page import (
    GREY_INVERTED,
    PALETTE,
    TiffPage,
    page_size,
    parse_page,
)
from negcurve.files.tiff_spool import is_awkward, laid_out_anew
from negcurve.files.tiff_tags import Directory, read_directories
from negcurve.files.upright import check_window, is_turned, stored_window, upright
from negcurve.values import CodeArray, Finding

_INCH, _CENTIMETRE = 2, 3
RESOLUTION_RANGE = (2.0, 100_000.0)
"""Pixels per inch that a file may mean; outside it says nothing."""


class TiffPicture:
    """An `ImageSource` read in pieces from a TIFF or BigTIFF file.

    Parameters
    ----------
    path : path
        The file.
    positional : bool
        Use the system's positional reads, where it has them.

    Raises
    ------
    FileError
        If the file is damaged or of a kind that is not read.
    """

    def __init__(
        self, path: Path | str, *, positional: bool = HAS_POSITIONAL_READS
    ) -> None:
        self.name = Path(path).name
        self._file: Blocks = BlockFile(path, positional=positional)
        self._positional = positional
        self._lock = threading.Lock()
        self._reader: BlockReader | None = None
        try:
            self._open()
        except BaseException:
            self._file.close()
            raise

    def _open(self) -> None:
        pages = read_directories(self._file, name=self.name)
        place = _chosen(pages)
        tags = pages[place]
        self.page = parse_page(tags, self._file.size)
        self._levels = FloatLevels(self.name)
        self._palette: CodeArray | None = None
        if self.page.palette is not None:
            self._palette = palette_codes(self.page.palette)
        self.resolution_ppi = resolution_of(tags, self.page.orientation)
        self.profile = tags.content(34675) or None
        self.description = tags.text(270)
        self._findings = _page_findings(self.page, place, len(pages))

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @property
    def height(self) -> int:
        """Rows of the upright picture, in pixels."""
        page = self.page
        return page.width if is_turned(page.orientation) else page.height

    @property
    def width(self) -> int:
        """Columns of the upright picture, in pixels."""
        page = self.page
        return page.height if is_turned(page.orientation) else page.width

    @property
    def channels(self) -> int:
        """1 for grey, 3 for RGB."""
        if self._palette is not None:
            return int(self._palette.shape[1])
        return self.page.colours

    @property
    def dtype(self) -> np.dtype[Any]:
        """Type of the samples: uint8, uint16 or float32."""
        if self._palette is not None:
            return self._palette.dtype
        if self.page.sample.kind == "f":
            return np.dtype(np.float32)
        return self.page.sample.newbyteorder("=")

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What was done to the file on the way in."""
        return (*self._findings, *self._levels.findings)

    @property
    def in_any_order(self) -> bool:
        """Whether threads may read rows in any order at no extra cost."""
        return self.page.compression == "none" and not is_awkward(self.page)

    def rows(self, start: int, stop: int) -> CodeArray:
        """Return whole rows start..stop-1, shape (rows, columns, channels)."""
        return self.window(start, 0, stop - start, self.width)

    def window(self, top: int, left: int, height: int, width: int) -> CodeArray:
        """Return a rectangle, shape (height, width, channels).

        Raises
        ------
        FileError
            If this part of the file is damaged.
        InvalidValueError
            If the rectangle does not lie inside the picture.
        """
        page = self.page
        window = (top, left, height, width)
        check_window(window, height=self.height, width=self.width, name=self.name)
        inside = stored_window(
            window,
            page.orientation,
            stored_height=page.height,
            stored_width=page.width,
        )
        codes = self._codes(self._block_reader().window(inside))
        return np.ascontiguousarray(upright(codes, page.orientation))

    def close(self) -> None:
        """Let go of the file."""
        self._file.close()

    def _block_reader(self) -> BlockReader:
        with self._lock:
            if self._reader is None:
                page = self.page
                if is_awkward(page):
                    anew = laid_out_anew(self._file, page, positional=self._positional)
                    self._file.close()
                    self._file, page = anew
                self._reader = BlockReader(self._file, page)
            return self._reader

    def _codes(self, samples: CodeArray) -> CodeArray:
        page = self.page
        if self._palette is not None:
            return self._palette[samples[..., 0]]
        if page.sample.kind == "f":
            samples = self._levels.checked(samples)
        colours = samples[..., : page.colours]
        if page.photometric == GREY_INVERTED:
            colours = _largest(samples.dtype) - colours
        if page.alpha:
            alpha = samples[..., page.colours]
            colours = on_white(colours, alpha, premultiplied=page.alpha == "associated")
        return colours


def _largest(dtype: np.dtype[Any]) -> Any:
    if dtype.kind == "f":
        return dtype.type(1)
    return dtype.type(2 ** (8 * dtype.itemsize) - 1)


def _chosen(pages: list[Directory]) -> int:
    """Return the place of the first page that is no thumbnail."""
    whole = [place for place, tags in enumerate(pages) if not _is_reduced(tags)]
    if not whole:
        raise FileError(
            "holds only a preview of a picture",
            where=pages[0].name,
            fix="Develop it in an image editor and save it as TIFF.",
        )
    areas = {}
    for place in whole:
        width, height = page_size(pages[place])
        areas[place] = width * height
    largest = max(areas.values())
    return next(place for place in whole if 2 * areas[place] >= largest)


def _is_reduced(tags: Directory) -> bool:
    """Whether a page is marked as a preview or a mask; tags 254 and 255."""
    return bool(tags.integer(254, 0) & 0b101) or tags.integer(255, 1) == 2


def resolution_of(tags: Directory, orientation: int) -> tuple[float, float] | None:
    """Return pixels per inch across and down the upright picture, where stated."""
    unit = tags.integer(296, _INCH)  # an inch where it is left out, TIFF 6.0 section 8
    across, down = tags.ratio(282), tags.ratio(283)
    if unit not in (_INCH, _CENTIMETRE) or not across or not down:
        return None
    scale = 2.54 if unit == _CENTIMETRE else 1.0
    found = (across * scale, down * scale)
    low, high = RESOLUTION_RANGE
    if not all(low <= each <= high for each in found):
        return None
    return found[::-1] if is_turned(orientation) else found


def _page_findings(page: TiffPage, place: int, count: int) -> tuple[Finding, ...]:
    said = []
    if count > 1:
        said.append(f"holds {count} pages, page {place + 1} is read")
    if page.alpha:
        said.append("transparent parts are laid on white")
    elif page.samples > page.colours and page.photometric != PALETTE:
        extra = page.samples - page.colours
        said.append(f"{extra} extra channel{'s' * (extra > 1)} left out")
    return tuple(Finding(severity="note", where=page.name, what=what) for what in said)
