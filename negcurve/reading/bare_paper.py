"""Bare paper beside the coating, told from the lid.

Bare paper, the lid and what else lies on the glass can look alike. What is taken for
paper here is what the coating's brushed edge lies on, or a band with an edge of its own
between the coating and the lid; where neither is seen, nothing is said.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from negcurve.reading.margins import Margin, ground_light, row_medians
from negcurve.values import FloatArray

BoolArray = npt.NDArray[np.bool_]

STAYS_MM = 1.0
"""How long a change lasts that is no speck, hair or shadow of an edge. [mm]"""

CLEAR_MM = 0.8
"""Kept away from edges, where brushed coating runs out and light spreads. [mm]"""

BAND_MM = 8.0
"""No more than this beside the coating is read: the nearer, the surer. [mm]"""

CHANGE = 0.03
"""Relative change of light at which something else than the band begins. Ours. [1]"""

BRUSHED_MM = 0.3
"""Deviation of an edge from a straight line above which no blade cut it. Ours. [mm]"""

BEYOND_MM = 10.0
"""So much must be seen beyond a band that ends straight: the frame round a
scanner's lid is cut off by the scan. Ours. [mm]"""

LEAST_RAYS = 25
"""So many rays must agree: 25 mm of edge. Ours."""

ALIKE = 0.03
"""Spread of what sides show, beyond which it is not one paper. Ours. [D]"""


@dataclass(frozen=True, eq=False, kw_only=True)
class Bands:
    """What begins at the coating's edge, ray by ray of one side.

    Attributes
    ----------
    start, stop : array of int, shape (rays,)
        First place beyond the coating, and first place of something else; `start` is
        -1 where no edge of the coating was seen.
    ended : array of bool, shape (rays,)
        Whether something else was seen at `stop`, not the end of the scan.
    """

    start: npt.NDArray[np.int64]
    stop: npt.NDArray[np.int64]
    ended: BoolArray


def white_limit(found: Sequence[Margin], *, lightest: float) -> float | None:
    """Return the light half way in density from the ground to white.

    Parameters
    ----------
    found : sequence of Margin
        Sides of the print.
    lightest : float
        Density of the lightest patch. [D]

    Returns
    -------
    float or None
        None where the ground is not seen, or hardly darker than the lightest patch.
    """
    rays = np.concatenate([ground_light(each) for each in found])
    ground = float(np.nanmedian(rays)) if np.isfinite(rays).any() else 1.0
    white = 10**-lightest
    return float(np.sqrt(ground * white)) if ground < 0.5 * white else None


@dataclass(frozen=True, kw_only=True)
class BarePaper:
    """What bare paper reads.

    Attributes
    ----------
    density : float
        [D]
    level : float
        Of its brightest channel, 0..1.
    """

    density: float
    level: float


def bare_paper(
    found: Sequence[Margin], *, limit: float, lightest: float
) -> BarePaper | None:
    """Read the bare paper beside the coating.

    Parameters
    ----------
    found : sequence of Margin
        Sides of the print.
    limit : float
        Of `white_limit`.
    lightest : float
        Density of the lightest patch. [D]

    Returns
    -------
    BarePaper or None
        None where no bare paper is seen, or it cannot be told from the lid.
    """
    sides, brushed = [], False
    for margin in found:
        bands = find_bands(margin, limit=limit)
        is_brushed = has_brushed_edge(margin, bands)
        brushed |= is_brushed
        band = _band_medians(margin, bands)
        if len(band) and (is_brushed or has_edge_of_paper(margin, bands)):
            sides.append(band)
    rays = np.concatenate([np.empty((0, 2)), *sides])
    # One straight edge alone may be that of a wedge or another print on the glass.
    if len(rays) < LEAST_RAYS or not (brushed or len(sides) > 1):
        return None
    each = -np.log10([np.median(side[:, 0]) for side in sides])
    light, level = np.median(rays, axis=0)
    density = -float(np.log10(light))
    # Coating and processing do not make paper lighter than it was.
    if float(np.ptp(each)) > ALIKE or density > lightest + ALIKE:
        return None
    return BarePaper(density=density, level=float(level))


def find_bands(margin: Margin, *, limit: float) -> Bands:
    """Find where the coating ends on each ray, and where what follows it ends.

    Parameters
    ----------
    margin : Margin
    limit : float
        Light between ground and white.

    Returns
    -------
    Bands
    """
    light, step = margin.light, margin.step_mm
    stays = max(2, round(STAYS_MM / step))
    clear = max(1, round(CLEAR_MM / step))
    start = _first_run(light > limit, stays)
    rays = np.arange(len(light))
    count = light.shape[1]
    # What the band is, over its first millimetres.
    after = np.clip(start[:, None] + clear + np.arange(2 * stays), 0, count - 1)
    band = row_medians(light[rays[:, None], after])
    other = np.abs(light - band[:, None]) > CHANGE * band[:, None]
    other &= np.arange(count) >= (start + clear)[:, None]
    ends = _first_run(other, stays)
    beyond = _first_run(np.isnan(light), 1)
    beyond = np.where(beyond < 0, count, beyond)
    ended = (ends >= 0) & (ends < beyond - stays)
    return Bands(
        start=start, stop=np.where(ended, ends, beyond), ended=ended & (start >= 0)
    )


def _first_run(holds: BoolArray, length: int) -> npt.NDArray[np.int64]:
    """Return where in each row a run of True of a length begins, -1 without one."""
    windows = np.lib.stride_tricks.sliding_window_view(holds, length, axis=1)
    runs = np.asarray(windows.all(axis=2))
    return np.where(runs.any(axis=1), runs.argmax(axis=1), -1)


def has_brushed_edge(margin: Margin, bands: Bands) -> bool:
    """Tell whether the coating of a side ends as a brush leaves it, so on paper.

    Parameters
    ----------
    margin : Margin
    bands : Bands
        Of that side.

    Returns
    -------
    bool
    """
    seen = np.flatnonzero(bands.start >= 0)
    if len(seen) < LEAST_RAYS:
        return False
    return _crookedness(seen, bands.start[seen] * margin.step_mm) > BRUSHED_MM


def has_edge_of_paper(margin: Margin, bands: Bands) -> bool:
    """Tell whether what follows the coating ends straight, well within the scan.

    Parameters
    ----------
    margin : Margin
    bands : Bands
        Of that side.

    Returns
    -------
    bool
    """
    ended = np.flatnonzero(bands.ended)
    if len(ended) < max(LEAST_RAYS, np.count_nonzero(bands.start >= 0) / 2):
        return False
    width = (bands.stop - bands.start)[ended] * margin.step_mm
    far = bands.stop[ended] * margin.step_mm
    beyond = np.isfinite(margin.light[ended]).sum(axis=1) * margin.step_mm - far
    return bool(
        np.median(width) > 2 * CLEAR_MM + STAYS_MM
        and np.median(beyond) > BEYOND_MM
        and _crookedness(ended, far) < BRUSHED_MM
    )


def _crookedness(ray: npt.NDArray[np.int64], place_mm: npt.NDArray[Any]) -> float:
    """Return how far an edge strays from a line, as a standard deviation in mm.

    The line may bow a little, as paper on the glass and lenses do.
    """
    kept = np.ones(len(ray), dtype=bool)
    spread = 0.0
    for _ in range(3):
        line = np.polyfit(ray[kept], place_mm[kept], 2)
        rest = place_mm - np.polyval(line, ray)
        spread = 1.4826 * float(np.median(np.abs(rest[kept])))
        kept = np.abs(rest) <= max(3 * spread, 0.2)
    return spread


def _band_medians(margin: Margin, bands: Bands) -> FloatArray:
    """Return light and level of the band of each ray that has one, shape (n, 2)."""
    clear = max(1, round(CLEAR_MM / margin.step_mm))
    most = round(BAND_MM / margin.step_mm)
    both = np.stack([margin.light, margin.level], axis=2)
    found = []
    for ray, start, stop in zip(both, bands.start, bands.stop, strict=True):
        part = ray[start + clear : min(stop - clear, start + most)]
        part = part[np.isfinite(part[:, 0])]
        if start >= 0 and len(part) >= clear:
            found.append(np.median(part, axis=0))
    return np.array(found)
