"""How a sheet is cut into parts, in whole units of 1/200 mm.

From the top: marks with the printed identity between them; patches, with row numbers
at their left and a scale bar at their right; caption; tablet window; marks again.
Sheets without a tablet window have the tape box and the other scale bar by the caption.
"""

from dataclasses import dataclass

from negcurve.errors import InvalidValueError
from negcurve.target.grid import Rectangle
from negcurve.target.layout import (
    FRAME_MM,
    IDENTITY_CELL_MM,
    IDENTITY_COLUMNS,
    MARK_RADIUS_MM,
    TABLET_CLEARANCE_MM,
)
from negcurve.target.sizes import UNITS_PER_MM, sheet_name, sheet_size


def units(millimetres: float) -> int:
    """Whole units of a length in millimetres."""
    return round(millimetres * UNITS_PER_MM)


def millimetres(length: int) -> float:
    """Length in millimetres of whole units."""
    return length / UNITS_PER_MM


MARK = units(2 * MARK_RADIUS_MM)
STRIP = (units(IDENTITY_COLUMNS * IDENTITY_CELL_MM[0]), units(2 * IDENTITY_CELL_MM[1]))
FRAME = units(FRAME_MM)
"""Width that the corner angles of a framed box take up outside it."""

LABEL_DOT = units(0.25)
LABEL_BELOW = units(1.7)
"""From a framed box to its label, so that the frame stays clear."""

_BESIDE_STRIP = units(1.5)
_LABEL = LABEL_BELOW + 7 * LABEL_DOT
_END_STROKE = units(3)
_SMALL_SIDE = units(150)

_WINDOW = (units(144), units(28))
"""Takes step tablets up to 140 x 25 mm; common practice, no source."""

_TAPE = (units(18), units(9))
_TAPE_BY_WINDOW = units(20)
_LEAST_BESIDE_WINDOW = units(8)


@dataclass(frozen=True, kw_only=True)
class Page:
    """The parts of a sheet; lengths in 1/200 mm, rectangles (left, top, width, height).

    Attributes
    ----------
    sheet : str
    width, height, margin : int
    patches : Rectangle
        Where patches may lie; its height may be 0 or less on a small sheet.
    caption : Rectangle
    bar_across, bar_down : Rectangle or None
    tape, window : Rectangle or None
    """

    sheet: str
    width: int
    height: int
    margin: int
    patches: Rectangle
    caption: Rectangle
    bar_across: Rectangle
    bar_down: Rectangle | None
    tape: Rectangle | None
    window: Rectangle | None

    @property
    def left(self) -> int:
        """Left margin line."""
        return self.margin

    @property
    def right(self) -> int:
        """Right margin line."""
        return self.width - self.margin

    @property
    def mark_lines(self) -> tuple[int, int]:
        """Heights on which the upper and the lower marks are centred."""
        return self.margin + MARK // 2, self.height - self.margin - MARK // 2


def cut_page(
    sheet: str, *, margin: int | None = None, tablet_window: bool | None = None
) -> Page:
    """Cut a sheet into its parts.

    Parameters
    ----------
    sheet : str
        Name of a size, see `sizes.sheet_size`.
    margin : int, optional
        Clear edge; 12 mm, or 8 mm on sheets narrower than 120 mm. [1/200 mm]
    tablet_window : bool, optional
        Whether there is one; by default on sheets of at least 200 x 250 mm.

    Returns
    -------
    Page

    Raises
    ------
    InvalidValueError
        If marks, identity or window do not fit the width.
    """
    name, (width, height) = sheet_name(sheet), sheet_size(sheet)
    short, long = min(width, height), max(width, height)
    if margin is None:
        margin = units(12 if short >= units(120) else 8)
    if tablet_window is None:
        tablet_window = short >= units(200) and long >= units(250)
    _check_width(name, width, margin)
    small = short < _SMALL_SIDE
    inner = (margin, margin + MARK, width - 2 * margin, height - 2 * (margin + MARK))
    if tablet_window:
        parts = _parts_with_window(name, inner)
    else:
        parts = _parts_without_window(inner, small=small)
    patches, bar_down = _patch_area(inner, parts, small=small)
    return Page(
        sheet=name,
        width=width,
        height=height,
        margin=margin,
        patches=patches,
        caption=parts.caption,
        bar_across=parts.bar,
        bar_down=bar_down,
        tape=parts.tape,
        window=parts.window,
    )


@dataclass(frozen=True, kw_only=True)
class _Parts:
    """What stands below the patches; `foot` is where the patches end."""

    foot: int
    caption: Rectangle
    bar: Rectangle
    tape: Rectangle | None
    window: Rectangle | None


def _check_width(sheet: str, width: int, margin: int) -> None:
    needed = 2 * MARK + STRIP[0] + 2 * _BESIDE_STRIP
    if width - 2 * margin < needed:
        raise InvalidValueError(
            f"{millimetres(width):g} mm wide; marks and printed identity need "
            f"{millimetres(needed):g} mm between margins of {millimetres(margin):g} mm",
            where=f"sheet {sheet}",
            fix="Use a wider sheet or a smaller margin.",
        )


def _parts_with_window(sheet: str, inner: Rectangle) -> _Parts:
    left, top, inside, height = inner
    width, tall = _WINDOW
    if inside < width + 2 * FRAME:
        raise InvalidValueError(
            f"no room for a tablet window {millimetres(width):g} mm long",
            where=f"sheet {sheet}",
            fix="Leave the window out with --no-tablet-window, or use a wider sheet.",
        )
    window_top = top + height - units(4) - _LABEL - tall
    caption_height = units(13.5)
    caption_top = window_top - units(3) - caption_height
    foot = min(caption_top - units(2.5), window_top - units(TABLET_CLEARANCE_MM))
    bar = _bar_length(inside - units(66), foot - top)
    tape_left = left + inside - FRAME - _TAPE_BY_WINDOW
    has_tape = tape_left - (left + FRAME + width) >= _LEAST_BESIDE_WINDOW
    return _Parts(
        foot=foot,
        caption=(left, caption_top, inside - bar - units(6), caption_height),
        bar=(left + inside - bar, caption_top, bar, _END_STROKE),
        tape=(tape_left, window_top, _TAPE_BY_WINDOW, tall) if has_tape else None,
        window=(left + FRAME, window_top, width, tall),
    )


def _parts_without_window(inner: Rectangle, *, small: bool) -> _Parts:
    left, top, inside, height = inner
    bar_top = top + height - units(2.5 if small else 4) - _END_STROKE
    caption_height = units(11.25 if small else 13.5)
    caption_top = bar_top - units(1.8) - caption_height
    foot = caption_top - units(2.5)
    bar = _bar_length(inside - units(12) - _TAPE[0], foot - top)
    return _Parts(
        foot=foot,
        caption=(left, caption_top, inside - _TAPE[0] - units(4), caption_height),
        bar=(left, bar_top, bar, _END_STROKE),
        tape=(left + inside - FRAME - _TAPE[0], caption_top + FRAME, *_TAPE),
        window=None,
    )


def _patch_area(
    inner: Rectangle, parts: _Parts, *, small: bool
) -> tuple[Rectangle, Rectangle | None]:
    """Return the area left for patches, and the scale bar beside it if that fits."""
    left, top, inside, _ = inner
    gutter, gap = (units(5), units(2.5)) if small else (units(6), units(4))
    top += gap
    height = parts.foot - top
    area = left + gutter, top, inside - 2 * gutter, height
    length = parts.bar[2]
    bar = left + inside - _END_STROKE, top, _END_STROKE, length
    return area, bar if length <= height else None


def _bar_length(across: int, down: int) -> int:
    """Length of both scale bars: 100 mm where there is room for it, else 50 mm."""
    return units(100) if min(across, down - units(4)) >= units(100) else units(50)
