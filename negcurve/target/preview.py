"""A small picture of a target: the film as it is printed, and the print it gives.

The print is shown as the film's reverse and no more: how a paper answers is what the
target is there to find out.
"""

import numpy as np
import numpy.typing as npt

from negcurve.target.colouring import ColouredDrawing
from negcurve.target.drawing import Drawing
from negcurve.target.glyphs import GLYPH_HEIGHT, runs, text_width
from negcurve.target.layout import Layout
from negcurve.values import Progress, no_progress

PREVIEW_PPI = 90

_GROUND = 200
_EDGE = 24
_DOT = 2

Picture = npt.NDArray[np.uint8]


def preview(layout: Layout, *, progress: Progress = no_progress) -> Picture:
    """Draw film and print side by side.

    Parameters
    ----------
    layout : Layout
    progress : Progress
        Told about each strip.

    Returns
    -------
    array of uint8, shape (rows, columns), or (rows, columns, 3) with coloured ink
        At about `PREVIEW_PPI`.
    """
    film = _reduced(layout, progress)
    reverse = _reverse(film[:, ::-1] if layout.mirrored else film)
    way = "mirrored" if layout.mirrored else "not mirrored"
    panels = (
        _panel(film, f"The file, {way}"),
        _panel(reverse, "The print, tones not to scale"),
    )
    return np.concatenate(panels, axis=1)


def _reduced(layout: Layout, progress: Progress) -> Picture:
    """Average square blocks of pixels; a last, narrower block is left out."""
    coloured = layout.ink is not None or layout.has_mixtures
    drawing = ColouredDrawing(layout) if coloured else Drawing(layout)
    block = max(1, (layout.resolution_ppi + PREVIEW_PPI // 2) // PREVIEW_PPI)
    columns, rows = drawing.width // block, drawing.height // block
    channels = (3,) if coloured else ()
    picture = np.empty((rows, columns, *channels), dtype=np.uint8)
    step = max(1, 256 // block)
    for start in range(0, rows, step):
        stop = min(start + step, rows)
        codes = drawing.rows(start * block, stop * block)[:, : columns * block]
        blocks = codes.reshape(stop - start, block, columns, block, *channels)
        sums = blocks.sum(axis=(1, 3), dtype=np.int64)
        picture[start:stop] = np.rint(
            sums * 255 / (drawing.largest_code * block * block)
        )
        progress("preview", stop / rows)
    return picture


def _reverse(film: Picture) -> Picture:
    """Turn tones over; of colours it is only known that ink holds light back."""
    if film.ndim == 3:
        film = np.rint(film.mean(axis=2, keepdims=True)).astype(np.uint8)
        film = np.repeat(film, 3, axis=2)
    return np.asarray(255 - film)


def _panel(picture: Picture, title: str) -> Picture:
    """Put a picture on a grey ground with its title above it."""
    head = _EDGE + GLYPH_HEIGHT * _DOT
    rows, columns = picture.shape[:2]
    wide = max(columns, text_width(title) * _DOT)
    shape = (head + rows + _EDGE, wide + 2 * _EDGE, *picture.shape[2:])
    panel = np.full(shape, _GROUND, dtype=np.uint8)
    panel[head : head + rows, _EDGE : _EDGE + columns] = picture
    for row, start, stop in runs(title):
        top = _EDGE // 2 + row * _DOT
        panel[top : top + _DOT, _EDGE + start * _DOT : _EDGE + stop * _DOT] = 0
    return panel
