"""Scans of film for the tests: the same sheet as in `prints`, seen as film on white."""

from dataclasses import dataclass

import numpy as np

from tests.reading.prints import BORDER_MM, ArraySource, Print, SetUp, draw_levels


@dataclass
class FilmSetUp(SetUp):
    """How a film was printed and scanned.

    `lines` are (axis, place_mm, width_mm, share of ink left); axis 0 runs across at a
    height, axis 1 runs down at a distance from the left.
    """

    coated_mm: float = 100.0
    lines: tuple = ()
    full_ink: float = 1.3
    ink_limit: float = 1.0
    least_ink: float = 0.0
    swapped: tuple = ()


class Film(Print):
    """A scan of film, light where it is clear."""

    def density_of(self, level):
        """Density of the film on white, seen by a scanner, before lines."""
        s = self.setup
        ink = np.clip(1 - np.asarray(level, float), 0, 1)
        for low, high in s.swapped:
            ink = np.where((ink > low) & (ink < high), low + high - ink, ink)
        ink = np.where(ink < s.least_ink, 0, np.minimum(ink, s.ink_limit))
        return 0.06 + s.full_ink * ink**0.9

    def _canvas(self):
        s, scale = self.setup, self.canvas_scale
        density = self.density_of(draw_levels(self.layout, scale))
        ink = density - 0.06
        for axis, place, width, left in s.lines:
            start = (place + BORDER_MM - width / 2) * scale
            pixel = np.arange(ink.shape[axis])
            share = np.clip(
                np.minimum(pixel + 1, start + width * scale) - np.maximum(pixel, start),
                0,
                1,
            )
            keep = 1 - share * (1 - left)
            ink = ink * (keep[:, None] if axis == 0 else keep[None, :])
        if s.grain:
            grain = self.rng.standard_normal(ink.shape)
            ink = ink * (1 + s.grain * grain)
        return 10.0 ** -(0.06 + ink)


def film_of(layout, *, stated=True, **setup):
    """Print a layout on film and scan that; return the source and the film."""
    made = Film(layout, FilmSetUp(**setup))
    ppi = made.setup.ppi
    source = ArraySource(
        made.codes(), name="film.tif", resolution_ppi=(ppi, ppi) if stated else None
    )
    return source, made
