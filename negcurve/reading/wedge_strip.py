"""A stretch of a scan seen level: its exact angle, and the rows that belong to it.

Takes what `negcurve.reading.wedge_search` offers; what the stretch shows is left to
`negcurve.reading.wedge_cells`.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from negcurve.reading.wedge_search import Stretch
from negcurve.values import FloatArray

IntArray = npt.NDArray[np.int_]

AROUND_MM = 7.0
"""So much is seen above and below a stretch. [mm]"""

REACH = 0.9
"""How far beyond the core of its fall a strip may go, in lengths of that. [1]"""

TURNS, SETTLED = 5, np.radians(0.1)
"""So often the angle of a stretch is set right by the lean of its edges, until they
lean by less. What does not settle is no wedge."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Strip:
    """A stretch seen level, darkening to the right.

    Attributes
    ----------
    rows : array, shape (height, width)
        Log level, NaN where nothing may lie.
    top, bottom : int
        Rows of the strip itself.
    matrix : array, shape (2, 3)
        From x, y in `rows` to the picture. [px]
    core : (first, last)
        Columns between which the middle 70 % of the fall lie.
    """

    rows: FloatArray
    top: int
    bottom: int
    matrix: FloatArray
    core: tuple[float, float]

    @property
    def inner(self) -> FloatArray:
        """Rows well inside the strip."""
        edge = max(1, round(0.12 * (self.bottom - self.top)))
        return self.rows[self.top + edge : self.bottom - edge]


def strip_of(picture: FloatArray, stretch: Stretch, px_per_mm: float) -> Strip | None:
    """See a stretch level, at its exact angle, and find how high it is.

    Returns
    -------
    Strip or None
        None where the rows do not agree with each other.
    """
    half = (
        int((0.5 + REACH) * stretch.length) + 2,
        int(0.5 * stretch.height + AROUND_MM * px_per_mm),
    )
    core = half[0] - stretch.length / 2, half[0] + stretch.length / 2
    near = max(1, int(0.35 * stretch.height))
    middle = half[1] + np.arange(-near, near + 1)
    angle = stretch.angle
    for _ in range(TURNS):
        rows = _level_view(picture, stretch.middle, angle, half)
        turn = _turn(rows[middle], middle - half[1], core)
        if abs(turn) < SETTLED:
            break
        angle += turn
    else:
        return None
    extent = _extent(rows, middle, core)
    if extent is None:
        return None
    cos, sin = np.cos(angle), np.sin(angle)
    turned = np.array([[cos, -sin], [sin, cos]])
    origin = np.array(stretch.middle) - turned @ (np.array(half) + 0.5)
    return Strip(
        rows=rows,
        top=extent[0],
        bottom=extent[1],
        matrix=np.column_stack([turned, origin]),
        core=core,
    )


def _level_view(
    picture: FloatArray,
    middle: tuple[float, float],
    angle: float,
    half: tuple[int, int],
) -> FloatArray:
    """Sample a turned rectangle, a pixel for a pixel; NaN outside."""
    cos, sin = np.cos(angle), np.sin(angle)
    # Rows, columns of the picture from rows, columns of the view.
    matrix = np.array([[cos, sin], [-sin, cos]])
    # Pixel centres lie at half-integer places.
    centre = np.array([middle[1] - 0.5, middle[0] - 0.5])
    offset = centre - matrix @ np.array([half[1], half[0]])
    return np.asarray(
        ndimage.affine_transform(
            picture,
            matrix,
            offset,
            output_shape=(2 * half[1] + 1, 2 * half[0] + 1),
            order=1,
            cval=np.nan,
        )
    )


def _turn(rows: FloatArray, places: IntArray, core: tuple[float, float]) -> float:
    """Return the turn after which the edges between cells stand upright, in radians.

    Each row is the mean one moved by its place times the lean of the edges; to first
    order that is the slope of the mean times the move.
    """
    part = rows[:, int(core[0]) : int(core[1]) + 1]
    part = ndimage.uniform_filter1d(part, 3, axis=1)
    mean = np.median(part, axis=0)
    slope = np.gradient(mean)
    # Only edges tell; a hair that crosses one counts as an edge moved by two pixels.
    edges = np.abs(slope) > 3 * np.median(np.abs(slope))
    rest = (part - mean)[:, edges]
    rest = np.clip(rest, -2 * np.abs(slope[edges]), 2 * np.abs(slope[edges]))
    expected = -slope[edges] * places[:, np.newaxis]
    known = np.isfinite(rest)
    power = float((expected[known] ** 2).sum())
    if power <= 0:
        return 0.0
    lean = float((rest[known] * expected[known]).sum()) / power
    return float(-np.arctan(np.clip(lean, -0.03, 0.03)))


def _extent(
    rows: FloatArray, middle: IntArray, core: tuple[float, float]
) -> tuple[int, int] | None:
    """Find the rows that show what the middle ones show."""
    part = rows[:, int(core[0]) : int(core[1]) + 1]
    seen = np.median(part[middle], axis=0)
    known = np.isfinite(seen)
    if known.mean() < 0.9:
        return None
    off = np.abs(part[:, known] - seen[known])
    away = np.where(
        np.isfinite(off).mean(axis=1) > 0.9,
        np.nanmedian(np.nan_to_num(off, nan=1.0), axis=1),
        np.inf,
    )
    usual = float(np.median(away[middle]))
    spread = float(np.ptp(seen[known]))
    alike = away < max(3 * usual, 0.06 * spread)
    centre = int(middle[len(middle) // 2])
    if not alike[middle].mean() > 0.8:
        return None
    top = bottom = centre
    while top > 0 and alike[top - 1 : top].any():
        top -= 1
    while bottom < len(rows) and alike[bottom : bottom + 1].any():
        bottom += 1
    return (top, bottom) if bottom - top >= 4 else None
