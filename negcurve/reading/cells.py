"""A patch in small cells: dust, hairs and gaps of the coating told from its own tone.

What is foreign is told by its rarity, whatever it looks like. The scatter of what is
left says how well the mean is known.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from negcurve.target.layout import Box
from negcurve.values import FloatArray

BoolArray = npt.NDArray[np.bool_]

CELL_MM = 0.25
"""Side of the cells that a patch is divided into; about the width of a hair's blur."""

BLOCKS = 4
"""A patch has this many blocks each way, whose scatter gives its standard error."""

REJECT_AT = 4.0
"""Cells further from the patch's plane than this many standard deviations are left out.

A normal distribution loses one cell in 16 000, so that grain is not cut and the mean of
a skewed one hardly shifts.
"""

RIM_FROM = 2.0
"""So many times beyond the limit a cell takes its neighbours with it. Ours."""

LEAST_LEFT = 0.15
"""Share of the cells that taking rims off must leave. Ours."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Cells:
    """Means over small cells of a patch.

    `mean` has shape (rows, columns) and NaN where a cell holds too few pixels;
    `pixel_deviation` is the standard deviation of pixels within their cells.
    """

    mean: FloatArray
    pixel_deviation: float


def cells_of(
    luminance: FloatArray, along: FloatArray, box: Box, px_per_mm: float
) -> Cells:
    """Average light over small cells.

    Parameters
    ----------
    luminance : array, shape (n,)
        Of the pixels. [1]
    along : array, shape (n, 2)
        Their places within the box, 0 to 1 across and down.
    box : Box
        The area.
    px_per_mm : float
        Of the scan.

    Returns
    -------
    Cells
    """
    side = max(CELL_MM, 2 / px_per_mm)
    columns = max(BLOCKS, int(box.width_mm / side))
    rows = max(BLOCKS, int(box.height_mm / side))
    cell = (along[:, 1] * rows).astype(int) * columns + (along[:, 0] * columns).astype(
        int
    )
    size = rows * columns
    count = np.bincount(cell, minlength=size)
    total = np.bincount(cell, weights=luminance, minlength=size)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.where(count > 0, total / count, np.nan)
    rest = luminance - mean[cell]
    variance = np.bincount(cell, weights=rest**2, minlength=size)[count > 1] / (
        count[count > 1] - 1
    )
    few = count < 0.5 * np.median(count)
    mean[few] = np.nan
    return Cells(
        mean=mean.reshape(rows, columns),
        pixel_deviation=float(np.sqrt(np.median(variance))) if len(variance) else 0.0,
    )


def _terms(shape: tuple[int, ...]) -> FloatArray:
    """Return constant, x and y about the middle of each cell, shape (rows, cols, 3)."""
    rows, columns = shape
    v, u = np.meshgrid(
        (np.arange(rows) + 0.5) / rows - 0.5,
        (np.arange(columns) + 0.5) / columns - 0.5,
        indexing="ij",
    )
    return np.stack([np.ones(shape), u, v], axis=-1)


def without_foreign(
    cells: Cells, *, least_spread: float
) -> tuple[BoolArray, FloatArray, float]:
    """Tell cells of the patch from what lies on it.

    Parameters
    ----------
    cells : Cells
    least_spread : float
        What rounding to codes alone does to a cell.

    Returns
    -------
    kept : array of bool, shape (rows, columns)
    plane : array, shape (3,)
        Through the kept cells.
    foreign : float
        Share of the cells that are foreign, rims not counted, 0..1.
    """
    mean = cells.mean
    known = np.isfinite(mean)
    terms = _terms(mean.shape)
    centre, spread = _shortest_half(mean[known])
    plane = np.array([centre, 0.0, 0.0])
    kept = known
    for turn in range(8):
        rest = np.where(known, np.abs(mean - terms @ plane), 0.0)
        if turn:
            spread = 1.4826 * float(np.median(rest[kept]))
        limit = REJECT_AT * max(spread, least_spread, 1e-7)
        own = known & (rest <= limit)
        now = _without_rims(own, rest / limit)
        if turn and (now == kept).all():
            break
        kept = now
        plane = np.linalg.lstsq(terms[kept], mean[kept], rcond=None)[0]
    return kept, plane, 1 - float(own.sum()) / own.size


def _without_rims(own: BoolArray, rest: FloatArray) -> BoolArray:
    """Take off the rims of what is foreign, which is blurred into cells that pass.

    Parameters
    ----------
    own : array of bool, shape (rows, columns)
        Cells of the patch.
    rest : array, same shape
        Distance from the plane, 1 at the limit. [1]

    Returns
    -------
    array of bool, same shape
        All of `own` where too few would be left.
    """
    far = ndimage.binary_dilation(rest > RIM_FROM, np.ones((3, 3), dtype=bool))
    kept = own & ~far
    return kept if kept.sum() > LEAST_LEFT * kept.size else own


def _shortest_half(values: FloatArray) -> tuple[float, float]:
    """Return middle and standard deviation of the most crowded half of values.

    Half of them may be foreign, and all of these on one side.

    Notes
    -----
    Half of a normal distribution lies within 0.6745 standard deviations. Source:
    Rousseeuw and Leroy, Robust Regression and Outlier Detection, 1987, 4.1 (the
    shortest half; from memory).
    """
    ordered = np.sort(values)
    half = len(ordered) // 2 + 1
    width = ordered[half - 1 :] - ordered[: len(ordered) - half + 1]
    first = int(width.argmin())
    return float(ordered[first : first + half].mean()), float(width[first] / 1.349)


def block_scatter(
    cells: Cells,
    kept: BoolArray,
    plane: FloatArray,
) -> tuple[float, int]:
    """Return the standard deviation between blocks, and how many there are.

    Blocks are larger than the grain, so that their scatter holds what neighbouring
    pixels share; a slope over the patch is taken off, it does not move the mean.
    """
    rows, columns = cells.mean.shape
    rest = cells.mean - _terms(cells.mean.shape) @ plane
    means = []
    for i in range(BLOCKS):
        for j in range(BLOCKS):
            part = (
                slice(i * rows // BLOCKS, (i + 1) * rows // BLOCKS),
                slice(j * columns // BLOCKS, (j + 1) * columns // BLOCKS),
            )
            inside = rest[part][kept[part]]
            if len(inside) >= 0.4 * kept[part].size:
                means.append(float(inside.mean()))
    if len(means) < 3:
        return float(np.std(rest[kept])) if kept.any() else 0.0, len(means)
    # Three numbers of the plane were fitted.
    free = max(len(means) - 3, 1)
    return float(np.sqrt(np.var(means) * len(means) / free)), len(means)
