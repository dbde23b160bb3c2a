"""A border around the negative: clear or inked, with corner ticks, caption, strip.

Knows how much ink a white border needs and how its bands are drawn; the picture inside
is left to `rendering`.
"""

import threading
from dataclasses import dataclass
from typing import Any, Literal, get_args

import numpy as np

from negcurve.errors import InvalidValueError
from negcurve.negative.size import MM_PER_INCH
from negcurve.response.solution import Solution
from negcurve.response.table import LookupTable
from negcurve.target.drawing import Drawing
from negcurve.target.glyphs import GLYPH_HEIGHT, glyphs, runs, text_width
from negcurve.target.layout import Layout
from negcurve.values import CodeArray, StripSink, placed

Surround = Literal["clear", "ink"]
"""Clear film, which prints black; or ink, which prints paper white."""

INK_TOLERANCE = 0.01
"""Print density above D-min at which a border counts as white. More ink than that
stays wet and cockles the film; common practice, no source. [D]"""

DOT_MM = 0.25
"""One dot of the lettering, which is nine high."""

GAP_MM = 1.0
"""Between the picture and what is drawn around it."""

TICK_MM, TICK_THICK_MM = 3.0, 0.2

SMALLEST_CAPTION_MM = GAP_MM + GLYPH_HEIGHT * DOT_MM

STRIP_TOP_MM = 5.0
"""From the picture to the strip below it; ticks and caption stand between."""

BAND_ROWS = 128
"""Rows of the strip that are drawn at a time."""


def least_ink_level(table: LookupTable, solution: Solution | None) -> float:
    """Highest negative level that still prints paper white.

    Parameters
    ----------
    table : LookupTable
    solution : Solution, optional
        Without its response the level of image tone 1 is taken.

    Returns
    -------
    float
        [1]
    """
    white = float(table.negative_level(1.0))
    if solution is None:
        return white
    level = float(solution.response.negative_level(solution.ends.d_min + INK_TOLERANCE))
    return level if np.isfinite(level) else white


@dataclass(frozen=True, kw_only=True)
class Border:
    """What stands around the picture.

    Attributes
    ----------
    width_px : int
        On each side, 1 or more.
    resolution_ppi : float
        [pixels per inch]
    surround : {"clear", "ink"}
    ink_level : float
        Of a white border, and of ticks and caption on a black one. [1]
    caption : str
        Below the picture; letters without a glyph become `?`.
    mirrored : bool
        As the picture.
    strip : Layout, optional
        Drawn below the picture, on clear film whatever the surround; its resolution,
        bits and mirroring are the negative's.
    """

    width_px: int
    resolution_ppi: float
    surround: Surround = "clear"
    ink_level: float = 0.0
    caption: str = ""
    mirrored: bool = True
    strip: Layout | None = None

    def __post_init__(self) -> None:
        if self.surround not in get_args(Surround):
            raise InvalidValueError(
                f"{self.surround!r} is not known",
                where="surround",
                fix="Use clear (prints black) or ink (prints white).",
            )
        if self.width_px < 1:
            raise InvalidValueError(
                "is less than a pixel wide",
                where="border",
                fix="Give some millimetres, such as 12mm, or leave it out.",
            )

    @property
    def levels(self) -> tuple[float, float]:
        """Negative levels of the ground and of what is drawn on it."""
        clear = (1.0, self.ink_level)
        return clear if self.surround == "clear" else clear[::-1]

    @property
    def bottom_px(self) -> int:
        """Rows below the picture, `width_px` unless a strip needs more."""
        if self.strip is None:
            return self.width_px
        return max(self.width_px, self.strip_top_px + self.strip.size_px[1])

    @property
    def strip_top_px(self) -> int:
        """Rows between picture and strip."""
        return self.pixels(STRIP_TOP_MM)

    def pixels(self, length_mm: float) -> int:
        """Whole pixels of a length, at least 1."""
        return max(1, round(length_mm / MM_PER_INCH * self.resolution_ppi))


class BorderedSink:
    """Passes on rows with a border around them.

    Parameters
    ----------
    sink : StripSink
        Takes rows that are wider by the border on both sides, and more of them.
    border : Border
    width, height : int
        Of the picture. [pixels]
    dtype : dtype
        uint16 or uint8, as the rows that will come.
    """

    def __init__(
        self,
        sink: StripSink,
        border: Border,
        *,
        width: int,
        height: int,
        dtype: np.dtype[Any],
    ) -> None:
        self._sink = sink
        self._placed = placed(sink)
        self._border = border
        self._height, self._width = height, width
        self._left = height
        largest = int(np.iinfo(dtype).max)
        self._ground, self._mark = (
            dtype.type(round(level * largest)) for level in border.levels
        )
        self._started = False
        self._lock = threading.Lock()

    @property
    def in_any_order(self) -> bool:
        """Whether `write_at` may be used from any thread: as the sink."""
        return self._placed is not None

    def write(self, rows: CodeArray) -> None:
        """Append rows of the picture; the border follows by itself."""
        self.write_at(self._height - self._left, rows)

    def write_at(self, top: int, rows: CodeArray) -> None:
        """Write rows of the picture in their place."""
        with self._lock:
            is_first, self._started = not self._started, True
        if is_first:
            self._put(0, self._band(top=True))
        edge = self._border.width_px
        height, width = rows.shape
        padded = np.full((height, width + 2 * edge), self._ground)
        padded[:, edge : edge + width] = rows
        self._put(edge + top, padded)
        with self._lock:
            self._left -= height
            is_last = self._left == 0
        if is_last:
            self._write_below()

    def _put(self, top: int, rows: CodeArray) -> None:
        """Hand on rows of the film."""
        if self._placed is None:
            self._sink.write(rows)
        else:
            self._placed.write_at(top, rows)

    def _write_below(self) -> None:
        strip = self._border.strip
        top = self._border.width_px + self._height
        if strip is None:
            self._put(top, self._band(top=False))
            return
        self._put(top, self._band(top=False, rows=self._border.strip_top_px))
        top += self._border.strip_top_px
        drawing = Drawing(strip)
        room = self._width + 2 * self._border.width_px - drawing.width
        sides = ((0, 0), (room // 2, room - room // 2))
        for start in range(0, drawing.height, BAND_ROWS):
            rows = self._as_wanted(
                drawing.rows(start, min(start + BAND_ROWS, drawing.height))
            )
            self._put(top + start, np.pad(rows, sides, constant_values=self._ground))
        top += drawing.height
        left = self._border.width_px + self._height + self._border.bottom_px - top
        if left:
            shape = (left, room + drawing.width)
            self._put(top, np.full(shape, self._ground))

    def _as_wanted(self, rows: CodeArray) -> CodeArray:
        """Codes of 8 bits as 16-bit ones, where an 8-bit file is dithered last."""
        if rows.dtype == self._ground.dtype:
            return rows
        return np.asarray(rows.astype(np.uint16) * 257)

    def _band(self, *, top: bool, rows: int | None = None) -> CodeArray:
        """Draw the band above or below the picture, as wide as the border or so."""
        border = self._border
        edge = border.width_px
        drawn = np.zeros((rows or edge, self._width + 2 * edge), bool)
        self._draw_ticks(drawn)
        if top:
            drawn = drawn[::-1]
        else:
            self._draw_caption(drawn)
        if border.mirrored:
            drawn = drawn[:, ::-1]
        return np.asarray(np.where(drawn, self._mark, self._ground))

    def _draw_ticks(self, drawn: CodeArray) -> None:
        border = self._border
        edge = border.width_px
        gap, thick = border.pixels(GAP_MM), border.pixels(TICK_THICK_MM)
        far = border.pixels(GAP_MM + TICK_MM)
        drawn[gap:far, edge : edge + thick] = True
        drawn[gap:far, edge + self._width - thick : edge + self._width] = True
        drawn[:thick, max(edge - far, 0) : max(edge - gap, 0)] = True
        drawn[:thick, edge + self._width + gap : edge + self._width + far] = True

    def _draw_caption(self, drawn: CodeArray) -> None:
        border = self._border
        dot = border.pixels(DOT_MM)
        top = border.pixels(GAP_MM)
        left = border.width_px + border.pixels(2 * GAP_MM)
        room = (self._width - 2 * border.pixels(2 * GAP_MM)) // dot
        if top + GLYPH_HEIGHT * dot > len(drawn):
            return
        for row, start, stop in runs(_lettering(border.caption, room)):
            down, across = top + row * dot, left + start * dot
            drawn[down : down + dot, across : left + stop * dot] = True


def _lettering(caption: str, room: int) -> str:
    """Write a caption in letters that there are, as far as there is room. [dots]."""
    known = "".join(each if each in glyphs() else "?" for each in caption)
    while known and text_width(known) > room:
        known = known[:-1]
    return known
