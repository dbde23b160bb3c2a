"""The print of a step tablet in a scan: found by its equal steps, and read.

Knows a strip of equal cells, level or upright, that get lighter from one end to the
other; what their densities mean is left to `negcurve.darkroom`.
"""

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from negcurve.density import density_from_reflectance
from negcurve.encoding import Encoding
from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.reading.reduced import largest_code, reduce_source
from negcurve.reading.step_comb import Comb, combs_on, fit_ends
from negcurve.values import FloatArray, ImageSource, Progress, no_progress

CORE = 0.6
"""Share of a cell's length and height that is averaged; edges blur and bleed. [1]"""

DARKEST_REFLECTANCE = 1e-4
"""Light is not taken below this, D 4: nothing that a scanner sees. [1]"""

STANDS_OUT = 0.15
"""Density by which a cell must differ from what is beside it to belong to the strip.
Our own choice. [D]"""

MOST_CLIMBING = 0.5
"""Of the strip's density range, what its steps may climb in all where they should fall.
Noise and dust stay below, patches in mixed order climb several ranges. Our choice."""

FEWEST_PIXELS = 6
"""Along each step, for its core to be averaged. [px]"""

UNEVEN_CELL = 0.2
"""Deviation within a step that only something else than a step shows. [D]"""

MOST_UNEVEN = 0.2
"""Share of such steps from which there is no strip. Our own choice."""

BANDS = 80
"""Into so many bands a scan is cut when a strip is looked for. Our own choice."""


@dataclass(frozen=True, kw_only=True)
class StripBox:
    """A rectangle in the upright scan, in pixels."""

    left: float
    top: float
    width: float
    height: float


@dataclass(frozen=True, eq=False, kw_only=True)
class StripReading:
    """What a scan says about a printed tablet.

    Attributes
    ----------
    density : array, shape (n,)
        Of each step, the darkest first. [D]
    spread : array, shape (n,)
        Deviation of density within each cell. [D]
    box : StripBox
        From the first step's outer edge to the last one's.
    """

    density: FloatArray
    spread: FloatArray
    box: StripBox


def read_step_strip(
    source: ImageSource,
    encoding: Encoding,
    *,
    steps: int,
    box: StripBox | None = None,
    progress: Progress = no_progress,
) -> StripReading:
    """Read a strip of equal steps in a scan.

    Parameters
    ----------
    source : ImageSource
        The scan, upright.
    encoding : Encoding
        What its codes stand for.
    steps : int
        Of the tablet; all of them lie in the strip.
    box : StripBox, optional
        Where the strip lies, to about half a step; else it is looked for.
    progress : Progress

    Returns
    -------
    StripReading

    Raises
    ------
    InvalidValueError
        If the box does not lie in the scan or is too small.
    ReadingsError
        If no strip of equal steps is found, or its densities do not fall.
    """
    if box is None:
        box = find_strip(source, encoding, steps=steps, progress=progress)
        if max(box.width, box.height) < FEWEST_PIXELS * steps:
            raise ReadingsError(
                f"what looks like {steps} steps is {max(box.width, box.height):.0f} "
                "pixels long, too short to be read",
                where=source.name,
                fix="Scan the strip at a higher resolution; check --tablet.",
            )
    _check_box(box, source, steps)
    lying = box.width >= box.height
    density = _box_density(source, encoding, box)
    profile = np.median(_middle(density if lying else density.T), axis=0)
    start, pitch = fit_ends(profile, steps)
    cells = [
        _cell(source, encoding, box, start + pitch * n, pitch) for n in range(steps)
    ]
    read = np.array([each[0] for each in cells])
    spread = np.array([each[1] for each in cells])
    if read[: steps // 2].mean() < read[steps // 2 :].mean():
        read, spread = read[::-1], spread[::-1]
    _check_steps(read, spread, source)
    return StripReading(
        density=read, spread=spread, box=_moved(box, start, pitch * steps)
    )


def find_strip(
    source: ImageSource,
    encoding: Encoding,
    *,
    steps: int,
    progress: Progress = no_progress,
) -> StripBox:
    """Look for a strip of equal steps that lies level or upright in a scan.

    Returns
    -------
    StripBox

    Raises
    ------
    ReadingsError
        If there is none.
    """
    small = reduce_source(source, progress=progress)
    light = encoding.luminance(small.levels.astype(np.float64))
    density = density_from_reflectance(np.maximum(light, DARKEST_REFLECTANCE))
    density = ndimage.median_filter(density, size=3)
    ways = {True: density, False: density.T}
    found = {
        lying: band
        for lying, view in ways.items()
        if (band := _best_band(view, steps)) is not None
    }
    if not found:
        raise ReadingsError(
            f"no strip of {steps} equal steps was found",
            where=source.name,
            fix="Check --tablet, or say where the strip lies: --strip-box X,Y,W,H.",
        )
    lying = max(found, key=lambda way: found[way].support)
    band = found[lying]
    long = (source.width if lying else source.height) / small.factor
    start = max(band.comb.start, 0.0)
    end = min(band.comb.start + band.comb.pitch * steps, long)
    along, across = start * small.factor, band.first * small.factor
    length = (end - start) * small.factor
    height = (band.last - band.first) * small.factor
    if lying:
        return StripBox(left=along, top=across, width=length, height=height)
    return StripBox(left=across, top=along, width=height, height=length)


@dataclass(frozen=True, kw_only=True)
class _Found:
    comb: Comb
    first: int
    last: int

    @property
    def support(self) -> float:
        return self.comb.score * (self.last - self.first)


def _best_band(density: FloatArray, steps: int) -> _Found | None:
    """Find the comb of edges that the most neighbouring bands of rows share."""
    rows = density.shape[0]
    high = max(rows // BANDS, 2)
    tops = list(range(0, rows - high + 1, high))
    bands = [combs_on(density[top : top + high].mean(axis=0), steps) for top in tops]
    found: list[_Found] = []
    for place, combs in enumerate(bands):
        for comb in combs:
            first = last = place
            while first > 0 and any(map(comb.like, bands[first - 1])):
                first -= 1
            while last + 1 < len(bands) and any(map(comb.like, bands[last + 1])):
                last += 1
            band = _Found(comb=comb, first=tops[first], last=tops[last] + high)
            whole = _within_scan(comb, steps, density.shape[1])
            if whole and not _goes_on(density, band, steps):
                found.append(band)
    return max(found, key=lambda each: each.support, default=None)


def _within_scan(comb: Comb, steps: int, length: int) -> bool:
    """Tell whether all steps lie in a scan of so many columns, to a third of a step."""
    spare = comb.pitch / 3
    return comb.start >= -spare and comb.start + comb.pitch * steps <= length + spare


def _goes_on(density: FloatArray, band: _Found, steps: int) -> bool:
    """Tell whether the strip stands out from its surroundings beyond the comb's ends.

    Then the comb lies some steps beside the strip: its ends merge with the ground.
    """
    comb, high = band.comb, band.last - band.first
    inside = density[band.first + high // 3 : band.last - high // 3].mean(axis=0)
    above = density[max(band.first - high, 0) : max(band.first - high // 3, 0)]
    below = density[band.last + high // 3 : band.last + high]
    around = [rows.mean(axis=0) for rows in (above, below) if len(rows)]
    if not around or not len(inside):
        return False
    contrast = np.min([np.abs(inside - rows) for rows in around], axis=0)
    for middle in (-0.5, steps + 0.5):
        low, up = (comb.start + comb.pitch * (middle + side) for side in (-0.3, 0.3))
        cell = contrast[max(round(low), 0) : max(round(up), 0)]
        if len(cell) and np.median(cell) > STANDS_OUT:
            return True
    return False


def _check_box(box: StripBox, source: ImageSource, steps: int) -> None:
    inside = (
        box.left >= 0
        and box.top >= 0
        and box.left + box.width <= source.width
        and box.top + box.height <= source.height
    )
    if not inside or min(box.width, box.height) < 4:
        raise InvalidValueError(
            f"{box.left:.0f},{box.top:.0f},{box.width:.0f},{box.height:.0f} does not "
            f"lie in the scan of {source.width} x {source.height} pixels",
            where="strip box",
            fix="Give left, top, width and height in pixels from the top left.",
        )
    if max(box.width, box.height) < FEWEST_PIXELS * steps:
        raise InvalidValueError(
            f"{max(box.width, box.height):.0f} pixels are too few for {steps} steps",
            where="strip box",
            fix="Scan at a higher resolution.",
        )


def _check_steps(density: FloatArray, spread: FloatArray, source: ImageSource) -> None:
    """Refuse what an edge or a row of patches feigns: steps are even, and fall."""
    climbed = np.maximum(np.diff(density), 0).sum() > MOST_CLIMBING * np.ptp(density)
    uneven = (spread > UNEVEN_CELL).mean() > MOST_UNEVEN
    if climbed or uneven:
        raise ReadingsError(
            f"no printed tablet: what looks like {len(density)} steps "
            + ("is uneven within them" if uneven else "does not get lighter all along"),
            where=source.name,
            fix="Check --tablet, or say where the strip lies: --strip-box X,Y,W,H.",
        )


def _box_density(source: ImageSource, encoding: Encoding, box: StripBox) -> FloatArray:
    top, left = round(box.top), round(box.left)
    height = min(round(box.height), source.height - top)
    width = min(round(box.width), source.width - left)
    return _density(source, encoding, top, left, height, width)


def _density(
    source: ImageSource,
    encoding: Encoding,
    top: int,
    left: int,
    height: int,
    width: int,
) -> FloatArray:
    codes = source.window(top, left, height, width)
    level = codes.astype(np.float64) / largest_code(source.dtype)
    light = np.maximum(encoding.luminance(level), DARKEST_REFLECTANCE)
    return density_from_reflectance(light)


def _middle(rows: FloatArray) -> FloatArray:
    """Rows in the middle of a strip's height."""
    edge = int(rows.shape[0] * (1 - CORE) / 2)
    return rows[edge : rows.shape[0] - edge]


def _cell(
    source: ImageSource, encoding: Encoding, box: StripBox, start: float, pitch: float
) -> tuple[float, float]:
    """Density of the core of one cell, from its mean light, and its spread."""
    lying = box.width >= box.height
    along = (box.left if lying else box.top) + start + pitch * (1 - CORE) / 2
    side = box.height if lying else box.width
    across = (box.top if lying else box.left) + side * (1 - CORE) / 2
    a, b = round(along), round(across)
    long, high = max(round(pitch * CORE), 1), max(round(side * CORE), 1)
    place = (b, a, high, long) if lying else (a, b, long, high)
    density = _density(source, encoding, *_within(place, source))
    mean = float(density_from_reflectance(np.power(10.0, -density).mean()))
    return mean, float(density.std())


def _within(
    place: tuple[int, int, int, int], source: ImageSource
) -> tuple[int, int, int, int]:
    top, left, height, width = place
    top, left = max(top, 0), max(left, 0)
    return top, left, min(height, source.height - top), min(width, source.width - left)


def _moved(box: StripBox, start: float, length: float) -> StripBox:
    if box.width >= box.height:
        return StripBox(
            left=box.left + start, top=box.top, width=length, height=box.height
        )
    return StripBox(left=box.left, top=box.top + start, width=box.width, height=length)
