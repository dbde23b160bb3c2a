"""Ring marks: where they may be in a small picture, and where exactly in the scan.

Knows only what one mark looks like; which marks belong to a target is left to
`geometry.py`. Positions are continuous: pixel 0 reaches from 0 to 1.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy import fft, ndimage

from negcurve.reading.reduced import SmallArray, block_means, largest_code
from negcurve.target.layout import MARK_RADIUS_MM, MARK_RING_MM
from negcurve.values import FloatArray, ImageSource

EDGES_MM = (*MARK_RING_MM, MARK_RADIUS_MM)
"""Radii at which a mark turns dark, light and dark again, seen from its centre. [mm]"""

GROUND_MM = 6.2
"""Radius of the dark ground that is looked at around a mark. [mm]"""

SEARCH_PX_PER_MM = 2.4
"""Scale at which marks are looked for: a ring is then three pixels wide. [px/mm]"""

LEAST_SCORE = 0.38
"""Correlation below which a place is not taken for a mark. [1]"""

MOST_MARKS = 16


@dataclass(frozen=True, kw_only=True)
class Mark:
    """A place that looks like a mark.

    Attributes
    ----------
    x, y : float
        Centre. [px]
    score : float
        Correlation with the ideal mark, 0..1, or the share of its edges found.
    px_per_mm : float
        Scale at which it fitted best.
    """

    x: float
    y: float
    score: float
    px_per_mm: float

    def scaled(self, factor: float) -> "Mark":
        """Return the mark in a picture that is `factor` times as large."""
        return replace(
            self,
            x=self.x * factor,
            y=self.y * factor,
            px_per_mm=self.px_per_mm * factor,
        )


def find_marks(
    grey: SmallArray, *, px_per_mm: float | None, inverted: bool = False
) -> tuple[Mark, ...]:
    """Find places that look like a mark, the most likely first.

    Parameters
    ----------
    grey : array, shape (rows, columns)
        Levels of the small picture, 0..1.
    px_per_mm : float or None
        Its scale if known within about 5 %, else all scales are tried. [px/mm]
    inverted : bool
        Look for marks with black and white exchanged.

    Returns
    -------
    tuple of Mark
        At most `MOST_MARKS`; empty where nothing looks like a mark.
    """
    picture = -grey if inverted else grey
    found: list[Mark] = []
    for level, factor, scales in _search_plan(picture, px_per_mm):
        spectra = _Spectra(level)
        for scale in scales:
            found += [mark.scaled(factor) for mark in _peaks(spectra, scale)]
    return _strongest(found)


def _search_plan(
    picture: SmallArray, px_per_mm: float | None
) -> Iterator[tuple[SmallArray, int, tuple[float, ...]]]:
    """Yield pictures, their reduction and the scales to look at in each."""
    factor = 1
    if px_per_mm is not None:
        while px_per_mm / factor >= 2 * SEARCH_PX_PER_MM:
            picture, factor = _halved(picture), factor * 2
        yield picture, factor, (px_per_mm / factor,)
        return
    scales = tuple(SEARCH_PX_PER_MM * 2 ** (step / 6) for step in range(6))
    while min(picture.shape) > 2 * GROUND_MM * SEARCH_PX_PER_MM and factor <= 8:
        yield picture, factor, scales
        picture, factor = _halved(picture), factor * 2


def _halved(picture: SmallArray) -> SmallArray:
    rows, columns = picture.shape[0] // 2 * 2, picture.shape[1] // 2 * 2
    even = picture[:rows, :columns]
    return block_means(even[:, :, None], 2)[:, :, 0].astype(np.float32)


class _Spectra:
    """Transforms of one picture, padded, kept while several scales are tried."""

    def __init__(self, picture: SmallArray) -> None:
        self.shape = picture.shape
        padding = int(4 * GROUND_MM * SEARCH_PX_PER_MM) + 2
        self.padded = tuple(
            fft.next_fast_len(side + padding, real=True) for side in picture.shape
        )
        centred = picture - picture.mean(dtype=np.float64).astype(np.float32)
        self.level = fft.rfft2(centred, self.padded, workers=-1)
        self.square = fft.rfft2(centred * centred, self.padded, workers=-1)

    def correlated(self, spectrum: str, template: SmallArray) -> SmallArray:
        """Correlate the picture or its square with a template, same shape."""
        kernel = fft.rfft2(template[::-1, ::-1], self.padded, workers=-1)
        product = getattr(self, spectrum) * kernel
        whole = fft.irfft2(product, self.padded, workers=-1)
        margin = template.shape[0] // 2
        return np.asarray(
            whole[margin : margin + self.shape[0], margin : margin + self.shape[1]],
            dtype=np.float32,
        )


def _template(px_per_mm: float) -> tuple[SmallArray, SmallArray]:
    """Return an ideal mark with weighted mean 0, and the weights, both square."""
    half = int(np.ceil(GROUND_MM * px_per_mm))
    along = np.arange(-half, half + 1) / px_per_mm
    radius = np.hypot(along[:, None], along[None, :])
    inside = [np.clip((edge - radius) * px_per_mm + 0.5, 0, 1) for edge in EDGES_MM]
    ideal = inside[0] - inside[1] + inside[2]
    # The ground may be stained or brushed out, so it counts less than the rings.
    weight = np.clip((GROUND_MM - radius) * px_per_mm + 0.5, 0, 1)
    weight *= np.where(radius > EDGES_MM[2], 0.6, 1.0)
    weight /= weight.sum()
    ideal -= (ideal * weight).sum()
    return ideal.astype(np.float32), weight.astype(np.float32)


def _peaks(spectra: _Spectra, px_per_mm: float) -> list[Mark]:
    """Find local maxima of the normalised correlation with a mark."""
    ideal, weight = _template(px_per_mm)
    energy = float((weight * ideal**2).sum())
    product = spectra.correlated("level", weight * ideal)
    mean = spectra.correlated("level", weight)
    variance = spectra.correlated("square", weight) - mean**2
    noise = 1e-5
    score = product / np.sqrt(energy * np.maximum(variance, noise))
    near = int(GROUND_MM * px_per_mm) | 1
    highest = ndimage.maximum_filter(score, size=near, mode="constant", cval=-1)
    rows, columns = np.nonzero((score == highest) & (score > LEAST_SCORE))
    return [
        Mark(
            x=column + 0.5 + _vertex(score[row, column - 1 : column + 2]),
            y=row + 0.5 + _vertex(score[row - 1 : row + 2, column]),
            score=float(score[row, column]),
            px_per_mm=px_per_mm,
        )
        for row, column in zip(rows.tolist(), columns.tolist(), strict=True)
    ]


def _vertex(three: npt.NDArray[np.float32]) -> float:
    """Return where a parabola through three even samples peaks, from the middle."""
    if len(three) != 3:
        return 0.0
    before, middle, after = (float(each) for each in three)
    bend = before - 2 * middle + after
    return 0.5 * (before - after) / bend if bend < 0 else 0.0


def _strongest(found: list[Mark]) -> tuple[Mark, ...]:
    """Keep the best of marks that lie within one another, best first."""
    kept: list[Mark] = []
    for mark in sorted(found, key=lambda each: -each.score):
        apart = all(
            np.hypot(mark.x - other.x, mark.y - other.y)
            > EDGES_MM[2] * min(mark.px_per_mm, other.px_per_mm)
            for other in kept
        )
        if apart:
            kept.append(mark)
        if len(kept) == MOST_MARKS:
            break
    return tuple(kept)


FINE_PX_PER_MM = 12.0
"""Scale at which centres are refined, if the scan has as much (305 ppi). [px/mm]"""


def refine_mark(source: ImageSource, mark: Mark, *, inverted: bool = False) -> Mark:
    """Find the exact centre of a mark in the scan itself.

    Parameters
    ----------
    source : ImageSource
        The scan.
    mark : Mark
        Centre within about 1 mm, scale within about 5 %, in pixels of the scan.
    inverted : bool
        Black and white are exchanged.

    Returns
    -------
    Mark
        `score` is the share of the three edges that was seen, 0..1. Where hardly any
        was seen the centre is the given one and the score 0.

    Notes
    -----
    Each edge pixel of a ring says that the centre lies on the line along its gradient.
    The centre is the point nearest to all these lines, weighted by the square of the
    gradient, far lines counting less. Lost arcs so shift nothing.
    """
    picture, left, top, factor = _surroundings(source, mark)
    small = replace(
        mark,
        x=(mark.x - left) / factor,
        y=(mark.y - top) / factor,
        px_per_mm=mark.px_per_mm / factor,
    )
    edges = _edge_pixels(-picture if inverted else picture, small)
    for _ in range(4):
        better = _nearest_to_lines(edges, small)
        if better is None:
            return replace(mark, score=0.0)
        small = better
    if np.hypot(small.x * factor + left - mark.x, small.y * factor + top - mark.y) > (
        1.5 * mark.px_per_mm
    ):
        return replace(mark, score=0.0)
    return Mark(
        x=small.x * factor + left,
        y=small.y * factor + top,
        score=small.score,
        px_per_mm=small.px_per_mm * factor,
    )


def _surroundings(source: ImageSource, mark: Mark) -> tuple[FloatArray, int, int, int]:
    """Return the grey levels around a mark, and how they lie in the scan."""
    factor = max(1, round(mark.px_per_mm / FINE_PX_PER_MM))
    half = (GROUND_MM + 1.5) * mark.px_per_mm
    left = max(0, int(mark.x - half))
    top = max(0, int(mark.y - half))
    width = (min(source.width, int(mark.x + half)) - left) // factor * factor
    height = (min(source.height, int(mark.y + half)) - top) // factor * factor
    codes = source.window(top, left, max(height, 0), max(width, 0))
    levels = block_means(codes, factor).mean(axis=2) / largest_code(source.dtype)
    return levels, left, top, factor


@dataclass(frozen=True, eq=False, kw_only=True)
class _Edges:
    """Gradients of a picture, one row per pixel: place and gradient, shape (n, 2)."""

    place: FloatArray
    gradient: FloatArray


def _edge_pixels(picture: FloatArray, mark: Mark) -> _Edges:
    blur = max(0.2 * mark.px_per_mm, 0.8)
    if min(picture.shape) < 3:
        return _Edges(place=np.empty((0, 2)), gradient=np.empty((0, 2)))
    down = ndimage.gaussian_filter(picture, blur, order=(1, 0))
    across = ndimage.gaussian_filter(picture, blur, order=(0, 1))
    y, x = np.indices(picture.shape) + 0.5
    return _Edges(
        place=np.column_stack([x.ravel(), y.ravel()]),
        gradient=np.column_stack([across.ravel(), down.ravel()]),
    )


def _nearest_to_lines(edges: _Edges, mark: Mark) -> Mark | None:
    """Move a mark to the point nearest to the lines along its edges' gradients."""
    offset = edges.place - (mark.x, mark.y)
    radius = np.hypot(offset[:, 0], offset[:, 1]) + 1e-9
    steep = np.hypot(edges.gradient[:, 0], edges.gradient[:, 1])
    radial = (edges.gradient * offset).sum(axis=1) / radius
    nominal = np.zeros(len(radius))
    for edge, sign in zip(EDGES_MM, (-1, 1, -1), strict=True):
        near = np.abs(radius / mark.px_per_mm - edge) < 0.6
        nominal[near & (radial * sign > 0.7 * steep)] = edge
    edge_at = (nominal > 0) & (steep > 0)
    if edge_at.sum() < 30:
        return None
    offset, nominal, radius = offset[edge_at], nominal[edge_at], radius[edge_at]
    unit = edges.gradient[edge_at] / steep[edge_at, None]
    across = unit[:, 0] * offset[:, 1] - unit[:, 1] * offset[:, 0]
    weight = steep[edge_at] ** 2 / (1 + (across / (0.4 * mark.px_per_mm)) ** 2) ** 2
    normal = np.column_stack([-unit[:, 1], unit[:, 0]])
    matrix = (weight[:, None] * normal).T @ normal
    if np.linalg.cond(matrix) > 50:
        return None
    shift = np.linalg.solve(matrix, (weight * across) @ normal)
    scale = (weight * nominal * radius).sum() / (weight * nominal**2).sum()
    return Mark(
        x=float(mark.x + shift[0]),
        y=float(mark.y + shift[1]),
        score=_share_seen(offset, nominal, weight),
        px_per_mm=float(0.5 * (mark.px_per_mm + scale)),
    )


def _share_seen(offset: FloatArray, nominal: FloatArray, weight: FloatArray) -> float:
    """Return the share of 3 rings by 24 directions in which an edge was seen."""
    sector = ((np.arctan2(offset[:, 1], offset[:, 0]) / np.pi + 1) * 12).astype(
        int
    ) % 24
    ring = np.searchsorted(EDGES_MM, nominal - 0.01)
    strength = np.bincount(ring * 24 + sector, weights=weight, minlength=72)
    return float((strength > 0.15 * np.median(strength[strength > 0])).mean())
