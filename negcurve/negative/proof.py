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
MARGIN = 30
DOT = 2
"""Pixels of one dot of the lettering."""

SURROUND = 0.35
"""Linear light around the prints, a mid grey that a print is judged on."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Proof:
    """A proof.

    Attributes
    ----------
    picture : array of uint8, shape (rows, columns, 3)
        sRGB.
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
    long_edge : int
        Longest side of each of the two pictures. [pixels]

    Returns
    -------
    Proof
    """
    root = reduced_root(source, encoding, long_edge=long_edge)
    prints = [
        _print(root, solution, table, colour) for table in (solution.table, STRAIGHT)
    ]
    return Proof(
        picture=_side_by_side(prints, ("through the table", "uncorrected")),
        tone=np.interp(root, np.linspace(0, 1, CELLS + 1), root_tones(CELLS)),
    )


def reduced_root(
    source: ImageSource, encoding: Encoding, *, long_edge: int
) -> FloatArray:
    """Square root of luminance of a picture, averaged as light to page size.

    Returns
    -------
    array, shape (rows, columns)
        No side longer than `long_edge`. The last row and column may stand for fewer
        pixels than the others.
    """
    light = Light(encoding, source.dtype, power=1.0, precision=np.float64).reader()
    step = -(-max(source.height, source.width) // long_edge)
    starts = np.arange(0, source.width, step)
    across = np.diff(np.append(starts, source.width))
    rows = []
    for top in range(0, source.height, step):
        strip = source.rows(top, min(top + step, source.height))
        total = np.zeros(source.width)
        for part in blocks(strip.shape):
            total += light.of(strip[part]).sum(axis=0)
        rows.append(np.add.reduceat(total, starts) / (across * len(strip)))
    return np.asarray(np.sqrt(np.array(rows)))


def _print(
    root: FloatArray, solution: Solution, table: LookupTable, colour: ImageColour
) -> npt.NDArray[np.uint8]:
    low, high = solution.response.domain
    level = np.clip(table.negative_level(root_tones(CELLS)), low, high)
    density = solution.response.density(level)
    ends = (solution.ends.d_min, solution.ends.d_max)
    colours = print_colours(density, ends, colour)
    return colours[np.rint(root * CELLS).astype(np.intp)]


def _side_by_side(
    prints: list[npt.NDArray[np.uint8]], labels: tuple[str, str]
) -> npt.NDArray[np.uint8]:
    height, width = prints[0].shape[:2]
    label_height = DOT * GLYPH_HEIGHT + MARGIN // 2
    column = max(width, *(DOT * text_width(each) for each in labels))
    page = np.full(
        (height + 2 * MARGIN + label_height, 2 * column + 3 * MARGIN, 3),
        srgb_codes(SURROUND),
    )
    for place, (each, label) in enumerate(zip(prints, labels, strict=True)):
        left = MARGIN + place * (column + MARGIN)
        page[MARGIN : MARGIN + height, left : left + width] = each
        top = MARGIN + height + MARGIN // 2
        for row, start, stop in runs(label):
            dots = page[top + DOT * row : top + DOT * (row + 1)]
            dots[:, left + DOT * start : left + DOT * stop] = 0
    return page
