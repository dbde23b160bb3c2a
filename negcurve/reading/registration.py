"""Refine a geometry on the edges of the patches themselves.

Marks alone leave bow, and keystone where one mark is lost. The scan is brought back to
the print's millimetres and compared there with the layout drawn in the levels that the
scan shows; a smooth field of shifts is what makes the two agree.
"""

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from negcurve.reading.geometry import BENDS, Geometry
from negcurve.reading.reduced import SmallArray
from negcurve.reading.strips import sample
from negcurve.target.layout import Box, Layout
from negcurve.values import FloatArray

RASTER_PX_PER_MM = 3.0
"""Resolution of the comparison; edges are placed to a few hundredths of its pixels."""

MARK_ERROR_MM = 0.05
"""How well a mark's centre is known; holds the field at the marks."""

BLURS_MM = (1.5, 0.8, 0.4, 0.4, 0.4, 0.4)
"""Blur of both pictures in each round: wide first to catch large shifts."""

AROUND_MM, AROUND_STRIP_MM = 2.5, 1.0
"""How far around a patch the pictures are compared; a strip's identity is near."""

SETTLED_MM = 0.01
"""A round that moves no corner of the print further is the last one."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Registration:
    """A refined geometry and how it agrees with the scan.

    Attributes
    ----------
    geometry : Geometry
        After refinement.
    agreement : float
        Correlation of the scan with the drawn layout around the patches, -1..1.
    largest_shift_mm : float
        Largest shift of a patch centre by the refinement.
    hidden : tuple of int
        Numbers of the patches around which the scan does not show the print's ground:
        something lies over them, or the print ends there.
    """

    geometry: Geometry
    agreement: float
    largest_shift_mm: float
    hidden: tuple[int, ...] = ()


def register(
    grey: SmallArray,
    geometry: Geometry,
    layout: Layout,
    *,
    held: tuple[int, ...],
) -> Registration:
    """Shift a geometry smoothly so that patch edges fall where the scan has them.

    Parameters
    ----------
    grey : array, shape (rows, columns)
        Levels of the small picture.
    geometry : Geometry
        Print to this picture, good to about 2 mm.
    layout : Layout
        What was printed.
    held : tuple of int
        Corners whose marks are known exactly: there the geometry is held.

    Returns
    -------
    Registration
        The given geometry where no other agrees better.

    Notes
    -----
    Gauss-Newton steps on the squared difference of the two pictures (the method of
    Lucas and Kanade, 1981), each pixel weighted down where it disagrees by more than
    a few times the median, so that stains and dust do not pull.

    Light that spreads, and a response that is not straight, make light patches smaller
    or larger than drawn; taken for shifts, their edges would bend the field by a tenth
    of a millimetre. So how far edges lie outside is solved for with the shifts: one
    part the same for all patches, one that grows with their contrast.
    """
    comparison = _Comparison(layout)
    start = geometry
    marks = np.array(layout.marks_mm)
    fixed = geometry.terms(marks[list(held)])
    ends = geometry.terms(marks)
    for blur in BLURS_MM:
        change = comparison.step(
            comparison.pictures(grey, geometry, blur),
            geometry,
            held=fixed,
            held_by=start.shift_mm - geometry.shift_mm,
        )
        geometry = geometry.shifted(change)
        if blur == BLURS_MM[-1] and np.abs(ends @ change).max() < SETTLED_MM:
            break
    before, after = (comparison.agreement(grey, each) for each in (start, geometry))
    if after < before:
        geometry = start
    centres = np.array([patch.box.center for patch in layout.patches])
    moved = geometry.terms(centres) @ (geometry.shift_mm - start.shift_mm)
    return Registration(
        geometry=geometry,
        agreement=max(before, after),
        largest_shift_mm=float(np.hypot(moved[:, 0], moved[:, 1]).max()),
        hidden=comparison.hidden(grey, geometry),
    )


@dataclass(frozen=True, eq=False, kw_only=True)
class _Pictures:
    """Scan and drawn layout on the raster, and each patch's level above its ground."""

    scan: FloatArray
    drawn: FloatArray
    contrast: FloatArray


class _Comparison:
    """The raster on which scan and layout are compared, with its patch areas."""

    def __init__(self, layout: Layout) -> None:
        self.layout = layout
        boxes = [patch.box for patch in layout.patches]
        left = min(box.left_mm for box in boxes) - 3
        top = min(box.top_mm for box in boxes) - 3
        right = max(box.right_mm for box in boxes) + 3
        bottom = max(box.bottom_mm for box in boxes) + 3
        self.x = np.arange(left, right, 1 / RASTER_PX_PER_MM)
        self.y = np.arange(top, bottom, 1 / RASTER_PX_PER_MM)
        x, y = np.meshgrid(self.x, self.y)
        self.places = np.column_stack([x.ravel(), y.ravel()])
        self.cover = [self._coverage(box) for box in boxes]
        self.covered = np.zeros_like(x)
        for rows, columns, share in self.cover:
            self.covered[rows, columns] += share
        around = AROUND_STRIP_MM if layout.is_strip else AROUND_MM
        self.around = [self._coverage(box.grown(around))[:2] for box in boxes]
        self.near = np.zeros(x.shape, dtype=bool)
        for part in self.around:
            self.near[part] = True

    def _coverage(self, box: Box) -> tuple[slice, slice, FloatArray]:
        """Return rows, columns and the share of each pixel that a box covers."""
        half = 0.5 / RASTER_PX_PER_MM
        shares, ranges = [], []
        for axis, low, high in (
            (self.y, box.top_mm, box.bottom_mm),
            (self.x, box.left_mm, box.right_mm),
        ):
            start = int(np.searchsorted(axis, low - half))
            stop = int(np.searchsorted(axis, high + half))
            inner = axis[start:stop]
            overlap = np.minimum(inner + half, high) - np.maximum(inner - half, low)
            shares.append(np.clip(overlap * RASTER_PX_PER_MM, 0, 1))
            ranges.append(slice(start, stop))
        return ranges[0], ranges[1], np.outer(shares[0], shares[1])

    def pictures(
        self, grey: SmallArray, geometry: Geometry, blur_mm: float
    ) -> _Pictures:
        """Return the scan on the raster, and the layout in the scan's own levels."""
        scan = sample(grey, geometry.to_scan(self.places))
        scan = scan.reshape(len(self.y), len(self.x))
        everywhere = _middle(scan[(self.covered < 0.01) & self.near], 0.0)
        drawn, contrast = np.zeros_like(scan), np.zeros_like(scan)
        ground, count = np.zeros_like(scan), np.zeros_like(scan)
        for (rows, columns, share), part in zip(self.cover, self.around, strict=True):
            level = _middle(_inner(scan[rows, columns]), 0.0)
            # Coating and light are uneven: each patch has its own ground.
            beside = _middle(scan[part][self.covered[part] < 0.01], everywhere)
            drawn[rows, columns] += share * level
            contrast[_wider(rows), _wider(columns)] = level - beside
            ground[part] += beside
            count[part] += 1
        ground = np.where(count > 0, ground / np.maximum(count, 1), everywhere)
        drawn += np.clip(1 - self.covered, 0, 1) * ground
        scan = np.where(np.isfinite(scan), scan, everywhere)
        sigma = blur_mm * RASTER_PX_PER_MM
        return _Pictures(
            scan=ndimage.gaussian_filter(scan, sigma),
            drawn=ndimage.gaussian_filter(drawn, sigma),
            contrast=contrast,
        )

    def agreement(self, grey: SmallArray, geometry: Geometry) -> float:
        """Correlate the two pictures near the patches."""
        both = self.pictures(grey, geometry, BLURS_MM[-1])
        scan, drawn = both.scan[self.near], both.drawn[self.near]
        if scan.std() == 0 or drawn.std() == 0:
            return 0.0
        return float(np.corrcoef(scan, drawn)[0, 1])

    def hidden(self, grey: SmallArray, geometry: Geometry) -> tuple[int, ...]:
        """Return the patches that do not stand on the same ground as the others.

        The ground is clear film, so it lies at one end of the patches' levels.
        """
        scan = sample(grey, geometry.to_scan(self.places))
        scan = scan.reshape(len(self.y), len(self.x))
        beside = np.array(
            [
                _middle(scan[part][self.covered[part] < 0.01], np.nan)
                for part in self.around
            ]
        )
        inside = [
            _middle(_inner(scan[rows, cols]), np.nan) for rows, cols, _ in self.cover
        ]
        off = np.abs(beside - np.nanmedian(beside))
        far = ~(off < 0.5 * np.ptp(np.array(inside)[np.isfinite(inside)]))
        return tuple(
            patch.number
            for patch, is_far in zip(self.layout.patches, far, strict=True)
            if is_far
        )

    def step(
        self,
        both: _Pictures,
        geometry: Geometry,
        *,
        held: FloatArray,
        held_by: FloatArray,
    ) -> FloatArray:
        """Return the change of shift coefficients that lessens the difference."""
        down, across = np.gradient(both.drawn)
        steep = np.hypot(down, across)
        edge = ((steep > 0.05 * steep.max()) & self.near).ravel()
        if steep.max() == 0 or edge.sum() < 100:
            return np.zeros((BENDS, 2))
        terms = geometry.terms(self.places[edge])
        contrast = both.contrast.ravel()[edge]
        most = max(float(np.abs(contrast).max()), 1e-9)
        slopes = [
            across.ravel()[edge, None] * terms,
            down.ravel()[edge, None] * terms,
            -steep.ravel()[edge, None]
            * np.column_stack([np.sign(contrast), contrast / most]),
        ]
        system = np.hstack(slopes) * RASTER_PX_PER_MM
        difference = (both.drawn - both.scan).ravel()[edge]
        solved = np.zeros(system.shape[1])
        for _ in range(2):
            weight = _weights(difference - system @ solved)
            # Neighbouring pixels share an edge: counted as one in ten.
            normal = (system * weight[:, None]).T @ system / 10
            aim = system.T @ (difference * weight) / 10
            for axis in range(2):
                part = slice(axis * BENDS, (axis + 1) * BENDS)
                normal[part, part] += held.T @ held / MARK_ERROR_MM**2
                aim[part] += held.T @ held @ held_by[:, axis] / MARK_ERROR_MM**2
            normal += np.eye(len(normal)) * 1e-3
            solved = np.linalg.solve(normal, aim)
        return np.asarray(solved[: 2 * BENDS].reshape(2, BENDS).T)


def _weights(rest: FloatArray) -> FloatArray:
    """Inverse variance of each difference, far ones counting less."""
    spread = 1.4826 * float(np.median(np.abs(rest))) + 1e-9
    return np.asarray((spread * (1 + (rest / (3 * spread)) ** 2)) ** -2)


def _wider(part: slice) -> slice:
    """Widen a slice by two pixels each way: the blur of an edge."""
    return slice(max(0, part.start - 2), part.stop + 2)


def _inner(area: FloatArray) -> FloatArray:
    rows, columns = area.shape
    return area[rows // 4 : rows - rows // 4, columns // 4 : columns - columns // 4]


def _middle(area: FloatArray, otherwise: float) -> float:
    """Median of what is known of an area."""
    known = area[np.isfinite(area)]
    return float(np.median(known)) if len(known) else otherwise
