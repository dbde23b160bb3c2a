"""Traces of JPEG in the pixels, whatever the file's format is now.

JPEG codes each block of 8 x 8 pixels for itself: neighbours differ more across the
edges of blocks than within them, and the mean of a block has only certain values.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from negcurve.reading.geometry import Geometry
from negcurve.reading.reduced import largest_code
from negcurve.target.layout import Layout
from negcurve.values import Finding, FloatArray, ImageSource

BLOCK = 8
"""Side of a block. Source: ITU-T T.81 (1992), A.3.3. [px]"""

MOST_PATCHES = 48
INSIDE = 0.5
"""Share of a patch's smaller side that is looked at: inside it however it is turned."""

BLOCKY = 1.25
"""Steps across edges of blocks, against the usual, of a picture with blocks. Ours:
scans without them reach 1.05, those of quality 75 start at 1.3
(`tests/benchmarks/scan_findings.py`)."""

COARSE_MEAN = 1.0
"""Rounding of a block's mean that is warned about: beyond it JPEG rounds more than the
eight bits do, and single patches may err by 0.02 D. [code]"""

CLUSTERED = 0.35
"""Mean cosine of block means about multiples of a step for the step to be believed: 1
where all are multiples, 0 where none are, up to 0.25 by chance. Ours."""

LEAST_BLOCKS = 40
GREY = np.array([0.299, 0.587, 0.114])
"""Luma of red, green and blue, which is what JPEG codes. Source: ITU-T T.871 (2011), 7,
after ITU-R BT.601."""


@dataclass(frozen=True, kw_only=True)
class BlockTrace:
    """What is left of JPEG's blocks.

    Attributes
    ----------
    edges : float
        Mean step between neighbours across the edges of blocks, over the usual one;
        the smaller of across and down. About 1 without blocks. [1]
    mean_step : float
        Step that the means of blocks are rounded to, 0 where none is seen. [8-bit code]
    """

    edges: float
    mean_step: float

    @property
    def rounding(self) -> float:
        """The same as a step of level, 0 where it is no coarser than a code."""
        return self.mean_step / 255 if self.mean_step > COARSE_MEAN else 0.0


def block_trace(source: ImageSource, geometry: Geometry, layout: Layout) -> BlockTrace:
    """Look for blocks within the patches.

    Parameters
    ----------
    source : ImageSource
        The scan.
    geometry : Geometry
        Print to scan.
    layout : Layout
        What was printed.

    Returns
    -------
    BlockTrace
    """
    windows = list(_windows(source, geometry, layout))
    down, row = _grid(windows, axis=0)
    across, column = _grid(windows, axis=1)
    edges = min(down, across)
    if edges < BLOCKY:
        return BlockTrace(edges=edges, mean_step=0.0)
    pairs = [_block_means(window, row, column) for window in windows]
    means, even = (np.concatenate(each) for each in zip(*pairs, strict=True))
    textured = means[~even]
    if len(textured) >= LEAST_BLOCKS:
        return BlockTrace(edges=edges, mean_step=_common_step(textured))
    # Rounding has moved the mean of even blocks to whole codes: finer steps are lost.
    return BlockTrace(edges=edges, mean_step=_common_step(means, above=BLOCK))


def block_findings(trace: BlockTrace, source: ImageSource) -> list[Finding]:
    """Report strong compression that the file's own kind does not tell.

    Parameters
    ----------
    trace : BlockTrace
    source : ImageSource
        The scan.

    Returns
    -------
    list of Finding
    """
    if trace.mean_step <= COARSE_MEAN:
        return []
    return [
        Finding(
            severity="warning",
            where=source.name,
            what="the pixels come from a strongly compressed JPEG: the mean of each "
            f"block of {BLOCK} x {BLOCK} is rounded to {trace.mean_step:.1f} codes",
            fix="Save scans as 16-bit TIFF; converting a JPEG brings nothing back.",
        )
    ]


@dataclass(frozen=True, eq=False, kw_only=True)
class _Window:
    """Luma of a part of the scan in 8-bit codes, and its place in pixels."""

    top: int
    left: int
    luma: FloatArray


def _windows(
    source: ImageSource, geometry: Geometry, layout: Layout
) -> Iterator[_Window]:
    every = -(-len(layout.patches) // MOST_PATCHES)
    weights = GREY if source.channels == 3 else np.ones(1)
    for patch in layout.patches[::every]:
        x, y = geometry.to_scan([patch.box.center])[0]
        side = INSIDE * min(patch.box.width_mm, patch.box.height_mm)
        half = int(side * geometry.px_per_mm / 2)
        top, left = int(y) - half, int(x) - half
        codes = source.window(top, left, 2 * half, 2 * half)
        luma = (codes @ weights) * (255 / largest_code(source.dtype))
        yield _Window(top=top, left=left, luma=luma)


def _grid(windows: list[_Window], *, axis: int) -> tuple[float, int]:
    """Return how much steps stand out on the lines of a grid, and where it lies."""
    steps, count = np.zeros(BLOCK), np.zeros(BLOCK)
    for window in windows:
        step = np.abs(np.diff(window.luma, axis=axis)).mean(axis=1 - axis)
        first = window.left if axis else window.top
        place = (first + 1 + np.arange(len(step))) % BLOCK
        np.add.at(steps, place, step)
        np.add.at(count, place, 1)
    mean = steps / np.maximum(count, 1)
    line = int(mean.argmax())
    # Next to flat blocks any step stands out; 1/255 of a code keeps the ratio finite.
    usual = max(float(np.median(np.delete(mean, line))), 1 / 255)
    return float(mean[line] / usual), line


def _block_means(
    window: _Window, row: int, column: int
) -> tuple[FloatArray, npt.NDArray[np.bool_]]:
    """Return the means of the whole blocks in a window, and which are even."""
    top, left = (row - window.top) % BLOCK, (column - window.left) % BLOCK
    part = window.luma[top:, left:]
    rows, columns = (side // BLOCK for side in part.shape)
    part = part[: rows * BLOCK, : columns * BLOCK]
    blocks = part.reshape(rows, BLOCK, columns, BLOCK)
    even = np.ptp(blocks, axis=(1, 3)) == 0
    return blocks.mean(axis=(1, 3)).ravel(), even.ravel()


def _common_step(means: FloatArray, *, above: int = 1) -> float:
    """Return the largest step that the means are multiples of, 0 for none.

    Steps of the first coefficient from 2, or beyond `above`, are tried.

    Notes
    -----
    The first coefficient of a block is 8 times its mean less 128, and is rounded to a
    whole number of 1 to 255. Source: ITU-T T.81 (1992), A.3.3 and A.3.4.
    """
    if len(means) < LEAST_BLOCKS:
        return 0.0
    coefficient = BLOCK * (means - 128)
    steps = np.arange(above + 1, 65)
    score = np.cos(2 * np.pi * coefficient / steps[:, None]).mean(axis=1)
    # Divisors of the step fit as well, or nearly.
    good = steps[score > max(CLUSTERED, 0.9 * float(score.max()))]
    return float(good.max() / BLOCK) if len(good) else 0.0
