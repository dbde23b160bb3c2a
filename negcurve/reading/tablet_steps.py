"""The steps of a tablet that lay in the target's window, found and read in the scan.

The tablet lies anywhere in the window, either way round and a little askew; its steps
are equally long. They are numbered from its dense end, which prints white against the
black of the clear film around it; that edge must fall on the lattice of the others.
"""

from dataclasses import dataclass

import numpy as np
from scipy import ndimage

from negcurve.density import density_from_reflectance
from negcurve.encoding import Encoding
from negcurve.errors import ReadingsError
from negcurve.reading.geometry import Geometry
from negcurve.reading.patches import COVERED_SHARE, read_areas
from negcurve.reading.reduced import block_means, largest_code
from negcurve.reading.strips import sample
from negcurve.readings import Readings
from negcurve.target.layout import Box
from negcurve.values import Finding, FloatArray, ImageSource

GRID_MM = 0.2
"""Spacing of the samples that the tablet is looked for in."""

LEAST_FALL = 0.3
"""Density from the window's black to its lightest part that a tablet must show. [D]"""

EDGE_SHARE = 0.3
"""Share of that fall by which the tablet's light part stands out from the black."""

SHORTEST_MM = 20.0
NARROWEST_MM = 4.0
"""Light parts smaller than this are stains, no tablet."""

LARGEST_TILT = 0.1
"""Slope of a tablet against the window: it would not fit with more. [1]"""

PITCH_MM = (2.0, 16.0)
"""Length of one step."""

OVER = 0.02
"""Share of the window's length by which a tablet may reach beyond it."""

EDGE_SIGMA_MM = 0.35
"""Width of an edge: blur of light under the tablet's thickness and of the scan."""

OFF_LATTICE = 0.3
"""Share of a step by which the dense end may lie off the lattice of edges."""

LEAST_CONTRAST = 1.6
"""Density changes at the edges over changes between them, for a lattice to be seen."""

FEWEST_EDGES = 4


@dataclass(frozen=True, eq=False, kw_only=True)
class TabletFound:
    """Where a tablet lies, before anyone said which it is.

    Attributes
    ----------
    dense_mm : (x, y)
        Middle of its dense end, on the print. [mm]
    step_mm : (x, y)
        From one step to the next, towards the clear end. [mm]
    breadth_mm : float
        Across the steps. [mm]
    room : int
        Whole steps that fit between the dense end and the end of the window.
    off_lattice : float
        How far the dense end lies off the lattice of edges, in steps.
    """

    dense_mm: tuple[float, float]
    step_mm: tuple[float, float]
    breadth_mm: float
    room: int
    off_lattice: float

    @property
    def pitch_mm(self) -> float:
        """Length of one step. [mm]."""
        return float(np.hypot(*self.step_mm))

    def box(self, from_dense: int) -> Box:
        """Return the part of a step that is clear of its edges and of the tilt.

        Parameters
        ----------
        from_dense : int
            0 for the densest step.
        """
        along = np.array(self.step_mm)
        middle = np.array(self.dense_mm) + (from_dense + 0.5) * along
        across = 0.7 * self.breadth_mm
        lying = abs(along[0]) > abs(along[1])
        tilt = abs(along[1] / along[0]) if lying else abs(along[0] / along[1])
        length = max(self.pitch_mm - tilt * across, 0.5 * self.pitch_mm)
        width, height = (length, across) if lying else (across, length)
        return Box(
            left_mm=float(middle[0]) - width / 2,
            top_mm=float(middle[1]) - height / 2,
            width_mm=width,
            height_mm=height,
        )


def find_tablet(
    source: ImageSource,
    encoding: Encoding,
    geometry: Geometry,
    window: Box,
    *,
    steps: int | None = None,
) -> TabletFound | None:
    """Look for the print of a step tablet in the target's window.

    Parameters
    ----------
    source : ImageSource
        The scan.
    encoding : Encoding
        How its levels stand for light.
    geometry : Geometry
        Print to scan.
    window : Box
        The target's window for a tablet. [mm]
    steps : int, optional
        Of the tablet, where it is known: all of them lie in the window.

    Returns
    -------
    TabletFound or None
        None where nothing but black lies in the window, or no equal steps.
    """
    density = _window_density(source, encoding, geometry, window)
    lying = window.width_mm >= window.height_mm
    density = density if lying else density.T
    strip = _light_part(density)
    if strip is None:
        return None
    profile, turned = _profile(density, strip)
    longest = PITCH_MM[1]
    if steps is not None:
        longest = min(longest, len(profile) * GRID_MM * (1 + OVER) / steps)
    found = _lattice(profile, longest)
    if found is None:
        return None
    end, pitch, off = found
    count = int(
        (len(profile) * GRID_MM - end) / pitch
        + 0.3
        + OVER * len(profile) * GRID_MM / pitch
    )
    return _placed(strip, window, lying=lying, turned=turned, end=(end, pitch, off),
                   room=count)  # fmt: skip


def read_tablet(
    source: ImageSource,
    encoding: Encoding,
    geometry: Geometry,
    found: TabletFound,
    tablet_density: FloatArray,
) -> tuple[Readings, tuple[Box, ...]]:
    """Read the steps of a tablet whose densities are known.

    Parameters
    ----------
    source, encoding, geometry
        As for `find_tablet`.
    found : TabletFound
    tablet_density : array, shape (n,)
        From step 1, the clear end. [D]

    Returns
    -------
    Readings
        One row a step, patch `tablet 1` at the clear end, negative level 1.
    tuple of Box
        Where each step was read. [mm]

    Raises
    ------
    ReadingsError
        If the steps in the window cannot be those of the tablet.
    """
    count = len(tablet_density)
    if count > found.room:
        raise ReadingsError(
            f"the tablet in the window has room for {found.room} steps "
            f"{found.pitch_mm:.1f} mm long, not for {count}",
            where=source.name,
            fix="Name the tablet that lay there: --tablet 21x0.15, or its CSV.",
        )
    if abs(found.off_lattice) > OFF_LATTICE:
        raise ReadingsError(
            "the dense end of the tablet does not lie on a step's edge "
            f"({found.off_lattice:+z.2f} of a step off), so its steps cannot be "
            "numbered",
            where=source.name,
            fix="Is a part of it covered? Read the steps with an instrument, and add "
            "them as rows with tablet_density.",
        )
    boxes = tuple(found.box(count - 1 - step) for step in range(count))
    values = read_areas(source, encoding, geometry, boxes)
    light = np.array([value.reflectance for value in values])
    errors = np.array([value.standard_error for value in values])
    centres = np.array([box.center for box in boxes])
    flags = tuple(
        frozenset(
            name
            for name, holds in (
                ("clipped", value.clipped),
                ("covered", value.left_out > COVERED_SHARE),
            )
            if holds
        )
        for value in values
    )
    readings = Readings(
        negative_level=np.ones(count),
        density=density_from_reflectance(light),
        patch=tuple(f"tablet {step + 1}" for step in range(count)),
        standard_error=errors / light / np.log(10),
        x_mm=centres[:, 0],
        y_mm=centres[:, 1],
        tablet_density=tablet_density,
        flags=flags,
        density_zero="scanner",
        source=source.name,
    )
    return readings, boxes


def offer(found: TabletFound, source: ImageSource) -> Finding:
    """Say that a tablet seems to lie in the window; which it is, the user knows."""
    return Finding(
        severity="note",
        where=source.name,
        what=f"what looks like a step tablet lies in the window, with steps "
        f"{found.pitch_mm:.1f} mm long (room for {found.room}); it was not read",
        fix="Name it to tell film from paper and to speak of stops: --tablet 31x0.10, "
        "21x0.15, or a CSV of its densities.",
    )


def _window_density(
    source: ImageSource, encoding: Encoding, geometry: Geometry, window: Box
) -> FloatArray:
    """Density at even places of the window, shape (down, across)."""
    columns = int(window.width_mm / GRID_MM)
    rows = int(window.height_mm / GRID_MM)
    x = window.left_mm + (np.arange(columns) + 0.5) * GRID_MM
    y = window.top_mm + (np.arange(rows) + 0.5) * GRID_MM
    grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    places = geometry.to_scan(grid)
    low = np.maximum(np.floor(places.min(axis=0)).astype(int) - 2, 0)
    high = np.ceil(places.max(axis=0)).astype(int) + 2
    right, bottom = min(high[0], source.width), min(high[1], source.height)
    codes = source.window(int(low[1]), int(low[0]), bottom - low[1], right - low[0])
    pixel = GRID_MM * geometry.px_per_mm
    block = max(1, int(pixel / 2))
    codes = codes[: len(codes) // block * block]
    light = encoding.luminance(block_means(codes, block) / largest_code(source.dtype))
    light = ndimage.uniform_filter(light, size=max(1, round(pixel / block)))
    values = sample(light.astype(np.float32), (places - low) / block)
    values = np.nan_to_num(values, nan=float(np.nanmedian(values)))
    density = density_from_reflectance(np.maximum(values, 1e-4))
    return np.asarray(density.reshape(rows, columns), dtype=np.float64)


@dataclass(frozen=True, eq=False, kw_only=True)
class _Strip:
    """Where the light part of a tablet lies: row of its middle against column."""

    middle: float
    slope: float
    breadth: float
    shape: tuple[int, int]

    def rows(self) -> FloatArray:
        """Row of the middle at each column, shape (columns,)."""
        across = np.arange(self.shape[1]) - self.shape[1] / 2
        return np.asarray(self.middle + self.slope * across, dtype=np.float64)


def _light_part(density: FloatArray) -> _Strip | None:
    """Find the part that is lighter than the clear film's black around it."""
    black = float(np.percentile(density, 97))
    fall = black - float(np.percentile(density, 3))
    if fall < LEAST_FALL:
        return None
    light = density < black - EDGE_SHARE * fall
    size = int(1.0 / GRID_MM)
    light = ndimage.binary_opening(light, np.ones((size, size), bool))
    light = ndimage.binary_closing(light, np.ones((size, 2 * size), bool))
    parts, count = ndimage.label(light)
    if not count:
        return None
    sizes = ndimage.sum_labels(light, parts, np.arange(1, count + 1))
    part = parts == 1 + int(np.argmax(sizes))
    columns = np.flatnonzero(part.any(axis=0))
    heights = part.sum(axis=0)[columns]
    if np.ptp(columns) * GRID_MM < SHORTEST_MM:
        return None
    if np.median(heights) * GRID_MM < NARROWEST_MM:
        return None
    whole = heights > 0.9 * np.median(heights)
    tops = part.argmax(axis=0)[columns[whole]]
    middles = tops + heights[whole] / 2
    across = columns[whole] - density.shape[1] / 2
    slope, middle = np.polyfit(across, middles, 1)
    return _Strip(
        middle=float(middle),
        slope=float(np.clip(slope, -LARGEST_TILT, LARGEST_TILT)),
        breadth=float(np.median(heights)),
        shape=(density.shape[0], density.shape[1]),
    )


def _profile(density: FloatArray, strip: _Strip) -> tuple[FloatArray, bool]:
    """Density along the strip, dense end first, and whether that is the far end."""
    offsets = np.arange(-0.3, 0.301, 0.02) * strip.breadth
    rows = strip.rows()[None, :] + offsets[:, None]
    # A tilted strip has tilted edges: columns shift with the distance from the middle.
    columns = np.arange(strip.shape[1])[None, :] - strip.slope * offsets[:, None]
    values = ndimage.map_coordinates(density, [rows, columns], order=1, mode="nearest")
    profile = np.median(values, axis=0)
    profile = ndimage.median_filter(profile, size=int(1.0 / GRID_MM) | 1)
    low, high = np.percentile(profile, [3, 97])
    light = np.flatnonzero(profile < low + 0.5 * (high - low))
    ends = [float(profile[max(light[0] - 15, 0)]), float(profile[light[0] + 10])]
    others = [float(profile[light[-1] - 10])]
    last = float(profile[min(light[-1] + 15, len(profile) - 1)])
    jump_first, jump_last = ends[0] - ends[1], last - others[0]
    turned = jump_last > jump_first
    return (profile[::-1] if turned else profile), bool(turned)


def _lattice(
    profile: FloatArray, longest_mm: float
) -> tuple[float, float, float] | None:
    """Find dense end, step length and how far the end lies off the lattice. [mm].

    At the edges of the true lattice density jumps and halfway between it does not, so
    neither half nor double the step is taken for it.
    """
    low, high = np.percentile(profile, [3, 97])
    slope = ndimage.gaussian_filter1d(profile, EDGE_SIGMA_MM / GRID_MM, order=1)
    first = int(np.argmax(profile < low + 0.5 * (high - low)))
    around = slice(max(first - 8, 0), first + 9)
    end = around.start + int(np.argmin(slope[around]))
    rise = np.maximum(slope, 0)
    rise[: end + int(2.5 / GRID_MM) // 2] = 0
    seen = (profile > low + 0.04) & (profile < high - 0.04)
    seen[: end + 3] = False
    zone = np.flatnonzero(seen)
    if len(zone) * GRID_MM < 2 * PITCH_MM[0]:
        return None
    best = _best_lattice(rise, (int(zone[0]), int(zone[-1])), longest_mm)
    if best is None:
        return None
    phase, pitch = best
    steps = (end - phase) / pitch
    off = steps - round(steps)
    lattice_end = phase + round(steps) * pitch
    # A fringe of light moves the strong edge of the end, not the lattice of the steps.
    start = lattice_end if abs(off) <= OFF_LATTICE else float(end)
    return (start + 0.5) * GRID_MM, pitch * GRID_MM, float(off)


def _best_lattice(
    rise: FloatArray, zone: tuple[int, int], longest_mm: float
) -> tuple[float, float] | None:
    """Phase and step, in samples, at which edges differ most from what lies between."""
    places = np.arange(len(rise))
    running = float(np.mean(rise[zone[0] : zone[1] + 1]))
    best, score = None, LEAST_CONTRAST * running / 2
    for pitch in np.arange(PITCH_MM[0], longest_mm, 0.01) / GRID_MM:
        count = int((zone[1] - zone[0]) / pitch)
        if count < FEWEST_EDGES:
            break
        phases = zone[0] + np.arange(0, pitch, 0.25)
        edges = phases[:, None] + pitch * np.arange(count)
        at = np.interp(edges, places, rise).mean(axis=1)
        between = np.interp(edges + pitch / 2, places, rise).mean(axis=1)
        contrast = at - between
        # More edges say more: a few may fall on bumps by chance.
        contrast *= 1 - 0.5 / np.sqrt(count)
        place = int(np.argmax(contrast))
        if contrast[place] > score:
            best, score = (float(phases[place]), float(pitch)), float(contrast[place])
    return best


def _placed(
    strip: _Strip,
    window: Box,
    *,
    lying: bool,
    turned: bool,
    end: tuple[float, float, float],
    room: int,
) -> TabletFound:
    """Bring a lattice along the strip back to millimetres on the print."""
    start, pitch, off = end
    length = strip.shape[1] * GRID_MM
    sign = -1.0 if turned else 1.0
    along = length - start if turned else start
    column = along / GRID_MM - 0.5
    row = float(np.interp(column, np.arange(strip.shape[1]), strip.rows()))
    across = (row + 0.5) * GRID_MM
    step = (sign * pitch, sign * pitch * strip.slope)
    place = (window.left_mm + along, window.top_mm + across)
    if not lying:
        place = (window.left_mm + across, window.top_mm + along)
        step = (step[1], step[0])
    return TabletFound(
        dense_mm=place,
        step_mm=step,
        breadth_mm=strip.breadth * GRID_MM,
        room=room,
        off_lattice=off,
    )
