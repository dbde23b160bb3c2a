"""The words on a target: caption, labels, row numbers."""

from collections.abc import Iterator, Sequence

from negcurve.errors import InvalidValueError
from negcurve.target.glyphs import text_width
from negcurve.target.grid import Grid
from negcurve.target.layout import Text
from negcurve.target.page import FRAME, LABEL_BELOW, LABEL_DOT, Page, millimetres, units

_IDENTITY = "{identity}"
_LARGEST_DOT = units(0.3)
_SMALLEST_DOT = units(0.18)
_TITLE = (4, 3)
"""How much larger the first line is than the others, as a ratio."""


def caption(page: Page, lines: Sequence[str]) -> tuple[Text, ...]:
    """Set the caption, its first line larger, as large as its part of the page allows.

    Parameters
    ----------
    page : Page
    lines : sequence of str
        From the top.

    Returns
    -------
    tuple of Text

    Raises
    ------
    InvalidValueError
        If the lines would be too small to read.
    """
    left, top, width, height = page.caption
    title, *others = lines
    # Heights in dots: seven a line and four between lines, a little
    # more below the title, which is a third larger.
    dots_high = -(-7 * _TITLE[0] // _TITLE[1]) + 11 * len(others) + 2
    dots_wide = max(
        -(-_width(title) * _TITLE[0] // _TITLE[1]), *(_width(each) for each in others)
    )
    dot = min(_LARGEST_DOT, width // dots_wide, height // dots_high)
    if dot < _SMALLEST_DOT:
        raise InvalidValueError(
            "too narrow for a caption that can be read",
            where=f"sheet {page.sheet}",
            fix="Use a wider sheet or a smaller margin.",
        )
    title_dot = dot * _TITLE[0] // _TITLE[1]
    found = [_text(title, left, top, title_dot)]
    below = top + 7 * title_dot + 6 * dot
    for place, line in enumerate(others):
        found.append(_text(line, left, below + place * 11 * dot, dot))
    return tuple(found)


def labels(page: Page) -> Iterator[Text]:
    """Name the scale bars, the tape box and the tablet window."""
    left, top, width, height = page.bar_across
    length = f"{millimetres(width):g} mm"
    if page.window:
        # Under the bar, at its right end.
        place = left + width - text_width(length) * LABEL_DOT, top + height + units(1)
    else:
        place = left + width + units(1.5), top + (height - 7 * LABEL_DOT) // 2
    yield _text(length, *place, LABEL_DOT)
    for part, name in ((page.window, "step tablet"), (page.tape, "opaque tape")):
        if part:
            foot = part[1] + part[3] + LABEL_BELOW
            yield _text(name, part[0] - FRAME, foot, LABEL_DOT)


def row_numbers(page: Page, grid: Grid) -> Iterator[Text]:
    """Put the number of its first patch at the left of each row."""
    first = [
        place
        for place, box in enumerate(grid.boxes)
        if place == 0 or box[1] != grid.boxes[place - 1][1]
    ]
    for place in first:
        _, top, _, height = grid.boxes[place]
        middle = top + (height - 7 * LABEL_DOT) // 2
        yield _text(str(place + 1), page.left, middle, LABEL_DOT)


def _width(line: str) -> int:
    return text_width(line.replace(_IDENTITY, "0" * 8))


def _text(text: str, left: int, top: int, dot: int) -> Text:
    return Text(
        text=text,
        left_mm=millimetres(left),
        top_mm=millimetres(top),
        dot_mm=millimetres(dot),
    )
