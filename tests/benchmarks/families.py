"""Families of responses that differ in kind, and sheets measured in six situations.

Each family draws its own film (printing density against level) and paper (density
against log exposure) from ranges seen in practice; the figures are invented, no source.
Sheets carry fields of exposure and coating as light and brush lay them: exposure acts
through the paper, not through our model's idea of it.
"""

import zlib
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

Curve = Callable[[np.ndarray], np.ndarray]
Draw = Callable[[np.random.Generator], tuple[Curve, Curve]]
"""Returns log exposure against level and density against log exposure."""

SITUATIONS = ("low noise", "high noise", "growing", "strays", "ordered", "scattered")
COUNTS = (21, 51, 101, 256)


def _logistic(value: np.ndarray) -> np.ndarray:
    return 1 / (1 + np.exp(-np.clip(value, -60, 60)))


def _paper(rng: np.random.Generator, *, lop: float | None = None) -> Curve:
    """A lop-sided S (Richards' curve) between D-min and D-max about log exposure 0."""
    low = rng.uniform(0.06, 0.16)
    span = rng.uniform(1.05, 1.75)
    contrast = rng.uniform(3.0, 6.0)
    bend = np.exp(rng.uniform(-0.6, 0.6)) if lop is None else lop

    def density(log_exposure: np.ndarray) -> np.ndarray:
        return low + span * _logistic(contrast * log_exposure) ** bend

    return density


def _film(
    rng: np.random.Generator,
    shape: Curve,
    *,
    strength: tuple[float, float] = (1.7, 2.6),
) -> Curve:
    """Log exposure from a shape of ink cover 0..1 against level; 0 where half black."""
    depth = rng.uniform(*strength)
    clear = rng.uniform(0.55, 0.95)
    return lambda level: clear - depth * shape(level)


def plain(rng: np.random.Generator) -> tuple[Curve, Curve]:
    """Ink density nearly straight in level."""
    power = np.exp(rng.uniform(-0.3, 0.3))
    return _film(rng, lambda v: (1 - v) ** power), _paper(rng)


def dot_gain(rng: np.random.Generator) -> tuple[Curve, Curve]:
    """Dots that spread: dot gain by a parabola, light mixed as Yule and Nielsen."""
    gain, yule = rng.uniform(0.3, 0.9), rng.uniform(1.3, 3.0)
    solid = rng.uniform(1.8, 2.6)

    def log_exposure(level: np.ndarray) -> np.ndarray:
        dots = 1 - level
        cover = np.clip(dots + gain * dots * (1 - dots), 0, 1)
        light = (1 - cover + cover * 10 ** (-solid / yule)) ** yule
        return np.log10(light) + shift

    shift = rng.uniform(0.5, 0.8)
    return log_exposure, _paper(rng)


def ink_kinks(rng: np.random.Generator) -> tuple[Curve, Curve]:
    """A printer that changes inks part-way: straight pieces, slopes up to 4 to 1."""
    corners = np.sort(rng.uniform(0.15, 0.85, rng.integers(1, 3)))
    slopes = np.exp(rng.uniform(-0.7, 0.7, len(corners) + 1))
    edges = np.concatenate([[0], corners, [1]])
    heights = np.concatenate([[0], np.cumsum(slopes * np.diff(edges))])
    heights /= heights[-1]
    return _film(rng, lambda v: np.interp(1 - v, edges, heights)), _paper(rng)


def long_toe(rng: np.random.Generator) -> tuple[Curve, Curve]:
    """Paper that leaves white slowly, over half the levels or more."""
    low, span = rng.uniform(0.06, 0.14), rng.uniform(1.1, 1.6)
    contrast, centre = rng.uniform(2.0, 3.0), rng.uniform(0.0, 0.3)

    def density(log_exposure: np.ndarray) -> np.ndarray:
        soft = np.logaddexp(0, contrast * (log_exposure - centre) * np.log(10) / 2)
        return low + span * -np.expm1(-(soft**1.6) * 0.55)

    return _film(rng, lambda v: 1 - v, strength=(1.6, 2.4)), density


def short_toe(rng: np.random.Generator) -> tuple[Curve, Curve]:
    """Paper that leaves white at a corner and rises steeply."""
    low, span = rng.uniform(0.06, 0.14), rng.uniform(1.2, 1.7)
    rate, start = rng.uniform(1.0, 1.8), rng.uniform(-1.2, -0.6)
    corner = rng.uniform(0.02, 0.05)

    def density(log_exposure: np.ndarray) -> np.ndarray:
        past = corner * np.logaddexp(0, (log_exposure - start) / corner)
        return low + span * -np.expm1(-rate * past)

    return _film(rng, lambda v: 1 - v), density


def hard_shoulder(rng: np.random.Generator) -> tuple[Curve, Curve]:
    """Paper that runs straight into its D-max and stops there."""
    low, span = rng.uniform(0.06, 0.14), rng.uniform(1.2, 1.6)
    contrast, top = rng.uniform(0.8, 1.3), rng.uniform(0.15, 0.5)
    corner = rng.uniform(0.02, 0.06)

    def density(log_exposure: np.ndarray) -> np.ndarray:
        short = corner * np.logaddexp(0, (top - log_exposure) / corner) * contrast
        return low + span * np.exp(-(short**1.4) * 1.6)

    return _film(rng, lambda v: 1 - v), density


def reversal(rng: np.random.Generator) -> tuple[Curve, Curve]:
    """Too much exposure or bleeding ink: density falls again at the clear end."""
    paper = _paper(rng)
    peak, fall = rng.uniform(0.82, 0.95), rng.uniform(0.5, 2.5)
    power = np.exp(rng.uniform(-0.3, 0.3))
    film = _film(rng, lambda v: (1 - v) ** power)

    def log_exposure(level: np.ndarray) -> np.ndarray:
        past = np.maximum(level - peak, 0)
        return film(np.minimum(level, peak)) - fall * past - 8 * past**2

    return log_exposure, paper


def weak_ink(rng: np.random.Generator) -> tuple[Curve, Curve]:
    """Full ink that lets light through: white is out of reach."""
    power = np.exp(rng.uniform(-0.3, 0.3))
    film = _film(rng, lambda v: (1 - v) ** power, strength=(0.8, 1.3))
    return film, _paper(rng)


def strong_ink(rng: np.random.Generator) -> tuple[Curve, Curve]:
    """Ink twice as dense as needed: a third of the levels or more print white."""
    power = rng.uniform(0.6, 1.0)
    film = _film(rng, lambda v: (1 - v) ** power, strength=(3.0, 4.5))
    return film, _paper(rng)


def wavy(rng: np.random.Generator) -> tuple[Curve, Curve]:
    """A driver whose inner tables leave waves of some 3 % on the ink density."""
    turns, phase = rng.uniform(2, 4), rng.uniform(0, 2 * np.pi)
    size = rng.uniform(0.2, 0.5) / (2 * np.pi * turns)

    def shape(level: np.ndarray) -> np.ndarray:
        ink = 1 - level
        return ink + size * (np.sin(2 * np.pi * turns * ink + phase) - np.sin(phase))

    return _film(rng, shape), _paper(rng)


def two_layers(rng: np.random.Generator) -> tuple[Curve, Curve]:
    """Two coatings of different speed: two S in one response, a ledge between."""
    low = rng.uniform(0.06, 0.14)
    upper, lower = rng.uniform(0.4, 0.8, 2)
    quick, slow = rng.uniform(5.0, 9.0, 2)
    apart = rng.uniform(0.5, 1.1)

    def density(log_exposure: np.ndarray) -> np.ndarray:
        first = lower * _logistic(quick * (log_exposure + apart / 2))
        return low + first + upper * _logistic(slow * (log_exposure - apart / 2))

    return _film(rng, lambda v: 1 - v), density


def no_shoulder(rng: np.random.Generator) -> tuple[Curve, Curve]:
    """Too little light or a slow paper: a toe and a straight rise, no end in sight."""
    low, rise = rng.uniform(0.06, 0.14), rng.uniform(0.7, 1.1)
    corner, start = rng.uniform(0.08, 0.25), rng.uniform(-1.0, -0.5)

    def density(log_exposure: np.ndarray) -> np.ndarray:
        return low + rise * corner * np.logaddexp(0, (log_exposure - start) / corner)

    return _film(rng, lambda v: 1 - v), density


def steep(rng: np.random.Generator) -> tuple[Curve, Curve]:
    """A contrasty paper behind strong ink: all tones within a third of the levels."""
    low, span = rng.uniform(0.06, 0.14), rng.uniform(1.3, 1.7)
    contrast = rng.uniform(8.0, 12.0)
    depth, middle = rng.uniform(2.5, 3.5), rng.uniform(0.35, 0.65)

    def density(log_exposure: np.ndarray) -> np.ndarray:
        return low + span * _logistic(contrast * log_exposure)

    return lambda level: depth * (level - middle), density


def many_bends(rng: np.random.Generator) -> tuple[Curve, Curve]:
    """Any rising course: six S of random place, width and size, one on another."""
    low = rng.uniform(0.06, 0.14)
    size = rng.dirichlet(np.full(6, 1.5)) * rng.uniform(1.1, 1.7)
    place, width = rng.uniform(0.05, 0.95, 6), rng.uniform(0.04, 0.15, 6)

    depth = rng.uniform(1.7, 2.6)

    def density(exposure: np.ndarray) -> np.ndarray:
        return low + _logistic((exposure[:, None] / depth - place) / width) @ size

    def log_exposure(level: np.ndarray) -> np.ndarray:
        return depth * level

    return log_exposure, density


def diluted_inks(rng: np.random.Generator) -> tuple[Curve, Curve]:
    """Light, middle and full ink take over from one another; slopes dip between."""
    edges = np.array([0.0, rng.uniform(0.2, 0.4), rng.uniform(0.5, 0.75), 1.0])
    heights = np.array([0.0, rng.uniform(0.15, 0.3), rng.uniform(0.45, 0.7), 1.0])
    hollow = rng.uniform(0.3, 0.9)

    def shape(level: np.ndarray) -> np.ndarray:
        ink = 1 - level
        which = np.clip(np.searchsorted(edges, ink, side="right") - 1, 0, 2)
        part = (ink - edges[which]) / (edges[which + 1] - edges[which])
        bent = part + hollow * part * (1 - part) * 0.5
        return heights[which] + (heights[which + 1] - heights[which]) * bent

    return _film(rng, shape), _paper(rng)


def dots_join(rng: np.random.Generator) -> tuple[Curve, Curve]:
    """Dots that touch at a middle tone, where the tone jumps."""
    place, width = rng.uniform(0.35, 0.65), rng.uniform(0.008, 0.02)
    jump = rng.uniform(0.04, 0.10)

    def shape(level: np.ndarray) -> np.ndarray:
        ink = 1 - level
        return (1 - jump) * ink + jump * _logistic((ink - place) / width)

    return _film(rng, shape), _paper(rng)


DEVELOPED: dict[str, Draw] = {
    "plain": plain,
    "ink kinks": ink_kinks,
    "short toe": short_toe,
    "reversal": reversal,
    "dot gain": dot_gain,
    "long toe": long_toe,
    "hard shoulder": hard_shoulder,
    "weak ink": weak_ink,
    "strong ink": strong_ink,
    "wavy": wavy,
}
"""Looked at while the method was chosen."""

HELD_OUT: dict[str, Draw] = {
    "two layers": two_layers,
    "no shoulder": no_shoulder,
    "steep": steep,
    "many bends": many_bends,
    "diluted inks": diluted_inks,
}
"""Written when the method stood; nothing was tuned or chosen on them."""

NEW: dict[str, Draw] = {"dots join": dots_join}
"""Written last of all, after the figures of the others were known."""

FAMILIES = {**DEVELOPED, **HELD_OUT, **NEW}


@dataclass(frozen=True, eq=False, kw_only=True)
class Sheet:
    """One simulated print: what is measured, and what is true.

    `mistaken_density` is the response, over `true_level`, that readings without any
    noise would show if only that part of the fields was left in them which runs with
    level: no method can tell it from tone.
    """

    level: np.ndarray
    density: np.ndarray
    x_mm: np.ndarray
    y_mm: np.ndarray
    true_level: np.ndarray
    true_density: np.ndarray
    mistaken_density: np.ndarray


def sheet(family: str, situation: str, count: int, seed: int) -> Sheet:
    """Print and measure `count` evenly spaced levels once each."""
    mark = [seed, zlib.crc32(family.encode())]
    rng = np.random.default_rng(mark)
    log_exposure, paper = FAMILIES[family](rng)
    rng = np.random.default_rng([*mark, SITUATIONS.index(situation), count])
    level = np.linspace(0, 1, count)
    x_mm, y_mm = _places(count, rng, shuffled=situation == "scattered")
    white = float(paper(np.array([-9.0]))[0])
    exposure, coating = np.zeros(count), np.zeros(count)
    if situation in ("ordered", "scattered"):
        exposure = _field(rng, x_mm, y_mm, size=0.05)
        coating = _field(rng, x_mm, y_mm, size=0.02)

    def printed(light: np.ndarray, weight: np.ndarray) -> np.ndarray:
        height = paper(log_exposure(level) + light) - white
        return white + height * (1 + weight)

    density = printed(exposure, coating)
    density = density + _noise(rng, situation, density, white)
    truth = _truth(log_exposure, paper)
    mistaken = truth["true_density"]
    if situation == "ordered":
        with_level = _along(exposure, y_mm), _along(coating, y_mm)
        added = printed(*with_level) - printed(0 * exposure, 0 * coating)
        mistaken = mistaken + np.interp(truth["true_level"], level, added)
    return Sheet(
        level=level,
        density=density,
        x_mm=x_mm,
        y_mm=y_mm,
        mistaken_density=np.maximum.accumulate(mistaken),
        **truth,
    )


def _along(field: np.ndarray, y_mm: np.ndarray) -> np.ndarray:
    """The part of a field that runs down the sheet, as levels in order do."""
    down = np.polynomial.Polynomial.fit(y_mm, field, 3)
    return down(y_mm)


def _truth(log_exposure: Curve, paper: Curve) -> dict[str, np.ndarray]:
    """The response up to its peak."""
    level = np.linspace(0, 1, 4001)
    density = paper(log_exposure(level))
    end = int(np.argmax(density)) + 1
    return {"true_level": level[:end], "true_density": density[:end]}


def _places(
    count: int, rng: np.random.Generator, *, shuffled: bool
) -> tuple[np.ndarray, np.ndarray]:
    columns = int(np.ceil(np.sqrt(count * 0.8)))
    rows = int(np.ceil(count / columns))
    order = np.arange(count)
    if shuffled:
        order = rng.permutation(rows * columns)[:count]
    x_mm = 20 + (order % columns) * 160 / (columns - 1)
    y_mm = 25 + (order // columns) * 200 / (rows - 1)
    return x_mm, y_mm


def _field(
    rng: np.random.Generator, x_mm: np.ndarray, y_mm: np.ndarray, *, size: float
) -> np.ndarray:
    """A tilt and a bowl, mean 0 over the patches; `size` is about its rms."""
    x, y = (x_mm - 100) / 80, (y_mm - 125) / 100
    tilt = rng.normal(0, 0.9, 2)
    bowl = rng.normal(0, 0.9)
    twist = rng.normal(0, 0.4)
    field = tilt[0] * x + tilt[1] * y + bowl * (x**2 + y**2 - 0.67) + twist * x * y
    return size * (field - field.mean())


def _noise(
    rng: np.random.Generator, situation: str, density: np.ndarray, white: float
) -> np.ndarray:
    count = len(density)
    if situation == "high noise":
        return rng.normal(0, 0.03, count)
    if situation == "growing":
        return rng.normal(0, 1, count) * (0.005 + 0.02 * (density - white))
    noise = rng.normal(0, 0.01, count)
    if situation == "strays":
        strays = rng.choice(count, max(1, round(0.03 * count)), replace=False)
        noise[strays] += rng.choice([-1, 1], len(strays)) * rng.uniform(
            0.15, 0.5, len(strays)
        )
    return noise
