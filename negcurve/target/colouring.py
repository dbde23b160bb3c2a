"""A target's pixels in colour: levels of one ink, patches with inks of their own."""

import numpy as np

from negcurve.target.drawing import Drawing
from negcurve.target.ink import BLACK, Ink
from negcurve.target.layout import Layout
from negcurve.values import CodeArray, FloatArray


class ColouredDrawing:
    """The pixels of one layout as red, green and blue, to be had in strips of rows."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        self._drawing = Drawing(layout)
        self.width, self.height = self._drawing.width, self._drawing.height
        self.largest_code = self._drawing.largest_code
        codes = np.arange(self.largest_code + 1) / self.largest_code
        self._colours = self._codes_of(layout.ink or BLACK, codes)

    def rows(self, start: int, stop: int) -> CodeArray:
        """Draw rows start..stop-1 of the file.

        Parameters
        ----------
        start, stop : int
            0 <= start <= stop <= height. [px]

        Returns
        -------
        array of uint8 or uint16, shape (stop - start, width, 3)
            Codes; three equal ones where the ink is black.
        """
        colour = self._colours[self._drawing.rows(start, stop)]
        upright = colour[:, ::-1] if self.layout.mirrored else colour
        for patch in self.layout.patches:
            if patch.ink is not None:
                level = np.array(patch.negative_level)
                place = self._drawing.place(patch.box, start, stop)
                upright[place] = self._codes_of(patch.ink, level)
        return colour

    def _codes_of(self, ink: Ink, level: FloatArray) -> CodeArray:
        kind = np.uint8 if self.layout.bits == 8 else np.uint16
        return np.rint(ink.colour(level) * self.largest_code).astype(kind)
