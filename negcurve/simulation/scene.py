"""An invented picture for the demo: a coast with hills, a lighthouse, a boat, clouds.

Everything is drawn from formulas and seeded noise; there is no such place. Tones run
from deep shadow to bright highlight, with smooth gradients and fine texture between.
"""

import math

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from negcurve.simulation.fields import Image, smooth_field, smooth_line
from negcurve.simulation.scene_parts import Canvas, blend, polygon

HORIZON = 0.56
SUN = (0.50, 0.40)


def coast(*, width: int, height: int, seed: int = 7) -> Image:
    """Draw the picture.

    Parameters
    ----------
    width, height : int
        In pixels; drawn for 4 : 3, filled for other shapes.
    seed : int
        Of clouds, waves, ridges and grass.

    Returns
    -------
    array, shape (height, width)
        Image tone, 0 black to 1 white.
    """
    rng = np.random.default_rng(seed)
    canvas = Canvas(width=width, height=height)
    tone = _sky(canvas, rng)
    _hills(canvas, tone, rng)
    _sea(canvas, tone, rng)
    _boat(canvas, tone)
    _headland(canvas, tone, rng)
    _lighthouse(canvas, tone)
    _gulls(canvas, tone)
    _shore(canvas, tone, rng)
    np.clip(tone, 0.0, 1.0, out=tone)
    return tone


def _octaves(
    shape: tuple[int, int],
    *,
    first: tuple[int, int],
    count: int,
    fade: float,
    rng: np.random.Generator,
) -> Image:
    """Sum of smooth fields, each twice as fine and `fade` times as strong."""
    total = np.zeros(shape, dtype=np.float32)
    weight, power = 1.0, 0.0
    for number in range(count):
        knots = first[0] * 2**number + 3, first[1] * 2**number + 3
        total += np.float32(weight) * smooth_field(shape, knots=knots, rng=rng)
        power += weight**2
        weight *= fade
    total /= np.float32(math.sqrt(power))
    return total


def _sky(canvas: Canvas, rng: np.random.Generator) -> Image:
    x, y = canvas.x, canvas.y
    depth = np.clip(y / HORIZON, 0.0, 1.0)
    distance = np.hypot((x - SUN[0]) * 0.8, y - SUN[1])
    glow = np.exp(-((distance / 0.30) ** 1.3))
    tone = np.asarray(0.44 + 0.26 * depth**1.5 + 0.30 * glow, dtype=np.float32)
    # Clouds come closer together towards the horizon, as a flat layer does.
    sheet = _octaves((1024, 1536), first=(6, 5), count=7, fade=0.62, rng=rng)
    far = 1.0 / (1.12 - depth)
    rows = np.broadcast_to(far * 115, canvas.shape)
    columns = 768 + (x - 0.6) * far * 330
    cloud = ndimage.map_coordinates(
        sheet, np.stack([rows, columns]), order=1, mode="mirror"
    )
    body = np.clip((cloud - 0.05) / 1.1, 0.0, 1.0) ** 0.8
    body *= np.clip(1.15 - depth**3, 0.0, 1.0)
    lit = np.clip(0.60 + 0.36 * glow + 0.16 * (1 - body), 0.0, 0.985)
    blend(tone, lit, np.clip(1.5 * body, 0.0, 0.9))
    under = np.clip((cloud - 1.0) / 1.0, 0.0, 1.0) * (1 - 0.7 * glow)
    tone -= (0.20 * under * np.clip(1.1 - depth, 0, 1)).astype(np.float32)
    sun = np.hypot(x - SUN[0], y - SUN[1])
    blend(tone, 0.97, 0.8 * np.exp(-((sun / 0.045) ** 2)))
    blend(tone, 0.995, np.clip((0.018 - sun) / 0.004 + 0.5, 0, 1))
    return tone


def _ridge(
    count: int, *, height: float, detail: int, rng: np.random.Generator
) -> Image:
    line = np.zeros(count, dtype=np.float32)
    for octave in range(detail):
        knots = 4 + 3 * 2**octave
        line += smooth_line(count, knots=knots, rng=rng) / np.float32(2.1**octave)
    return line * np.float32(height)


def _hills(canvas: Canvas, tone: Image, rng: np.random.Generator) -> None:
    layers = ((0.50, 0.022, 0.70), (0.525, 0.017, 0.59), (0.545, 0.010, 0.47))
    across = np.linspace(0, 1, canvas.width)
    for base, rough, dark in layers:
        ridge = base + _ridge(canvas.width, height=rough, detail=7, rng=rng)
        ridge += 0.05 * (across - 0.55) ** 2
        below = canvas.y - ridge[None, :]
        mist = np.clip((canvas.y - ridge[None, :]) / (HORIZON - 0.47), 0, 1)
        folds = _octaves(canvas.shape, first=(24, 10), count=4, fade=0.7, rng=rng)
        colour = dark + 0.17 * mist + 0.018 * folds
        blend(tone, colour, np.clip(below * canvas.height + 0.5, 0, 1))


def _sea(canvas: Canvas, tone: Image, rng: np.random.Generator) -> None:
    depth = np.clip((canvas.y - HORIZON) / (1 - HORIZON), 0.0, 1.0)
    sheet = _octaves((768, 1024), first=(40, 24), count=5, fade=0.75, rng=rng)
    far = 1.0 / (0.05 + depth)
    rows = np.broadcast_to(far * 48, canvas.shape)
    columns = 512 + (canvas.x - 0.6) * far * 90
    waves = np.zeros(canvas.shape, dtype=np.float32)
    for finer, strength in ((1.0, 0.8), (6.0, 0.6)):
        # Ripples too fine for the distance are left out, as the eye does.
        seen = strength * np.clip(40 * depth / finer, 0.0, 1.0)
        waves += seen.astype(np.float32) * ndimage.map_coordinates(
            sheet, np.stack([rows, columns]) * finer + 140, order=1, mode="mirror"
        )
    base = 0.74 - 0.44 * depth**0.6
    swell = waves * (0.03 + 0.10 * np.sqrt(depth))
    path = np.exp(-(((canvas.x - SUN[0]) / (0.045 + 0.16 * depth)) ** 2))
    sparkle = np.clip((waves - 0.25 + 0.9 * path) * 1.2, 0.0, 1.0) * path
    colour = np.clip(base + swell * (1 - 0.5 * path), 0.08, 1.0)
    colour = colour + (0.985 - colour) * sparkle * (1 - 0.25 * depth)
    blend(tone, colour, np.clip((canvas.y - HORIZON) * canvas.height + 0.5, 0, 1))


def _boat(canvas: Canvas, tone: Image) -> None:
    x, y = 0.285, 0.665
    for side, shade in ((-1, 0.80), (1, 0.93)):
        sail = [
            (x + side * 0.003, y - 0.016),
            (x + side * 0.003, y - (0.155 if side > 0 else 0.130)),
            (x + side * (0.052 if side > 0 else 0.036), y - 0.020),
        ]
        polygon(canvas, tone, sail, shade)
        mirrored = [(px, 2 * y + 0.012 - py * 1.0) for px, py in sail]
        polygon(canvas, tone, mirrored, shade - 0.12, opacity=0.28)
    polygon(canvas, tone, [(x - 0.001, y - 0.165), (x + 0.001, y - 0.165),
                           (x + 0.0015, y), (x - 0.0015, y)], 0.12)  # fmt: skip
    hull = [(x - 0.052, y - 0.014), (x + 0.060, y - 0.017), (x + 0.044, y + 0.006),
            (x - 0.040, y + 0.006)]  # fmt: skip
    polygon(canvas, tone, hull, 0.10)
    polygon(canvas, tone, [(x - 0.04, y + 0.006), (x + 0.044, y + 0.006),
                           (x + 0.03, y + 0.020), (x - 0.03, y + 0.020)],
            0.16, opacity=0.6)  # fmt: skip


def _headland(canvas: Canvas, tone: Image, rng: np.random.Generator) -> None:
    across = np.linspace(0, 4 / 3, canvas.width)
    rise = 1 / (1 + np.exp(-(across - 0.93) / 0.045))
    top = 0.728 - 0.26 * rise + _ridge(canvas.width, height=0.005, detail=9, rng=rng)
    below = canvas.y - top[None, :].astype(np.float32)
    foot = 0.715 + _ridge(canvas.width, height=0.004, detail=8, rng=rng)
    inside = np.minimum(below, foot[None, :] - canvas.y) * canvas.height + 0.5
    rock = _octaves(canvas.shape, first=(14, 30), count=6, fade=0.8, rng=rng)
    strata = np.sin(90 * below + 2.2 * rock + 14 * canvas.x)
    face = 0.22 + 0.075 * rock + 0.030 * strata - 0.25 * below
    face += 0.16 * np.exp(-(((canvas.x - 0.90) / 0.05) ** 2))
    grass = np.clip(1 - below / 0.026, 0.0, 1.0)
    face = face + (0.40 + 0.05 * rock - face) * grass
    blend(tone, np.clip(face, 0.03, 1.0), np.clip(inside, 0, 1))
    surf = np.exp(-(((canvas.y - foot[None, :] - 0.002) / 0.0045) ** 2))
    surf = surf * np.clip(0.55 + 0.5 * rock, 0.0, 0.85)
    blend(tone, 0.93, surf * np.clip((across[None, :] - 0.82) / 0.04, 0.0, 1.0))


def _lighthouse(canvas: Canvas, tone: Image) -> None:
    x, foot, top = 1.13, 0.482, 0.235
    down = np.clip((canvas.y - top) / (foot - top), 0.0, 1.0)
    half = 0.0165 + 0.0095 * down**1.5
    round_ = np.clip((canvas.x - x) / half, -1.0, 1.0)
    edge = np.minimum(half - np.abs(canvas.x - x), 1.0)
    edge = np.minimum(edge, np.minimum(canvas.y - top, foot + 0.004 - canvas.y))
    light = 0.93 - 0.30 * (round_ * 0.5 + 0.5) ** 1.4 - 0.12 * (round_ < -0.9)
    band = (np.abs(down - 0.33) < 0.085) | (np.abs(down - 0.72) < 0.085)
    shade = np.where(band, 0.30 * light + 0.02, light)
    blend(tone, shade, np.clip(edge * canvas.height + 0.5, 0, 1))
    for window in (0.2, 0.52, 0.87):
        y = top + window * (foot - top)
        polygon(canvas, tone, [(x - 0.0025, y - 0.007), (x + 0.0025, y - 0.007),
                               (x + 0.0025, y + 0.004), (x - 0.0025, y + 0.004)],
                0.08)  # fmt: skip
    polygon(canvas, tone, _box(x, top - 0.004, 0.0235, 0.008), 0.13)
    polygon(canvas, tone, _box(x, top - 0.022, 0.0125, 0.030), 0.22)
    polygon(canvas, tone, _box(x, top - 0.022, 0.0085, 0.022), 0.99)
    polygon(canvas, tone, [(x - 0.0165, top - 0.036), (x + 0.0165, top - 0.036),
                           (x + 0.004, top - 0.058), (x - 0.004, top - 0.058)],
            0.15)  # fmt: skip
    polygon(canvas, tone, _box(x, top - 0.063, 0.0012, 0.016), 0.15)
    left, ground = 1.175, 0.487
    polygon(canvas, tone, [(left, ground), (left, ground - 0.038),
                           (left + 0.075, ground - 0.038), (left + 0.075, ground)],
            0.80)  # fmt: skip
    polygon(canvas, tone, [(left - 0.006, ground - 0.036),
                           (left + 0.012, ground - 0.062),
                           (left + 0.064, ground - 0.062),
                           (left + 0.081, ground - 0.036)], 0.24)  # fmt: skip
    for window in (0.016, 0.038, 0.060):
        polygon(canvas, tone, _box(left + window, ground - 0.020, 0.0042, 0.014), 0.1)


def _box(
    x: float, y: float, half_width: float, height: float
) -> list[tuple[float, float]]:
    return [
        (x - half_width, y - height / 2),
        (x + half_width, y - height / 2),
        (x + half_width, y + height / 2),
        (x - half_width, y + height / 2),
    ]


def _gulls(canvas: Canvas, tone: Image) -> None:
    for x, y, size in ((0.80, 0.22, 0.022), (0.86, 0.26, 0.016), (0.74, 0.28, 0.013)):
        for side in (-1, 1):
            wing = [(x, y), (x + side * size * 0.5, y - size * 0.33),
                    (x + side * size, y - size * 0.12),
                    (x + side * size * 0.5, y - size * 0.20),
                    (x, y + size * 0.12)]  # fmt: skip
            polygon(canvas, tone, wing, 0.16)


def _shore(canvas: Canvas, tone: Image, rng: np.random.Generator) -> None:
    across = np.linspace(0, 4 / 3, canvas.width)
    top = 0.905 - 0.10 * np.exp(-((across / 0.34) ** 2))
    top += _ridge(canvas.width, height=0.010, detail=7, rng=rng)
    below = canvas.y - top[None, :].astype(np.float32)
    rock = _octaves(canvas.shape, first=(14, 18), count=7, fade=0.78, rng=rng)
    light = 0.10 + 0.05 * rock + 0.20 * np.exp(-np.clip(below, 0, 1) / 0.012)
    light *= np.clip(1.0 - 4.0 * below, 0.12, 1.0)
    foam = np.exp(-(((below + 0.006) / 0.006) ** 2)) * np.clip(rock + 0.6, 0, 1)
    blend(tone, 0.90, np.clip(0.8 * foam, 0, 1))
    blend(tone, np.clip(light, 0.0, 1.0), np.clip(below * canvas.height + 0.5, 0, 1))
    _grass(canvas, tone, top, rng)


def _grass(
    canvas: Canvas,
    tone: Image,
    top: npt.NDArray[np.floating],
    rng: np.random.Generator,
) -> None:
    for _ in range(420):
        x = 0.42 * rng.random() ** 1.5
        root = float(top[int(x / (4 / 3) * canvas.width)]) + rng.uniform(0.0, 0.10)
        length, lean = rng.uniform(0.04, 0.13), rng.normal(0.35, 0.30)
        tip = x + lean * length, root - length
        middle = x + 0.25 * lean * length, root - 0.55 * length
        wide = rng.uniform(0.0007, 0.0016)
        blade = [(x - wide, root), middle, tip, (middle[0] + 1.6 * wide, middle[1]),
                 (x + wide, root)]  # fmt: skip
        polygon(canvas, tone, blade, rng.uniform(0.02, 0.34) ** 1.2)
