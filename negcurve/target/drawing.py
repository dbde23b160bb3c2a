"""From a layout to pixels, strip by strip.

Only additions, products, quotients, square roots and rounding are used, which IEEE 754
fixes to the last bit: a layout gives the same pixels on every platform.
"""

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from negcurve.target.glyphs import runs
from negcurve.target.identity import identity_bits
from negcurve.target.layout import (
    FRAME_MM,
    IDENTITY_CELL_MM,
    MARK_RADIUS_MM,
    MARK_RING_MM,
    Box,
    Layout,
    ScaleBar,
)
from negcurve.values import FloatArray

_LINE_MM = 0.3
_FRAME_ARM_MM = 3.0
_TICK_MM = 1.5

Rows = npt.NDArray[np.uint8] | npt.NDArray[np.uint16]


class Drawing:
    """The pixels of one layout, to be had in strips of rows."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self.width, self.height = layout.size_px
        self.largest_code = (1 << layout.bits) - 1
        self._dtype = np.uint8 if layout.bits == 8 else np.uint16
        self._scale = layout.resolution_ppi / 25.4
        inked = [*_identity_cells(layout), *_letters(layout), *_lines(layout)]
        self._inked = np.array(inked, dtype=np.float64).reshape(-1, 4) * self._scale

    def rows(self, start: int, stop: int) -> Rows:
        """Draw rows start..stop-1 of the file.

        Parameters
        ----------
        start, stop : int
            0 <= start <= stop <= height. [px]

        Returns
        -------
        array of uint8 or uint16, shape (stop - start, width)
            Codes, 0 full ink and the largest clear film.
        """
        ink = np.zeros((stop - start, self.width))
        self._add_rectangles(ink, start)
        for center in self.layout.marks_mm:
            self._add_mark(ink, start, center)
        level = 1 - np.minimum(ink, 1)
        codes: Rows = np.rint(level * self.largest_code).astype(self._dtype)
        self._set_patches(codes, start)
        return codes[:, ::-1] if self.layout.mirrored else codes

    def _add_rectangles(self, ink: FloatArray, start: int) -> None:
        """Add each rectangle's share of every pixel; rectangles do not overlap."""
        stop = start + ink.shape[0]
        near = (self._inked[:, 1] < stop) & (self._inked[:, 3] > start)
        for left, top, right, bottom in self._inked[near].tolist():
            x, across = _shares(left, right, 0, self.width)
            y, down = _shares(top, bottom, start, stop)
            place = np.s_[y - start : y - start + len(down), x : x + len(across)]
            ink[place] += np.multiply.outer(down, across)

    def _add_mark(
        self, ink: FloatArray, start: int, center: tuple[float, float]
    ) -> None:
        x, y = (each * self._scale for each in center)
        reach = MARK_RADIUS_MM * self._scale + 1
        columns = slice(max(int(x - reach), 0), int(x + reach) + 1)
        first, last = max(int(y - reach), start), int(y + reach) + 1
        rows = np.arange(first, max(min(last, start + ink.shape[0]), first)) + 0.5 - y
        across = np.arange(columns.start, min(columns.stop, self.width)) + 0.5 - x
        distance = np.sqrt(np.add.outer(rows * rows, across * across))
        place = np.s_[first - start : first - start + len(rows), columns]
        ink[place] += (
            self._disc(distance, MARK_RADIUS_MM)
            - self._disc(distance, MARK_RING_MM[1])
            + self._disc(distance, MARK_RING_MM[0])
        )

    def _disc(self, distance: FloatArray, radius_mm: float) -> FloatArray:
        """Share of each pixel inside a disc, its edge taken as straight."""
        return np.clip(radius_mm * self._scale - distance + 0.5, 0, 1)

    def _set_patches(self, codes: Rows, start: int) -> None:
        """Fill the patches; their edges lie on whole pixels, so all of them is flat."""
        for patch in self.layout.patches:
            place = self.place(patch.box, start, start + codes.shape[0])
            codes[place] = np.rint(patch.negative_level * self.largest_code)

    def place(self, box: Box, start: int, stop: int) -> tuple[slice, slice]:
        """Return rows and columns of a box within the rows start..stop-1, unmirrored.

        Parameters
        ----------
        box : Box
        start, stop : int
            [px]

        Returns
        -------
        (slice, slice)
            Rows counted from `start`; empty where the box lies elsewhere.
        """
        top, bottom = (
            min(max(int(edge * self._scale + 0.5), start), stop) - start
            for edge in (box.top_mm, box.bottom_mm)
        )
        left, right = (
            int(edge * self._scale + 0.5) for edge in (box.left_mm, box.right_mm)
        )
        return slice(top, bottom), slice(left, right)


def draw(layout: Layout, rows: slice = slice(None)) -> Rows:
    """Draw some rows of a target's file.

    Parameters
    ----------
    layout : Layout
    rows : slice
        Which rows; all by default.

    Returns
    -------
    array of uint8 or uint16, shape (number of rows, width)
        Codes as they go into the file, mirrored if the layout is.
    """
    drawing = Drawing(layout)
    start, stop, _ = rows.indices(drawing.height)
    return drawing.rows(start, max(start, stop))


def _shares(low: float, high: float, start: int, stop: int) -> tuple[int, FloatArray]:
    """Share of each pixel between two edges, from the first pixel that has any."""
    first = min(max(int(low), start), stop)
    last = max(min(int(high) + 1, stop), first)
    pixel = np.arange(first, last)
    share = np.minimum(pixel + 1, high) - np.maximum(pixel, low)
    return first, np.maximum(share, 0)


Edges = tuple[float, float, float, float]
"""Left, top, right, bottom. [mm]"""


def _identity_cells(layout: Layout) -> Iterator[Edges]:
    width, height = IDENTITY_CELL_MM
    bits = identity_bits(layout.identity)
    for box in layout.identity_boxes:
        for column, bit in enumerate(bits):
            left = box.left_mm + column * width
            top = box.top_mm + bit * height
            yield left, top, left + width, top + height


def _letters(layout: Layout) -> Iterator[Edges]:
    for text in layout.lettering():
        dot = text.dot_mm
        for row, start, stop in runs(text.text):
            left, top = text.left_mm, text.top_mm + row * dot
            yield left + start * dot, top, left + stop * dot, top + dot


def _lines(layout: Layout) -> Iterator[Edges]:
    for bar in layout.scale_bars:
        yield from _scale_bar(bar)
    for box in (layout.tape_box, layout.tablet_window):
        if box is not None:
            yield from _frame(box)


def _scale_bar(bar: ScaleBar) -> Iterator[Edges]:
    """Spine, end strokes and a tick every 10 mm; measured over its outer edges."""
    box, thick = bar.box, _LINE_MM
    across = bar.direction == "across"
    length, depth = bar.length_mm, box.height_mm if across else box.width_mm
    pieces = [(thick, depth - thick, length - thick, depth), (0.0, 0.0, thick, depth)]
    pieces.append((length - thick, 0.0, length, depth))
    for tick in range(10, round(length), 10):
        half = thick / 2
        pieces.append((tick - half, depth - _TICK_MM, tick + half, depth - thick))
    for start, near, stop, far in pieces:
        if across:
            yield (
                box.left_mm + start,
                box.top_mm + near,
                box.left_mm + stop,
                box.top_mm + far,
            )
        else:
            yield (
                box.left_mm + near,
                box.top_mm + start,
                box.left_mm + far,
                box.top_mm + stop,
            )


def _frame(box: Box) -> Iterator[Edges]:
    """Corner angles outside a box, so that the film inside stays clear."""
    outer = box.grown(FRAME_MM)
    arm, thick = _FRAME_ARM_MM, _LINE_MM
    for left in (outer.left_mm, outer.right_mm - arm):
        for top in (outer.top_mm, outer.bottom_mm - thick):
            yield left, top, left + arm, top + thick
    for left in (outer.left_mm, outer.right_mm - thick):
        yield left, outer.top_mm + thick, left + thick, outer.top_mm + arm
        yield left, outer.bottom_mm - arm, left + thick, outer.bottom_mm - thick
