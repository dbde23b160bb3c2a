"""The identity strips as a scan shows them, sampled through a geometry.

Knows how dark two stacked cells are against each other; what the bits mean is left to
`negcurve.target.identity`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from negcurve.reading.geometry import Geometry
from negcurve.reading.reduced import SmallArray
from negcurve.target.identity import identity_bits
from negcurve.target.layout import (
    IDENTITY_CELL_MM,
    IDENTITY_COLUMNS,
    Box,
    Layout,
)
from negcurve.values import FloatArray

_ACROSS = (-0.25, 0.0, 0.25)
_DOWN = (-0.3, -0.15, 0.0, 0.15, 0.3)


@dataclass(frozen=True, kw_only=True)
class StripMatch:
    """How well the strips of a scan agree with one identity.

    Attributes
    ----------
    right : int
        Columns of the better strip that say the right bit, 0..48.
    agreement : float
        Mean of the scores turned to the right bits over all copies, -1..1.
    """

    right: int
    agreement: float


def sample(picture: SmallArray, places_px: FloatArray) -> FloatArray:
    """Sample a picture between its pixels; NaN outside of it.

    Parameters
    ----------
    picture : array, shape (rows, columns)
        Any levels.
    places_px : array, shape (n, 2)
        x, y; pixel 0 reaches from 0 to 1. [px]

    Returns
    -------
    array, shape (n,)
    """
    at = [places_px[:, 1] - 0.5, places_px[:, 0] - 0.5]
    values = ndimage.map_coordinates(
        picture, at, output=np.float64, order=1, mode="nearest"
    )
    rows, columns = picture.shape
    outside = (
        (places_px[:, 0] < 0)
        | (places_px[:, 1] < 0)
        | (places_px[:, 0] > columns)
        | (places_px[:, 1] > rows)
    )
    values[outside] = np.nan
    return np.asarray(values)


def strip_scores(picture: SmallArray, geometry: Geometry, box: Box) -> FloatArray:
    """How strongly each column of a strip says 1 against 0.

    Parameters
    ----------
    picture : array, shape (rows, columns)
        Levels of the scan, or of a smaller picture that the geometry leads to.
    geometry : Geometry
        Print to picture.
    box : Box
        Where the strip lies on the print.

    Returns
    -------
    array, shape (48,)
        Lower cell against upper, in units of the strip's own contrast, within -1..1;
        NaN for columns outside the picture. All 0 where there is no contrast.
    """
    width, height = IDENTITY_CELL_MM
    middle_x, middle_y = box.center
    column = np.arange(IDENTITY_COLUMNS)[:, None, None, None]
    cell = np.arange(2)[None, :, None, None]
    across = np.array(_ACROSS)[None, None, :, None]
    down = np.array(_DOWN)[None, None, None, :]
    x = middle_x + (column - IDENTITY_COLUMNS / 2 + 0.5 + across) * width
    y = middle_y + (cell - 0.5 + down) * height
    x, y = np.broadcast_arrays(x, y)
    places = geometry.to_scan(np.column_stack([x.ravel(), y.ravel()]))
    levels = sample(picture, places).reshape(IDENTITY_COLUMNS, 2, -1)
    # A hair across a cell moves its median less than its mean.
    cells = np.median(levels, axis=2)
    difference = cells[:, 1] - cells[:, 0]
    known = np.abs(difference[np.isfinite(difference)])
    contrast = float(np.median(known)) if len(known) else 0.0
    if contrast <= 0:
        return np.where(np.isfinite(difference), 0.0, np.nan)
    return np.asarray(np.clip(difference / contrast, -1, 1))


def all_scores(
    picture: SmallArray, geometry: Geometry, layout: Layout
) -> tuple[FloatArray, ...]:
    """Return the scores of each copy of the printed identity, shape (48,) each."""
    return tuple(strip_scores(picture, geometry, box) for box in layout.identity_boxes)


def match_strips(scores: Sequence[FloatArray], identity: int) -> StripMatch:
    """Compare the scores of all copies with the bits of an identity.

    Parameters
    ----------
    scores : arrays, shape (48,)
        Of each copy.
    identity : int
        32 bits.

    Returns
    -------
    StripMatch
        Of noise alone 42 right columns of 48 come up once in ten million times.
    """
    right, agreement = [], []
    bits = np.array(identity_bits(identity), dtype=np.float64)
    for each in scores:
        turned = np.nan_to_num(each) * (2 * bits - 1)
        right.append(int((turned > 0).sum()))
        agreement.append(float(turned.mean()))
    return StripMatch(right=max(right), agreement=sum(agreement) / len(agreement))
