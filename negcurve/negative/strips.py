"""The strips of a picture and who paints them: pixel for pixel, or resampled.

Knows how a picture is cut and which thread reads what; sharing the strips out among
threads is left to `rendering`.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

from negcurve.encoding import Encoding
from negcurve.negative.lanczos import Piece
from negcurve.negative.painting import GreyMap, GreyPainter, LightMap, LightPainter
from negcurve.negative.resampling import Resampler, TileResampler
from negcurve.negative.tones import ROOT_CELLS, Light
from negcurve.response.table import LookupTable
from negcurve.values import CodeArray, ImageSource

STRIP_PIXELS = 2**20
"""About how many pixels a strip holds."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Strip:
    """Rows of the negative, and what the thread that paints them needs.

    Attributes
    ----------
    start, stop : int
        Rows of the negative.
    rows : array, shape (n, columns, channels), or None
        Rows of the picture; without them that thread reads them.
    band : Piece, optional
        Where the strip is resampled.
    """

    start: int
    stop: int
    rows: CodeArray | None
    band: Piece | None = None


class StripPainter(Protocol):
    """Paints strips; one for each thread."""

    @property
    def counts(self) -> npt.NDArray[np.int64]:
        """Pixels painted by tone, for `Tally`."""
        ...

    def paint(self, strip: Strip) -> CodeArray:
        """Return the codes of a strip, uint16, shape (rows, columns)."""
        ...


class Work(Protocol):
    """What there is to paint and how."""

    @property
    def map(self) -> GreyMap | LightMap:
        """The map from picture to negative."""
        ...

    @property
    def shape(self) -> tuple[int, int]:
        """Height and width of the negative."""
        ...

    def strips(self) -> Iterator[Strip]:
        """Cut strips from top to bottom; read them where that must be in order."""
        ...

    def painter(self, stride: int) -> StripPainter:
        """Return a painter for one thread, which counts every stride-th row."""
        ...


@dataclass(frozen=True, eq=False, kw_only=True)
class Seen:
    """A picture and how it is seen.

    Attributes
    ----------
    source : ImageSource
    encoding : Encoding
    scale_black : bool
        See `image_tone`.
    mirrored : bool
        Whether rows are turned end for end.
    """

    source: ImageSource
    encoding: Encoding
    scale_black: bool
    mirrored: bool

    @property
    def in_any_order(self) -> bool:
        """Whether threads may read rows in any order at no extra cost."""
        return bool(getattr(self.source, "in_any_order", False))


class PlainWork:
    """Pixel for pixel."""

    def __init__(self, seen: Seen, table: LookupTable) -> None:
        source = seen.source
        whole = source.channels == 1 and source.dtype.kind == "u"
        kind = GreyMap if whole else LightMap
        self.map: GreyMap | LightMap = kind.composed(
            seen.encoding, table, source.dtype, scale_black=seen.scale_black
        )
        self.shape = (source.height, source.width)
        self._seen = seen

    def strips(self) -> Iterator[Strip]:
        """See `Work`."""
        height, width = self.shape
        step = max(1, STRIP_PIXELS // width)
        for start in range(0, height, step):
            stop = min(start + step, height)
            in_order = not self._seen.in_any_order
            rows = self._seen.source.rows(start, stop) if in_order else None
            yield Strip(start=start, stop=stop, rows=rows)

    def painter(self, stride: int) -> "_PlainPainter":
        """See `Work`."""
        return _PlainPainter(self._seen, self.map.painter(stride))


class _PlainPainter:
    """Paints strips pixel for pixel."""

    def __init__(self, seen: Seen, painter: GreyPainter | LightPainter) -> None:
        self._seen = seen
        self._painter = painter
        self.counts = painter.counts

    def paint(self, strip: Strip) -> CodeArray:
        """See `StripPainter`."""
        rows = strip.rows
        if rows is None:
            rows = self._seen.source.rows(strip.start, strip.stop)
        return self._painter.paint(
            rows, mirrored=self._seen.mirrored, counted_from=strip.start
        )


class ResizedWork:
    """To another number of pixels; a strip is a band of the resampler's."""

    def __init__(self, seen: Seen, table: LookupTable, resampler: Resampler) -> None:
        self._seen = seen
        self._resampler = resampler
        self.map = LightMap.composed(seen.encoding, table, seen.source.dtype)
        self.shape = resampler.wanted
        self._light = Light(
            seen.encoding,
            seen.source.dtype,
            power=resampler.power,
            precision=resampler.precision,
            scale_black=seen.scale_black,
            unit=float(ROOT_CELLS) ** (2 * resampler.power),
        )

    def strips(self) -> Iterator[Strip]:
        """See `Work`; what must be read in order is read once."""
        source = self._seen.source
        held = source.rows(0, 0)
        held_low = high = 0
        for band in self._resampler.bands:
            rows = None
            if not self._seen.in_any_order:
                low, needed = band.needed
                fresh = source.rows(high, max(needed, high))
                held = np.concatenate([held[low - held_low :], fresh])
                held_low, high = low, max(needed, high)
                rows = held[: needed - low]
            yield Strip(start=band.start, stop=band.stop, rows=rows, band=band)

    def painter(self, stride: int) -> "_ResizedPainter":
        """See `Work`."""
        worker = self._resampler.worker(self._light.reader())
        return _ResizedPainter(self._seen, worker, self.map.painter(stride))


class _ResizedPainter:
    """Resamples and paints strips."""

    def __init__(
        self, seen: Seen, worker: TileResampler, painter: LightPainter
    ) -> None:
        self._seen = seen
        self._worker = worker
        self._painter = painter
        self.counts = painter.counts

    def paint(self, strip: Strip) -> CodeArray:
        """See `StripPainter`."""
        if strip.band is None:
            raise TypeError("a resampled strip is a band")
        rows = strip.rows
        if rows is None:
            rows = self._seen.source.rows(*strip.band.needed)
        codes = np.empty((strip.stop - strip.start, self._worker.width), np.uint16)
        upright = codes[:, ::-1] if self._seen.mirrored else codes
        for columns, root in self._worker.tiles(strip.band, rows):
            self._painter.paint_light(
                root, upright[:, columns], counted_from=strip.start
            )
        return codes
