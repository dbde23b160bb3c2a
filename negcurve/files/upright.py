"""Turning stored pixels upright: the eight orientations of TIFF and Exif.

Source: TIFF 6.0 (1992), section 8, Orientation.
"""

import numpy as np

from negcurve.errors import InvalidValueError
from negcurve.values import CodeArray

Window = tuple[int, int, int, int]
"""Top, left, height, width."""

_FLIPS = {
    1: (False, False),
    2: (False, True),
    3: (True, True),
    4: (True, False),
    5: (False, False),
    6: (True, False),
    7: (True, True),
    8: (False, True),
}
"""Whether stored rows and stored columns run backwards, before rows become columns."""


def check_window(window: Window, *, height: int, width: int, name: str) -> None:
    """Raise InvalidValueError if a window does not lie inside a picture."""
    top, left, rows, columns = window
    if min(window) < 0 or top + rows > height or left + columns > width:
        raise InvalidValueError(
            f"rows {top}..{top + rows}, columns {left}..{left + columns} do not lie in "
            f"a picture of {height} x {width}",
            where=name,
        )


def is_turned(orientation: int) -> bool:
    """Whether stored rows are columns of the upright picture."""
    return orientation >= 5


def stored_window(
    window: Window, orientation: int, *, stored_height: int, stored_width: int
) -> Window:
    """Return where a window of the upright picture lies among the stored pixels.

    Parameters
    ----------
    window : Window
        In the upright picture.
    orientation : int
        1..8.
    stored_height, stored_width : int
        Of the picture as stored. [pixels]

    Returns
    -------
    Window
        In the picture as stored.
    """
    top, left, height, width = window
    if is_turned(orientation):
        top, left, height, width = left, top, width, height
    rows_back, columns_back = _FLIPS[orientation]
    if rows_back:
        top = stored_height - top - height
    if columns_back:
        left = stored_width - left - width
    return top, left, height, width


def upright(pixels: CodeArray, orientation: int) -> CodeArray:
    """Turn stored pixels upright.

    Parameters
    ----------
    pixels : array, shape (rows, columns, channels)
        As stored; the whole picture or a window of it.
    orientation : int
        1..8.

    Returns
    -------
    array, shape (rows, columns, channels)
        A view; rows and columns change places for orientations 5 to 8.
    """
    rows_back, columns_back = _FLIPS[orientation]
    view = pixels[:: -1 if rows_back else 1, :: -1 if columns_back else 1]
    return np.swapaxes(view, 0, 1) if is_turned(orientation) else view
