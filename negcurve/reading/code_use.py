"""How a scan uses its codes: gaps, ends and false depth, the marks of stretched tones.

Looks at the pixels in and around the patches, lid and table left out.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from negcurve.reading.geometry import Geometry
from negcurve.reading.patches import ENOUGH_PX_PER_MM, pixels_in
from negcurve.reading.reduced import largest_code
from negcurve.target.layout import Layout
from negcurve.values import CodeArray, Finding, ImageSource

MOST_PATCHES = 24
"""So many patches, spread over the sheet, hold enough pixels. Ours."""

AROUND_MM = 0.7
"""The rims of the patches hold the codes between their tones and the ground's. [mm]"""

NEAR, BESIDE, USED = 8, 4, 30
"""A code is missing where it does not occur although a quarter of the 8 codes to each
side occur so many times, and one of the 4 next to it on either side: by chance alone
exp(-30). Ours; it sees stretches up to four times."""

MOST_GAPS = 0.03
LEAST_GAPS = 5
"""Missing codes that are no accident: a share of all codes in use, and a number. A
stretch by 1.03 leaves a share of 0.03. Ours."""


@dataclass(frozen=True, kw_only=True)
class CodeUse:
    """Which codes a target's pixels have.

    Attributes
    ----------
    codes : int
        Codes in use, of the channel with most gaps.
    gaps : int
        Codes missing among them.
    black, white : float
        Share of pixels with all channels at the smallest and at the largest code, 0..1.
    black_any, white_any : float
        The same with any channel there.
    paper : float or None
        Level of bare paper in its brightest channel, None where none was seen.
    bits : int
        Bits that the codes really have: 8 where those of a 16-bit file are copies of
        8-bit ones.
    """

    codes: int
    gaps: int
    black: float
    white: float
    black_any: float
    white_any: float
    paper: float | None
    bits: int

    @property
    def is_combed(self) -> bool:
        """Whether codes are missing as stretching in 8 bits leaves them."""
        return self.gaps >= LEAST_GAPS and self.gaps > MOST_GAPS * self.codes


def code_use(
    source: ImageSource,
    geometry: Geometry,
    layout: Layout,
    *,
    paper: float | None = None,
) -> CodeUse:
    """Count codes in and around patches.

    Parameters
    ----------
    source : ImageSource
        The scan.
    geometry : Geometry
        Print to scan.
    layout : Layout
        What was printed.
    paper : float, optional
        Level of bare paper in its brightest channel, where it was seen.

    Returns
    -------
    CodeUse
    """
    pixels = _pixels(source, geometry, layout)
    largest = largest_code(source.dtype)
    bits = _bits(pixels)
    combs = [(0, 0)]
    if bits == 8:
        eight = (pixels if pixels.dtype == np.uint8 else pixels >> 8).astype(np.uint8)
        combs = [_gaps(np.bincount(each, minlength=256)) for each in eight.T]
    gaps, codes = max(combs)
    return CodeUse(
        codes=codes,
        gaps=gaps,
        black=float((pixels <= 0).all(axis=1).mean()),
        white=float((pixels >= largest).all(axis=1).mean()),
        black_any=float((pixels <= 0).any(axis=1).mean()),
        white_any=float((pixels >= largest).any(axis=1).mean()),
        paper=paper,
        bits=bits,
    )


def depth_findings(use: CodeUse, source: ImageSource) -> list[Finding]:
    """Report a 16-bit file of 8-bit codes."""
    if use.bits == 8 * source.dtype.itemsize:
        return []
    return [
        Finding(
            severity="warning",
            where=source.name,
            what="the file has 16 bits, its codes only 8",
            fix="Scan with 16 bits per channel from the start (48-bit colour or 16-bit "
            "grey); saving an 8-bit scan with 16 gains nothing.",
        )
    ]


def _pixels(source: ImageSource, geometry: Geometry, layout: Layout) -> CodeArray:
    """Return pixels of patches spread over the sheet, shape (n, channels)."""
    count = min(MOST_PATCHES, len(layout.patches))
    chosen = np.linspace(0, len(layout.patches) - 1, count).round().astype(int)
    boxes = [layout.patches[place].box.grown(AROUND_MM) for place in chosen]
    stride = max(1, int(geometry.px_per_mm / ENOUGH_PX_PER_MM))
    return np.concatenate(
        [pixels_in(source, geometry, box, stride=stride)[0] for box in boxes]
    )


def _bits(pixels: CodeArray) -> int:
    """Return how many bits the codes have: 8, 16, or 32 for floats.

    Notes
    -----
    Eight bits become sixteen as c * 257 or as c * 256: equal bytes, or a low byte of 0.
    """
    if pixels.dtype != np.uint16:
        return 8 * pixels.dtype.itemsize
    low, high = pixels & 255, pixels >> 8
    return 8 if bool((low == high).all() or (low == 0).all()) else 16


def _gaps(count: npt.NDArray[np.int64]) -> tuple[int, int]:
    """Return how many codes are missing among those in use, and how many these are."""
    windows = np.lib.stride_tricks.sliding_window_view
    usual = np.quantile(windows(np.pad(count, NEAR), 2 * NEAR + 1), 0.75, axis=1)
    beside = windows(np.pad(count, BESIDE), BESIDE).max(axis=1)
    below, above = beside[: len(count)], beside[BESIDE + 1 :]
    amid = (usual >= USED) & (below >= USED) & (above >= USED)
    gaps = amid & (count == 0)
    return int(gaps.sum()), int((gaps | (count >= USED)).sum())
