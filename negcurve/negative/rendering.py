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

import numpy as np

from negcurve.encoding import Encoding
from negcurve.errors import InvalidValueError
from negcurve.negative.dither import SEED, Dither
from negcurve.negative.resampling import Resampler
from negcurve.negative.strips import (
    PlainWork,
    ResizedWork,
    Seen,
    Strip,
    StripPainter,
    Work,
)
from negcurve.negative.tally import Tally
from negcurve.response.table import LookupTable
from negcurve.values import (
    CodeArray,
    ImageSource,
    Progress,
    StripSink,
    no_progress,
    placed,
)

COUNTED_PIXELS = 2**21
"""Of a larger picture every second, third ... row is counted, about so many pixels."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Rendering:
    """How to render a picture.

    Attributes
    ----------
    mirrored : bool
        Whether rows are turned end for end, as emulsion to emulsion needs.
    resampler : Resampler, optional
        To another number of pixels.
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
    resampler: Resampler | None = None
    scale_black: bool = True
    bits: int = 16
    seed: int = SEED
    threads: int | None = None

    def __post_init__(self) -> None:
        if self.threads is not None and self.threads < 1:
            raise InvalidValueError("must be 1 or more", where="threads")


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
    work = _work(source, encoding, table, chosen)
    shape = work.shape
    stride = max(1, shape[0] * shape[1] // COUNTED_PIXELS)
    threads = chosen.threads or min(4, os.cpu_count() or 1)
    painters = [work.painter(stride) for _ in range(threads)]
    idle: SimpleQueue[StripPainter] = SimpleQueue()
    for painter in painters:
        idle.put(painter)
    dither = Dither(shape[1], seed=chosen.seed) if chosen.bits == 8 else None

    anywhere = placed(sink)

    def painted(strip: Strip) -> CodeArray:
        painter = idle.get()
        codes = painter.paint(strip)
        idle.put(painter)
        if dither is not None:
            codes = dither.codes(codes, top=strip.start)
        if anywhere is not None:
            anywhere.write_at(strip.start, codes)
        return codes

    _keep_freed_memory()
    done = 0
    for codes in _in_order(painted, work.strips(), threads):
        if anywhere is None:
            sink.write(codes)
        done += len(codes)
        progress("writing the negative", done / shape[0])
    counts = np.sum([each.counts for each in painters], axis=0)
    # Resampling makes tones between the picture's own.
    greys = work.map.greys(counts) if chosen.resampler is None else np.empty(0)
    return Tally(tone=work.map.tone, counts=counts, greys=greys)


def _work(
    source: ImageSource, encoding: Encoding, table: LookupTable, how: Rendering
) -> Work:
    seen = Seen(
        source=source,
        encoding=encoding,
        scale_black=how.scale_black,
        mirrored=how.mirrored,
    )
    if how.resampler is None:
        return PlainWork(seen, table)
    return ResizedWork(seen, table, how.resampler)


def _keep_freed_memory() -> None:
    """Let the C library keep the memory of one strip for the next.

    By default glibc hands freed blocks of some 100 kB back to the system, and gets
    them again page by page, which took half the time of resampling; once a larger
    block was freed it keeps those up to that size. The block is never touched, so it
    costs nothing here or elsewhere. Source: mallopt(3), M_MMAP_THRESHOLD.
    """
    np.empty(30 * 2**20, np.uint8)  # made and freed at once


def _in_order(
    function: Callable[[Strip], CodeArray], strips: Iterator[Strip], threads: int
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
