"""Halos beside edges: the mark that sharpening leaves on a scan.

Looks at the lightest patches and at the rims of the marks, where the print itself can
show no halo: paper cannot be lighter than its white, nor the ground than its black.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from negcurve.reading.geometry import Geometry
from negcurve.reading.patches import pixels_in
from negcurve.reading.reduced import largest_code
from negcurve.target.layout import MARK_RADIUS_MM, Box, Layout
from negcurve.values import Finding, FloatArray, ImageSource

OVERSHOOT = 0.02
"""Share of an edge's height that its halo may rise above what lies beside it, on both
sides; twice that where only one side tells. Ours: honest scans stay below 0.01
(`tests/benchmarks/scan_findings.py`)."""

MOST_PATCHES = 6
NEAR_LIGHTEST = 0.06
"""How many patches are looked at, and how much darker than the lightest. [D]"""

LEAST_CONTRAST = 0.15
"""Height of an edge below which its halo drowns in noise. [level]"""

LEAST_EDGES = 6

END = 0.02
"""A plateau nearer than this to an end of the codes leaves a halo no room. [level]"""

BEFORE_MM = (-0.9, -0.4)
"""Where before an edge its other side is taken from: within the gaps. [mm]"""

PLATEAU_MM = (1.0, 1.4)
"""Where behind an edge its halo has ended, 6 pixels or more. [mm]"""

CORNER_MM = 1.2
"""Left out of each edge at both ends: other edges are near. [mm]"""

BINS_PER_PX = 2


@dataclass(frozen=True, kw_only=True)
class Overshoot:
    """How far edges overshoot what lies beside them.

    Attributes
    ----------
    light, dark : float or None
        Share of the edge's height, on its light and on its dark side; None where it
        cannot be told, since the level there is near the end of the codes.
    """

    light: float | None
    dark: float | None

    @property
    def is_sharpened(self) -> bool:
        """Whether both sides overshoot by more than noise, or one by far more."""
        known = [each for each in (self.light, self.dark) if each is not None]
        return bool(known) and min(known) > OVERSHOOT * (3 - len(known))


def edge_overshoot(
    source: ImageSource, geometry: Geometry, layout: Layout, density: FloatArray
) -> Overshoot:
    """Measure the halos of edges.

    Parameters
    ----------
    source : ImageSource
        The scan.
    geometry : Geometry
        Print to scan.
    layout : Layout
        What was printed.
    density : array, shape (n,)
        Of its patches. [D]

    Returns
    -------
    Overshoot
    """
    light = _patch_sides(source, geometry, layout, density)
    dark = _mark_rims(source, geometry, layout)
    return Overshoot(light=_largest(list(light)), dark=_largest(list(dark)))


def sharpening_findings(overshoot: Overshoot, source: ImageSource) -> list[Finding]:
    """Report halos.

    Parameters
    ----------
    overshoot : Overshoot
    source : ImageSource
        The scan.

    Returns
    -------
    list of Finding
    """
    if not overshoot.is_sharpened:
        return []
    most = max(each for each in (overshoot.light, overshoot.dark) if each is not None)
    return [
        Finding(
            severity="warning",
            where=source.name,
            what=f"edges have halos of {most:.0%} of their height: the scan was "
            "sharpened",
            fix="Turn off sharpening (unsharp mask) in the scanner. Patches are read "
            "away from their edges, but grain and texture are exaggerated too.",
        )
    ]


def _patch_sides(
    source: ImageSource, geometry: Geometry, layout: Layout, density: FloatArray
) -> Iterator[FloatArray]:
    """Yield profiles into the lightest patches, from each of their sides."""
    order = np.argsort(density, kind="stable")
    light = order[density[order] <= density[order[0]] + NEAR_LIGHTEST][:MOST_PATCHES]
    for place in light:
        box = layout.patches[int(place)].box
        level, x, y = _levels_in(source, geometry, box.grown(1))
        for along, across, low, high in (
            (y, x, box.left_mm, box.right_mm),
            (x, y, box.top_mm, box.bottom_mm),
        ):
            middle = box.center[1] if across is x else box.center[0]
            half = (box.height_mm if across is x else box.width_mm) / 2 - CORNER_MM
            beside = np.abs(along - middle) < half
            for inside in (across - low, high - across):
                yield _profile(level[beside], inside[beside], geometry.px_per_mm)


def _mark_rims(
    source: ImageSource, geometry: Geometry, layout: Layout
) -> Iterator[FloatArray]:
    """Yield profiles from the white rims of the marks into the ground."""
    reach = MARK_RADIUS_MM + PLATEAU_MM[1]
    for x0, y0 in layout.marks_mm:
        box = Box(
            left_mm=x0 - reach,
            top_mm=y0 - reach,
            width_mm=2 * reach,
            height_mm=2 * reach,
        )
        level, x, y = _levels_in(source, geometry, box)
        outside = np.hypot(x - x0, y - y0) - MARK_RADIUS_MM
        # An eighth of the rim each: what lies over a part of it spoils no other.
        turn = ((np.arctan2(y - y0, x - x0) / np.pi + 1) * 4).astype(int) % 8
        for part in range(8):
            here = turn == part
            yield _profile(level[here], outside[here], geometry.px_per_mm)


def _levels_in(
    source: ImageSource, geometry: Geometry, box: Box
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return levels, mean of the channels, and their places on the print in mm."""
    codes, along = pixels_in(source, geometry, box)
    level = codes.mean(axis=1) / largest_code(source.dtype)
    x = box.left_mm + along[:, 0] * box.width_mm
    y = box.top_mm + along[:, 1] * box.height_mm
    return level, x, y


def _profile(level: FloatArray, depth_mm: FloatArray, px_per_mm: float) -> FloatArray:
    """Return levels over the depth behind an edge: 0 before it, 1 on the plateau.

    Returns
    -------
    array, shape (n,)
        At every half pixel behind the place where the edge is half way. Empty where
        there is no edge, or its plateau is near an end of the codes.
    """
    near = (depth_mm > BEFORE_MM[0]) & (depth_mm < PLATEAU_MM[1])
    place = np.floor(depth_mm[near] * px_per_mm * BINS_PER_PX).astype(int)
    first = int(place.min(initial=0))
    count = np.bincount(place - first, minlength=1)
    if not count.all():
        return np.empty(0)
    mean = np.bincount(place - first, weights=level[near]) / count
    depth = (np.arange(len(count)) + first + 0.5) / BINS_PER_PX / px_per_mm
    if not (depth[0] < BEFORE_MM[1] and depth[-1] > PLATEAU_MM[0]):
        return np.empty(0)
    before = mean[(depth > BEFORE_MM[0]) & (depth < BEFORE_MM[1])].mean()
    plateau = mean[depth > PLATEAU_MM[0]].mean()
    height = plateau - before
    if abs(height) < LEAST_CONTRAST or not END < plateau < 1 - END:
        return np.empty(0)
    rising = (mean - before) / height
    around = np.flatnonzero(np.abs(depth) < -BEFORE_MM[1])
    half = depth[around[np.argmin(np.abs(rising[around] - 0.5))]]
    behind = np.arange(0, PLATEAU_MM[0] * px_per_mm, 1 / BINS_PER_PX) / px_per_mm
    return np.asarray(np.interp(half + behind, depth, rising))


def _largest(profiles: Sequence[FloatArray]) -> float | None:
    """Return the overshoot of the usual profile, None of too few."""
    whole = [each for each in profiles if len(each)]
    if len(whole) < LEAST_EDGES:
        return None
    return float(np.median(whole, axis=0).max()) - 1
