"""The proof: how the print should look, beside the one from an uncorrected negative.

Knows how to reduce a picture to a page and what each tone prints as; it is made for
looking at before ink and paper are spent.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from negcurve.encoding import Encoding
from negcurve.negative.display import ImageColour, print_colours, srgb_codes
from negcurve.negative.painting import blocks
from negcurve.negative.tones import STRAIGHT, Light, root_tones
from negcurve.response.solution import Solution
from negcurve.response.table import LookupTable
from negcurve.target.glyphs import GLYPH_HEIGHT, runs, text_width
from negcurve.values import FloatArray, ImageSource

DESCRIPTION = "negcurve proof"

LONG_EDGE = 900
"""Longest side of each of the two pictures. [pixels]"""

CELLS = 4096
MARGIN, GAP = 30, 12
DOT = 2
"""Pixels of one dot of the lettering."""

BARS, BAR_PIXELS = 72, 6
"""Height of the histogram of print densities, width of a bar. [pixels]"""

CORRECTED, UNCORRECTED = "through the table", "uncorrected"
"""Labels, the longer first: no column is narrower."""

SURROUND = 0.35
"""Linear light around the prints, a mid grey that a print is judged on."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Proof:
    """A proof.

    Attributes
    ----------
    picture : array of uint8, shape (rows, columns, 3)
        sRGB; both prints, with histograms of their densities.
    tone : array, shape (rows, columns)
        Image tone of the reduced picture. [1]
    """

    picture: npt.NDArray[np.uint8]
    tone: FloatArray


def proof(
    source: ImageSource,
    *,
    encoding: Encoding,
    solution: Solution,
    colour: ImageColour = "neutral",
    scale_black: bool = True,
    long_edge: int = LONG_EDGE,
) -> Proof:
    """Draw the proof of a picture.

    Parameters
    ----------
    source : ImageSource
        The picture.
    encoding : Encoding
        Of the picture.
    solution : Solution
        Gives the table, the print's densities and its ends.
    colour : {"neutral", "warm", "blue"}
        Colour of the image on paper.
    scale_black : bool
        See `image_tone`.
    long_edge : int
        Longest side of each of the two pictures. [pixels]

    Returns
    -------
    Proof
    """
    light = Light(
        encoding,
        source.dtype,
        power=1.0,
        precision=np.float64,
        scale_black=scale_black,
    )
    root = reduced_root(source, light, long_edge=long_edge)
    place = np.rint(root * CELLS).astype(np.intp)
    ends = (solution.ends.d_min, solution.ends.d_max)
    columns = []
    for table, label in (
        (solution.table, CORRECTED),
        (STRAIGHT, UNCORRECTED),
    ):
        density = _densities(solution, table)
        colours = print_colours(density, ends, colour)
        columns.append(_column(colours[place], label, density[place], ends))
    tone = np.interp(root, np.linspace(0, 1, CELLS + 1), root_tones(CELLS))
    return Proof(picture=_side_by_side(columns), tone=tone)


def reduced_root(source: ImageSource, light: Light, *, long_edge: int) -> FloatArray:
    """Square root of luminance of a picture, averaged as light to page size.

    Parameters
    ----------
    source : ImageSource
    light : Light
        Gives luminance, power 1.
    long_edge : int
        [pixels]

    Returns
    -------
    array, shape (rows, columns)
        No side longer than `long_edge`. The last row and column may stand for fewer
        pixels than the others.
    """
    reader = light.reader()
    step = -(-max(source.height, source.width) // long_edge)
    starts = np.arange(0, source.width, step)
    across = np.diff(np.append(starts, source.width))
    rows = []
    for top in range(0, source.height, step):
        strip = source.rows(top, min(top + step, source.height))
        total = np.zeros(source.width)
        for part in blocks(strip.shape):
            total += reader.of(strip[part]).sum(axis=0)
        rows.append(np.add.reduceat(total, starts) / (across * len(strip)))
    return np.asarray(np.sqrt(np.array(rows)))


def _densities(solution: Solution, table: LookupTable) -> FloatArray:
    """Print density along the root of luminance, shape (CELLS + 1,)."""
    low, high = solution.response.domain
    level = np.clip(table.negative_level(root_tones(CELLS)), low, high)
    return solution.response.density(level)


def _column(
    picture: npt.NDArray[np.uint8],
    label: str,
    density: FloatArray,
    ends: tuple[float, float],
) -> npt.NDArray[np.uint8]:
    """One print with its label and the histogram of its densities below."""
    height, width = picture.shape[:2]
    scale = (f"D {ends[0]:.2f}", f"D {ends[1]:.2f}")
    wide = max(width, DOT * text_width(CORRECTED))
    line = DOT * GLYPH_HEIGHT
    tops = np.cumsum([height, GAP, line, GAP, BARS, GAP // 2, line])
    column = np.full((int(tops[-1]), wide, 3), srgb_codes(SURROUND))
    column[:height, :width] = picture
    _write(column[tops[1] :], label)
    column[tops[3] : tops[4]][_bars(density, ends, wide)] = 0
    _write(column[tops[5] :], scale[0])
    _write(column[tops[5] :, wide - DOT * text_width(scale[1]) :], scale[1])
    return column


def _bars(
    density: FloatArray, ends: tuple[float, float], width: int
) -> npt.NDArray[np.bool_]:
    """Histogram as ink, shape (BARS, width); the lowest row is the base line."""
    bins = max(8, width // BAR_PIXELS)
    counts, _ = np.histogram(density, bins, range=ends)
    # Square root, so that a few large flat areas leave the other tones visible.
    heights = np.ceil(np.sqrt(counts / max(counts.max(), 1)) * (BARS - 1))
    drawn = np.arange(BARS)[::-1, np.newaxis] <= heights
    return np.asarray(drawn[:, np.arange(width) * bins // width])


def _write(area: npt.NDArray[np.uint8], text: str) -> None:
    """Write one line at the top left of an area, in black."""
    for row, start, stop in runs(text):
        area[DOT * row : DOT * (row + 1), DOT * start : DOT * stop] = 0


def _side_by_side(columns: list[npt.NDArray[np.uint8]]) -> npt.NDArray[np.uint8]:
    height, width = columns[0].shape[:2]
    shape = (height + 2 * MARGIN, 2 * width + 3 * MARGIN, 3)
    page = np.full(shape, srgb_codes(SURROUND))
    for place, column in enumerate(columns):
        left = MARGIN + place * (width + MARGIN)
        page[MARGIN : MARGIN + height, left : left + width] = column
    return page
