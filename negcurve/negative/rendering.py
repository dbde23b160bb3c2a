"""The negative of a picture, strip by strip, on all cores.

Knows how to share out strips so that the result is the same for any number of threads;
what is done to a strip is left to painters, files to their readers and writers.
"""

import os
from collections import deque
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from queue import SimpleQueue
from typing import TYPE_CHECKING, Protocol

import numpy as np

from negcurve.encoding import Encoding
from negcurve.errors import InvalidValueError
from negcurve.negative.dither import SEED, Dither
from negcurve.negative.painting import (
    GreyMap,
    GreyPainter,
    LightMap,
    LightPainter,
    blocks,
)
from negcurve.negative.tally import Tally
from negcurve.negative.tones import Light
from negcurve.response.table import LookupTable
from negcurve.values import (
    CodeArray,
    ImageSource,
    PlacedSink,
    Progress,
    StripSink,
    no_progress,
)

if TYPE_CHECKING:
    from negcurve.negative.resampling import Resampler  # loads scipy

STRIP_PIXELS = 2**20
"""About how many pixels a strip holds."""

RESAMPLED_PIXELS = 2**19
"""The same where strips are resampled, which takes more memory a pixel."""

COUNTED_PIXELS = 2**23
"""Of a larger picture every second, third ... row is counted, about so many pixels."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Rendering:
    """How to render a picture.

    Attributes
    ----------
    mirrored : bool
        Whether rows are turned end for end, as emulsion to emulsion needs.
    resampler : Resampler, optional
        To another number of pixels; mirrors as `mirrored` says.
    scale_black : bool
        See `image_tone`.
    bits : {8, 16}
        Of the negative. 8 bits are dithered.
    seed : int
        Of the dither.
    threads : int, optional
        By default as many as there are cores, 4 at most.
    """

    mirrored: bool = True
    resampler: "Resampler | None" = None
    scale_black: bool = True
    bits: int = 16
    seed: int = SEED
    threads: int | None = None

    def __post_init__(self) -> None:
        if self.resampler is not None and self.resampler.mirrored != self.mirrored:
            raise InvalidValueError("differs from the resampler's", where="mirrored")
        if self.threads is not None and self.threads < 1:
            raise InvalidValueError("must be 1 or more", where="threads")


@dataclass(frozen=True, eq=False, kw_only=True)
class _Strip:
    """Wanted rows start..stop-1 and the source rows, from row `low`, that they need.

    Without rows, the thread that paints them reads them.
    """

    start: int
    stop: int
    low: int
    rows: CodeArray | None


def render(
    source: ImageSource,
    sink: StripSink,
    *,
    encoding: Encoding,
    table: LookupTable,
    how: Rendering | None = None,
    progress: Progress = no_progress,
) -> Tally:
    """Write the negative of a picture.

    Parameters
    ----------
    source : ImageSource
        The picture.
    sink : StripSink
        Takes uint16 rows, or uint8 where `how.bits` is 8. Threads write for
        themselves where it is a `PlacedSink` in any order.
    encoding : Encoding
        Of the picture.
    table : LookupTable
    how : Rendering, optional
    progress : Progress

    Returns
    -------
    Tally
        Pixels by image tone.
    """
    chosen = how or Rendering()
    resampler = chosen.resampler
    shape = (source.height, source.width) if resampler is None else resampler.wanted
    work: _Work = (
        _Plain(source, encoding, table, chosen)
        if resampler is None
        else _Resized(source, encoding, table, chosen, resampler)
    )
    stride = max(1, shape[0] * shape[1] // COUNTED_PIXELS)
    threads = chosen.threads or min(4, os.cpu_count() or 1)
    painters = [work.map.painter(stride) for _ in range(threads)]
    idle: SimpleQueue[GreyPainter | LightPainter] = SimpleQueue()
    for painter in painters:
        idle.put(painter)
    dither = Dither(shape[1], seed=chosen.seed) if chosen.bits == 8 else None

    placed = sink if isinstance(sink, PlacedSink) and sink.in_any_order else None

    def painted(strip: _Strip) -> CodeArray:
        painter = idle.get()
        codes = work.paint(strip, painter)
        idle.put(painter)
        if dither is not None:
            codes = dither.codes(codes, top=strip.start)
        if placed is not None:
            placed.write_at(strip.start, codes)
        return codes

    _keep_freed_memory()
    done = 0
    for codes in _in_order(painted, work.strips(), threads):
        if placed is None:
            sink.write(codes)
        done += len(codes)
        progress("writing the negative", done / shape[0])
    counts = np.sum([each.counts for each in painters], axis=0)
    # Resampling makes tones between the picture's own.
    greys = work.map.greys(counts) if resampler is None else np.empty(0)
    return Tally(tone=work.map.tone, counts=counts, greys=greys)


def _keep_freed_memory() -> None:
    """Let the C library keep the memory of one strip for the next.

    By default glibc hands freed blocks of some 100 kB back to the system, and gets
    them again page by page, which took half the time of resampling; once a larger
    block was freed it keeps those up to that size. The block is never touched, so it
    costs nothing here or elsewhere. Source: mallopt(3), M_MMAP_THRESHOLD.
    """
    np.empty(30 * 2**20, np.uint8)  # made and freed at once


def _in_order(
    function: Callable[[_Strip], CodeArray], strips: Iterator[_Strip], threads: int
) -> Iterator[CodeArray]:
    """Apply a function in threads; results in order, only a few strips in flight."""
    pool = ThreadPoolExecutor(threads)
    waiting: deque[Future[CodeArray]] = deque()
    try:
        for strip in strips:
            waiting.append(pool.submit(function, strip))
            if len(waiting) > threads:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


class _Work(Protocol):
    """What there is to paint and how."""

    map: GreyMap | LightMap

    def strips(self) -> Iterator[_Strip]: ...

    def paint(
        self, strip: _Strip, painter: GreyPainter | LightPainter
    ) -> CodeArray: ...


class _Plain:
    """Pixel for pixel."""

    def __init__(
        self,
        source: ImageSource,
        encoding: Encoding,
        table: LookupTable,
        how: Rendering,
    ) -> None:
        whole = source.channels == 1 and source.dtype.kind == "u"
        kind = GreyMap if whole else LightMap
        self.map: GreyMap | LightMap = kind.composed(
            encoding, table, source.dtype, scale_black=how.scale_black
        )
        self._source = source
        self._mirrored = how.mirrored
        self._any_order = bool(getattr(source, "in_any_order", False))

    def strips(self) -> Iterator[_Strip]:
        """Cut strips from top to bottom; read them where that must be in order."""
        for start, stop in _cuts(self._source.height, self._source.width, STRIP_PIXELS):
            rows = None if self._any_order else self._source.rows(start, stop)
            yield _Strip(start=start, stop=stop, low=start, rows=rows)

    def paint(self, strip: _Strip, painter: GreyPainter | LightPainter) -> CodeArray:
        """Paint one strip."""
        rows = strip.rows
        if rows is None:
            rows = self._source.rows(strip.start, strip.stop)
        return painter.paint(rows, mirrored=self._mirrored, counted_from=strip.start)


class _Resized:
    """To another number of pixels."""

    def __init__(
        self,
        source: ImageSource,
        encoding: Encoding,
        table: LookupTable,
        how: Rendering,
        resampler: "Resampler",
    ) -> None:
        self.map: GreyMap | LightMap = LightMap.composed(encoding, table, source.dtype)
        self._source = source
        self._resampler = resampler
        self._light = Light(
            encoding,
            source.dtype,
            power=resampler.power,
            precision=resampler.precision,
            scale_black=how.scale_black,
        )

    def strips(self) -> Iterator[_Strip]:
        """Read what each strip needs, each source row once."""
        height, width = self._resampler.wanted
        widest = max(width, self._source.width)
        held = self._source.rows(0, 0)
        held_low = high = 0
        for start, stop in _cuts(height, widest, RESAMPLED_PIXELS):
            low, needed = self._resampler.needed(start, stop)
            fresh = self._source.rows(high, max(needed, high))
            held = np.concatenate([held[low - held_low :], fresh])
            held_low, high = low, max(needed, high)
            yield _Strip(start=start, stop=stop, low=low, rows=held[: needed - low])

    def paint(self, strip: _Strip, painter: GreyPainter | LightPainter) -> CodeArray:
        """Resample and paint one strip."""
        if not isinstance(painter, LightPainter) or strip.rows is None:
            raise TypeError("a resampled strip is read and painted through light")
        reader = self._light.reader()
        light = np.concatenate(
            [reader.of(strip.rows[part]) for part in blocks(strip.rows.shape)]
        )
        root = self._resampler.strip(light, strip.start, strip.stop)
        codes = np.empty(root.shape, np.uint16)
        for part in blocks(codes.shape):
            painter.paint_light(
                root[part].astype(np.float32),
                codes[part],
                counted_from=strip.start + part.start,
            )
        return codes


def _cuts(height: int, width: int, pixels: int) -> Iterator[tuple[int, int]]:
    step = max(1, pixels // width)
    for start in range(0, height, step):
        yield start, min(start + step, height)
