"""Where a step wedge may lie in a scan: long stretches that darken steadily.

Looks at a coarse picture at every likely angle; whether a stretch is cut into equal
cells is left to `negcurve.reading.wedge_cells`.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageDraw
from scipy import ndimage

from negcurve.reading.reduced import SmallArray
from negcurve.values import FloatArray

COARSE_PX_PER_MM = 1.9
"""Of the coarse picture, at least: a hair is a pixel, a cell of 2 mm four."""

FLOOR_LEVEL = 0.02
"""Added to levels before their logarithm is taken: dark steps of a linear and of an
sRGB scan are then alike to within a factor of two. Ours."""

ANGLES = np.arange(-15.0, 15.1, 1.5)
"""By which a wedge may lie askew to the glass. Half a step of it over 200 mm is 2.6 mm,
which stays inside a wedge. [degree]"""

BAND_MM = 2.0
SLACK = 0.025
"""How far log level may go back along a stretch: noise, grain, sharpened edges."""

MEMORY, JUMP = 13, 3
"""Over so many pixels of the coarse picture it must not go back, and an edge is judged.
"""

LEAST_SHARE = 0.25
"""Of a wedge's density range that its log level must span, whatever the curve."""

LARGEST_JUMP = 0.55
"""Share of the fall that may lie in one place; more is a mere edge."""

FEWEST_BANDS = 3
ALIKE = np.radians(4.0)
"""Of stretches over one another whose angles differ by less only one is kept."""

CANDIDATES = 12


@dataclass(frozen=True, kw_only=True)
class Stretch:
    """A place that may be a wedge.

    Attributes
    ----------
    middle : (x, y)
        [px of the picture]
    angle : float
        Of the way along which it darkens, clockwise from the picture's right. [radian]
    length : float
        In which the middle 70 % of the fall lie. [px]
    height : float
        Across it. [px]
    """

    middle: tuple[float, float]
    angle: float
    length: float
    height: float

    @property
    def support(self) -> float:
        """Area, by which candidates are ranked."""
        return self.length * self.height


def log_level(levels: SmallArray) -> FloatArray:
    """Logarithm of the mean level of all channels, NaN where that is NaN."""
    return np.asarray(np.log10(levels.mean(axis=2, dtype=np.float64) + FLOOR_LEVEL))


def masked(
    picture: FloatArray, outline_px: npt.ArrayLike, *, outside: bool = False
) -> FloatArray:
    """Return a picture without the inside (or outside) of an outline: NaN there."""
    canvas = Image.new("1", (picture.shape[1], picture.shape[0]))
    corners = [(float(x), float(y)) for x, y in np.asarray(outline_px)]
    ImageDraw.Draw(canvas).polygon(corners, fill=1)
    return np.where(np.asarray(canvas) ^ outside, np.nan, picture)


def find_stretches(
    picture: FloatArray, *, px_per_mm: float, steps: int, density_range: float
) -> list[Stretch]:
    """Find the stretches of a picture that darken steadily.

    Parameters
    ----------
    picture : array, shape (rows, columns)
        Log level; NaN where nothing is looked for.
    px_per_mm : float
        Of the picture.
    steps : int
        Of the wedge.
    density_range : float
        From its lightest to its darkest step. [D]

    Returns
    -------
    list of Stretch
        The largest first, at most `CANDIDATES`.
    """
    factor = max(1, int(px_per_mm / COARSE_PX_PER_MM))
    coarse = _coarse(picture, factor)
    scale = px_per_mm / factor
    band = max(2, round(BAND_MM * scale))
    least = LEAST_SHARE * density_range
    found: list[Stretch] = []
    for angle in np.radians(ANGLES):
        turned = _turned(coarse, angle)
        for upright, view in enumerate((turned, turned.T)):
            for run in _runs(view, band, steps=steps, least=least):
                found.append(
                    _placed(run, view.shape, coarse.shape, angle, upright, factor)
                )
    return _distinct(found)


def _coarse(picture: FloatArray, factor: int) -> npt.NDArray[np.float32]:
    """Average blocks, then take hairs, specks and thin lines out."""
    rows, columns = (side // factor for side in picture.shape)
    blocks = picture[: rows * factor, : columns * factor].reshape(
        rows, factor, columns, factor
    )
    small = np.asarray(blocks.mean(axis=(1, 3)), dtype=np.float32)
    away = np.isnan(small)
    small = ndimage.median_filter(np.where(away, 0, small), size=5)
    return np.where(away, np.float32(np.nan), small)


def _turned(coarse: npt.NDArray[np.float32], angle: float) -> npt.NDArray[np.float32]:
    """Turn a picture so that what lay at an angle lies level."""
    cos, sin = np.cos(angle), np.sin(angle)
    rows, columns = coarse.shape
    wide = int(columns * cos + rows * abs(sin))
    high = int(rows * cos + columns * abs(sin))
    # From a place in what is made to the place that it shows.
    to_left = columns / 2 - cos * wide / 2 + sin * high / 2
    to_top = rows / 2 - sin * wide / 2 - cos * high / 2
    turned = Image.fromarray(coarse).transform(
        (wide, high),
        Image.Transform.AFFINE,
        (cos, -sin, to_left, sin, cos, to_top),
        resample=Image.Resampling.BILINEAR,
        fillcolor=float("nan"),
    )
    return np.asarray(turned, dtype=np.float32)


@dataclass(frozen=True, kw_only=True)
class _Run:
    """Bands that darken along the same columns; `sign` -1 where towards the left."""

    first: float
    last: float
    top: float
    bottom: float
    sign: int


def _runs(
    view: npt.NDArray[np.float32], band: int, *, steps: int, least: float
) -> list[_Run]:
    """Find the runs of a level view."""
    half = max(band // 2, 1)
    rows = view.shape[0] // half * half
    halves = view[:rows].reshape(-1, half, view.shape[1]).mean(axis=1)
    bands = (halves[:-1] + halves[1:]) / 2
    found = []
    for sign in (1, -1):
        lines = bands[:, ::sign]
        for top, bottom, start, stop in _linked(_falls(lines, least, steps)):
            if sign < 0:
                start, stop = view.shape[1] - stop, view.shape[1] - start
            found.append(
                _Run(
                    first=start,
                    last=stop,
                    top=top * half,
                    bottom=(bottom + 2) * half,
                    sign=sign,
                )
            )
    return found


def _falls(
    lines: npt.NDArray[np.float32], least: float, steps: int
) -> list[tuple[int, float, float]]:
    """Find the stretches of lines that fall steadily by at least so much.

    Returns
    -------
    list of (line, first, last)
        Columns between which the middle 70 % of each fall lie.
    """
    known = np.where(np.isnan(lines), np.float32(np.inf), lines)
    behind = ndimage.minimum_filter1d(
        known, MEMORY, axis=1, mode="nearest", origin=MEMORY // 2
    )
    with np.errstate(invalid="ignore"):
        steady = lines - behind <= SLACK
    padded = np.pad(steady, ((0, 0), (1, 1))).astype(np.int8)
    change = np.diff(padded, axis=1)
    rows, firsts = np.nonzero(change == 1)
    lasts = np.nonzero(change == -1)[1]
    kept = lasts - firsts > steps
    rows, firsts, lasts = rows[kept], firsts[kept], lasts[kept]
    fall = lines[rows, firsts] - lines[rows, lasts - 1]
    # A mere edge falls at once; most of what a scan shows is that.
    drop = np.zeros_like(lines)
    drop[:, :-JUMP] = lines[:, :-JUMP] - lines[:, JUMP:]
    ends = np.column_stack([firsts, lasts - 1]) + rows[:, np.newaxis] * lines.shape[1]
    if not len(ends):
        return []
    largest = np.maximum.reduceat(np.nan_to_num(drop).ravel(), ends.ravel())[::2]
    kept = (fall >= 0.7 * least) & (largest < LARGEST_JUMP * fall)
    found = []
    for row, first, last in zip(rows[kept], firsts[kept], lasts[kept], strict=True):
        core = _core(lines[row], int(first), int(last), least, steps)
        if core is not None:
            found.append((int(row), *core))
    return found


def _core(
    line: npt.NDArray[np.float32], first: int, last: int, least: float, steps: int
) -> tuple[float, float] | None:
    """Where the middle 70 % of a fall lie; None if it has not the make of a wedge."""
    # What lay behind a rise was hidden by it.
    hidden = line[max(first - MEMORY, 0) : first + 1]
    first -= len(hidden) - 1 - int(np.nanargmax(hidden))
    low = np.minimum.accumulate(np.nan_to_num(line[first:last], nan=np.inf))
    whole = float(low[0] - low[-1])
    if whole < least:
        return None
    fall = (low[0] - low) / whole
    places = np.searchsorted(fall, (0.05, 0.15, 0.35, 0.5, 0.65, 0.85, 0.95))
    length = float(places[5] - places[1])
    if length < 0.4 * 3 * steps:
        return None
    reach = max(2, int(0.5 * length / steps))
    if len(fall) <= reach or (fall[reach:] - fall[:-reach]).max() > LARGEST_JUMP:
        return None
    if np.diff(places).max() > 0.6 * (places[-1] - places[0]):
        return None
    return first + float(places[1]), first + float(places[5])


def _linked(
    ends: list[tuple[int, float, float]],
) -> list[tuple[int, int, float, float]]:
    """Join neighbouring bands with the same ends.

    Returns
    -------
    list of (top band, bottom band, first, last)
    """
    open_ones: list[list[tuple[int, float, float]]] = []
    done: list[list[tuple[int, float, float]]] = []
    for end in sorted(ends):
        near = [each for each in open_ones if end[0] - each[-1][0] <= 2]
        done += [each for each in open_ones if end[0] - each[-1][0] > 2]
        open_ones = near
        slack = 0.06 * (end[2] - end[1]) + 2
        for chain in open_ones:
            last = chain[-1]
            if abs(last[1] - end[1]) < slack and abs(last[2] - end[2]) < slack:
                chain.append(end)
                break
        else:
            open_ones.append([end])
    return [
        (
            chain[0][0],
            chain[-1][0],
            float(np.median([each[1] for each in chain])),
            float(np.median([each[2] for each in chain])),
        )
        for chain in (*done, *open_ones)
        if len(chain) >= FEWEST_BANDS
    ]


def _placed(
    run: _Run,
    shape: tuple[int, ...],
    coarse_shape: tuple[int, ...],
    angle: float,
    upright: int,
    factor: int,
) -> Stretch:
    """Carry a run back from the turned view to the picture."""
    across = (run.top + run.bottom) / 2 - shape[0] / 2
    along = (run.first + run.last) / 2 - shape[1] / 2
    dx, dy = (across, along) if upright else (along, across)
    cos, sin = np.cos(angle), np.sin(angle)
    x = cos * dx - sin * dy + coarse_shape[1] / 2
    y = sin * dx + cos * dy + coarse_shape[0] / 2
    way = angle + (np.pi / 2 if upright else 0) + (0 if run.sign > 0 else np.pi)
    return Stretch(
        middle=(float(x * factor), float(y * factor)),
        angle=float(way),
        length=(run.last - run.first) * factor,
        height=(run.bottom - run.top) * factor,
    )


def _distinct(found: list[Stretch]) -> list[Stretch]:
    """Keep the largest of those that lie over one another at about one angle."""
    kept: list[Stretch] = []
    for each in sorted(found, key=lambda one: -one.support):
        if any(_over(each, other) for other in kept):
            continue
        kept.append(each)
        if len(kept) == CANDIDATES:
            break
    return kept


def _over(one: Stretch, other: Stretch) -> bool:
    apart = np.hypot(*(np.array(one.middle) - np.array(other.middle)))
    turn = np.cos(one.angle - other.angle)
    near = apart < 0.25 * max(one.length, other.length)
    return bool(near and turn > np.cos(ALIKE))
