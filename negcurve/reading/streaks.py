"""Fine lines across a film where a nozzle laid down no ink, or too much.

A line runs through the whole of every patch in its way; dust and hairs do not. Works on
light within patches, against the noise of those patches.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from negcurve.encoding import Encoding
from negcurve.reading.geometry import Geometry
from negcurve.reading.patches import pixels_in, trimmed
from negcurve.reading.reduced import largest_code
from negcurve.target.layout import Box
from negcurve.values import FloatArray, ImageSource

Direction = Literal["across", "down"]
"""Along which side of the print lines run: the head travels along one of them."""

PARTS = 8
"""A patch is cut into so many parts along a line; their median leaves out dust."""

EVEN = 0.25
"""All parts but one must show this share of the median: a hair leaves a line."""

AROUND_MM = 1.5
"""Stretch whose median a line is compared with; banding is wider."""

ALONE, TOGETHER = 6.5, 6.0
"""Standard errors from which a line in one patch, or in several together, is called.

A target has some 20 000 places for a line; of normal noise 6 standard errors come up
once in 500 million.
"""

LEAST_DEPTH = 0.004
"""Change of light below which a line is not called, whatever its certainty. [1]"""

LEAST_LIGHT = 0.002
"""Light of a patch below which its shares mean nothing. [1]"""

ONE_LINE_MM = 0.3
"""Places nearer to each other than this are one line."""


@dataclass(frozen=True, kw_only=True)
class Streak:
    """One line.

    Attributes
    ----------
    direction : {"across", "down"}
        Runs across the print or down it.
    place_mm : float
        From the top, or from the left of the print as it reads right. [mm]
    depth : float
        Change of light in the patch that shows it best; above 0 ink is missing. [1]
    patches : int
        How many patches show it.
    crossed : int
        How many inked patches lie in its way.
    """

    direction: Direction
    place_mm: float
    depth: float
    patches: int
    crossed: int

    @property
    def sure(self) -> bool:
        """Whether more than one patch shows it, or hardly any other could."""
        return self.patches > 1 or self.crossed < 3


@dataclass(frozen=True, kw_only=True)
class Streaks:
    """The lines of a film and how well they could be seen.

    Attributes
    ----------
    lines : tuple of Streak
        Those across first, each kind by place.
    seen_mm : (float, float)
        Length of the sheet's side, down and across, that the patches show.
    limit : float
        Depth from which a line in one patch of usual noise is called. [1]
    """

    lines: tuple[Streak, ...]
    seen_mm: tuple[float, float]
    limit: float


@dataclass(frozen=True, eq=False, kw_only=True)
class _Profile:
    """Light across the lines of one patch: places, and deviation there."""

    place_mm: FloatArray
    depth: FloatArray
    error: float


def find_streaks(
    source: ImageSource, encoding: Encoding, geometry: Geometry, boxes: Sequence[Box]
) -> Streaks:
    """Look for lines in inked patches of a film.

    Parameters
    ----------
    source : ImageSource
        Scan of the film.
    encoding : Encoding
        How its levels stand for light.
    geometry : Geometry
        Print to scan.
    boxes : sequence of Box
        Patches with ink; each lies inside the scan.

    Returns
    -------
    Streaks
    """
    pitch_mm = 1 / geometry.px_per_mm
    found: dict[Direction, list[_Profile]] = {"across": [], "down": []}
    for box in boxes:
        part = trimmed(box)
        codes, along = pixels_in(source, geometry, part)
        light = encoding.luminance(codes / largest_code(source.dtype))
        found["across"] += _profile(
            light, along[:, ::-1], part.top_mm, part.height_mm, pitch_mm=pitch_mm
        )
        found["down"] += _profile(
            light, along, part.left_mm, part.width_mm, pitch_mm=pitch_mm
        )
    errors = [each.error for profiles in found.values() for each in profiles]
    lines = [
        line
        for direction, profiles in found.items()
        for line in _lines(profiles, direction, pitch_mm=pitch_mm)
    ]
    return Streaks(
        lines=tuple(lines),
        seen_mm=(_covered(found["across"]), _covered(found["down"])),
        limit=max(LEAST_DEPTH, ALONE * float(np.median(errors))) if errors else np.nan,
    )


def _profile(
    light: FloatArray,
    along: FloatArray,
    start_mm: float,
    side_mm: float,
    *,
    pitch_mm: float,
) -> Iterator[_Profile]:
    """Yield how each line of pixels differs from its surroundings.

    `along` has the place across the lines first, the place along them second, 0..1.
    Nothing comes of a patch too dark to divide by.
    """
    count = max(8, int(side_mm / pitch_mm))
    place = np.minimum((along[:, 0] * count).astype(int), count - 1)
    part = np.minimum((along[:, 1] * PARTS).astype(int), PARTS - 1)
    cell = part * count + place
    pixels = np.bincount(cell, minlength=PARTS * count)
    total = np.bincount(cell, weights=light, minlength=PARTS * count)
    mean = float(light.mean())
    if mean < LEAST_LIGHT or (pixels == 0).any():
        return
    rows = (total / pixels).reshape(PARTS, count) / mean
    around = 2 * int(AROUND_MM * count / side_mm / 2) + 1
    rows = rows - ndimage.median_filter(rows, size=(1, around), mode="nearest")
    depth = np.median(rows, axis=0)
    weakest = np.sort(rows * np.sign(depth), axis=0)[1]
    # Where codes do not resolve the noise the parts agree by rounding alone.
    error = max(_spread(depth), 0.4 * _spread(rows), 1e-4)
    depth[weakest < EVEN * np.abs(depth)] = 0
    yield _Profile(
        place_mm=start_mm + (np.arange(count) + 0.5) / count * side_mm,
        depth=depth,
        error=error,
    )


def _spread(values: FloatArray) -> float:
    """Return the standard deviation of a normal distribution of this median."""
    return 1.4826 * float(np.median(np.abs(values)))


def _lines(
    profiles: Sequence[_Profile], direction: Direction, *, pitch_mm: float
) -> Iterator[Streak]:
    """Yield the lines that patches show alone or together."""
    if not profiles:
        return
    cell = [np.floor(each.place_mm / pitch_mm).astype(int) for each in profiles]
    size = 1 + max(int(each.max()) for each in cell)
    total, count, alone = (np.zeros(size) for _ in range(3))
    for places, profile in zip(cell, profiles, strict=True):
        score = np.clip(profile.depth / profile.error, -2 * ALONE, 2 * ALONE)
        score[np.abs(profile.depth) < LEAST_DEPTH / 2] = 0
        np.add.at(total, places, score)
        np.add.at(count, places, 1)
        sure = np.abs(score) * (np.abs(profile.depth) >= LEAST_DEPTH)
        np.maximum.at(alone, places, sure)
    together = np.abs(total) / np.sqrt(np.maximum(count, 1))
    called = (alone > ALONE) | ((together > TOGETHER) & (count > 1))
    width = max(1, round(ONE_LINE_MM / pitch_mm))
    joined, many = ndimage.label(ndimage.binary_dilation(called, np.ones(width, bool)))
    for number in range(1, many + 1):
        cells = np.flatnonzero((joined == number) & called)
        if len(cells):
            yield _line(cells, cell, profiles, direction, pitch_mm)


def _line(
    cells: npt.NDArray[np.intp],
    places: Sequence[npt.NDArray[np.int64]],
    profiles: Sequence[_Profile],
    direction: Direction,
    pitch_mm: float,
) -> Streak:
    deepest, shown, crossed = 0.0, 0, 0
    for each, profile in zip(places, profiles, strict=True):
        here = profile.depth[np.isin(each, cells)]
        crossed += len(here) > 0
        if len(here) and np.abs(here).max() > ALONE / 2 * profile.error:
            shown += 1
            deepest = max(deepest, float(here[np.abs(here).argmax()]), key=abs)
    return Streak(
        direction=direction,
        place_mm=float((cells.mean() + 0.5) * pitch_mm),
        depth=deepest,
        patches=shown,
        crossed=crossed,
    )


def _covered(profiles: Sequence[_Profile]) -> float:
    """Length of the side that patches show, overlaps once. [mm]."""
    ends = sorted((each.place_mm[0], each.place_mm[-1]) for each in profiles)
    length, reached = 0.0, -np.inf
    for low, high in ends:
        length += max(0.0, high - max(low, reached))
        reached = max(reached, high)
    return float(length)
