"""The printed number of a target whose layout is not known, for messages."""

from collections.abc import Sequence
from itertools import permutations, product

import numpy as np

from negcurve.reading.geometry import Geometry
from negcurve.reading.marks import Mark
from negcurve.reading.reduced import SmallArray
from negcurve.reading.strips import strip_scores
from negcurve.target.edge_strip import IDENTITY_ABOVE_MM
from negcurve.target.identity import decode_bits
from negcurve.target.layout import IDENTITY_CELL_MM, IDENTITY_COLUMNS, Box
from negcurve.values import FloatArray

ABOVE_MM = (0.0, IDENTITY_ABOVE_MM)
"""How far above the line of its marks the number of a sheet and of a strip stands."""


def read_number(grey: SmallArray, marks: Sequence[Mark]) -> int | None:
    """Read the identity of a target whose layout is not known.

    Parameters
    ----------
    grey : array, shape (rows, columns)
        Levels of the small picture.
    marks : sequence of Mark
        Places that look like marks; the number stands midway between two, or a little
        above that on a strip.

    Returns
    -------
    int or None
        32 bits; only where the checksum holds without a repair and nearly all columns
        are clear.
    """
    for one, other in permutations(marks[:8], 2):
        for scale in _scales(one, other):
            for mirrored, above_mm in product((False, True), ABOVE_MM):
                geometry = _between(one, other, scale=scale, mirrored=mirrored)
                number = _number_at(grey, geometry, above_mm)
                if number is not None:
                    return number
    return None


def _scales(one: Mark, other: Mark) -> FloatArray:
    """Scales to try for the strip between two marks; none where it has no room."""
    scale = (one.px_per_mm + other.px_per_mm) / 2
    distance = np.hypot(one.x - other.x, one.y - other.y) / scale
    if distance < IDENTITY_COLUMNS * IDENTITY_CELL_MM[0]:
        return np.empty(0)
    return np.asarray(scale * (1 + np.arange(-12, 13) * 0.005))


def _between(one: Mark, other: Mark, *, scale: float, mirrored: bool) -> Geometry:
    """Geometry with its origin midway between two marks, its x along their line."""
    start, end = complex(one.x, one.y), complex(other.x, other.y)
    along = (end - start) / abs(end - start) * scale
    down = along * (-1j if mirrored else 1j)
    middle = (start + end) / 2
    return Geometry(
        matrix=np.array(
            [
                [along.real, down.real, middle.real],
                [along.imag, down.imag, middle.imag],
                [0, 0, 1],
            ]
        ),
        size_mm=(1.0, 1.0),
    )


def _number_at(grey: SmallArray, geometry: Geometry, above_mm: float) -> int | None:
    width, height = IDENTITY_CELL_MM
    strip = Box(
        left_mm=-IDENTITY_COLUMNS / 2 * width,
        top_mm=-above_mm - height,
        width_mm=IDENTITY_COLUMNS * width,
        height_mm=2 * height,
    )
    scores = strip_scores(grey, geometry, strip)
    if not np.isfinite(scores).all() or (np.abs(scores) < 0.5).sum() > 3:
        return None
    # Stripes of equal bits come from anything but a strip; a real one has both.
    if not 8 <= (scores > 0).sum() <= IDENTITY_COLUMNS - 8:
        return None
    return decode_bits(scores)
