"""Small synthetic prints and scans for the tests of reading.

Drawn from a layout with numpy alone: independent of `negcurve.simulation` and of
`negcurve.target.drawing`, so that an error there cannot hide one here.
"""

from dataclasses import dataclass, field, replace

import numpy as np
from scipy import ndimage

from negcurve.reading.patches import PatchValue
from negcurve.target.identity import identity_bits
from negcurve.target.layout import Box, Layout, Patch

BORDER_MM = 24.0
"""Paper around the film on the drawn canvas."""


def small_layout(*, seed=1, columns=9, rows=6, repeats=2, width=127.0, height=101.6):
    """A 4x5 in target with 27 levels twice, gaps of 1 mm between patches."""
    rng = np.random.default_rng(seed)
    left, top, gap = 8.0, 22.0, 1.0
    pitch = (width - 2 * left) / columns, (height - 2 * top) / rows
    count = columns * rows
    order = rng.permutation(np.repeat(np.arange(count // repeats), repeats))
    seen = {}
    patches = []
    for place, level in enumerate(order.tolist()):
        row, column = divmod(place, columns)
        seen[level] = seen.get(level, 0) + 1
        patches.append(
            Patch(
                number=place + 1,
                negative_level=level / (count // repeats - 1),
                repeat=seen[level],
                box=Box(
                    left_mm=left + column * pitch[0] + gap / 2,
                    top_mm=top + row * pitch[1] + gap / 2,
                    width_mm=pitch[0] - gap,
                    height_mm=pitch[1] - gap,
                ),
            )
        )
    inset = 12.0
    marks = (
        (inset, inset),
        (width - inset, inset),
        (width - inset, height - inset),
        (inset, height - inset),
    )
    strips = tuple(
        Box(left_mm=width / 2 - 31.2, top_mm=y - 2.4, width_mm=62.4, height_mm=4.8)
        for y in (inset, height - inset)
    )
    return Layout(
        sheet="4x5in",
        width_mm=width,
        height_mm=height,
        margin_mm=4.0,
        resolution_ppi=300,
        mirrored=True,
        levels=count // repeats,
        repeats=repeats,
        seed=seed,
        marks_mm=marks,
        identity_boxes=strips,
        patches=tuple(patches),
    )


def large_layout(*, seed=1):
    """An 8x10 in target, 51 levels twice."""
    layout = small_layout(
        seed=seed, columns=6, rows=17, repeats=2, width=203.2, height=254.0
    )
    return replace(layout, sheet="8x10in")


def draw_levels(layout, px_per_mm):
    """Negative levels over the canvas, film and border, as the print reads right."""
    size = (
        round((layout.height_mm + 2 * BORDER_MM) * px_per_mm),
        round((layout.width_mm + 2 * BORDER_MM) * px_per_mm),
    )
    level = np.ones(size, dtype=np.float32)

    def fill(left, top, width, height, value):
        a, rows = _coverage(top, height, px_per_mm)
        b, columns = _coverage(left, width, px_per_mm)
        share = np.outer(rows, columns)
        area = level[a : a + len(rows), b : b + len(columns)]
        area += share * (value - 1)

    for patch in layout.patches:
        box = patch.box
        fill(box.left_mm, box.top_mm, box.width_mm, box.height_mm, patch.negative_level)
    for box in layout.identity_boxes:
        for place, bit in enumerate(identity_bits(layout.identity)):
            white = 1 if bit else 0
            fill(box.left_mm + 1.3 * place, box.top_mm + 2.4 * white, 1.3, 2.4, 0.0)
    for x, y in layout.marks_mm:
        _draw_mark(
            level, (x + BORDER_MM) * px_per_mm, (y + BORDER_MM) * px_per_mm, px_per_mm
        )
    return level


def _coverage(start, length, px_per_mm):
    """First pixel and the share of each pixel that a stretch covers."""
    low = (start + BORDER_MM) * px_per_mm
    high = low + length * px_per_mm
    pixels = np.arange(int(low), int(np.ceil(high)))
    share = np.minimum(pixels + 1, high) - np.maximum(pixels, low)
    return int(low), share


def _draw_mark(level, x, y, px_per_mm):
    half = int(6 * px_per_mm)
    top, left = int(y) - half, int(x) - half
    rows, columns = np.mgrid[top : top + 2 * half, left : left + 2 * half] + 0.5
    radius = np.hypot(columns - x, rows - y)
    ink = np.zeros_like(radius)
    for edge, sign in ((5.0, 1), (3.6, -1), (2.2, 1)):
        ink += sign * np.clip(edge * px_per_mm - radius + 0.5, 0, 1)
    level[top : top + 2 * half, left : left + 2 * half] = 1 - ink


@dataclass
class SetUp:
    """How a target was printed and scanned."""

    ppi: float = 300.0
    d_min: float = 0.08
    d_max: float = 1.4
    gamma: float = 1.4
    coated_mm: float = 10.0
    beside: float = 0.0
    uneven: float = 0.0
    grain: float = 0.0
    turn: int = 0
    tilt_degrees: float = 0.0
    mirrored: bool = False
    stretch: tuple = (1.0, 1.0)
    keystone: float = 0.0
    bow_mm: float = 0.0
    glass_mm: tuple | None = None
    place: tuple = (0.5, 0.5)
    lid: float = 0.9
    blur_mm: float = 0.05
    noise: float = 0.0
    bits: int = 16
    scan_gamma: float = 1.0
    hairs: int = 0
    dust: int = 0
    stains: list = field(default_factory=list)
    brush_outs: list = field(default_factory=list)
    seed: int = 0


class Print:
    """A scan of a print, with the truth about it."""

    def __init__(self, layout, setup):
        self.layout, self.setup = layout, setup
        self.rng = np.random.default_rng(setup.seed)
        self.px_per_mm = setup.ppi / 25.4
        self.canvas_scale = max(self.px_per_mm, 7.0)
        self._place()
        self.reflectance = self._reflectance()

    def density_of(self, level):
        """Print density of a negative level, before unevenness."""
        s = self.setup
        light = np.clip(level, 0, 1) ** s.gamma
        return s.d_min + (s.d_max - s.d_min) * light

    def to_scan(self, x_mm, y_mm):
        """Scan place of a place on the print. [px]"""
        s, layout = self.setup, self.layout
        u = (np.asarray(x_mm, float) - layout.width_mm / 2) * s.stretch[0]
        v = (np.asarray(y_mm, float) - layout.height_mm / 2) * s.stretch[1]
        half = layout.height_mm / 2
        u, v = u, v + s.bow_mm * (2 * u / layout.width_mm) ** 2
        depth = 1 + s.keystone * v / half
        u, v = u / depth, v / depth
        if s.mirrored:
            u = -u
        angle = np.radians(90 * s.turn + s.tilt_degrees)
        x = u * np.cos(angle) - v * np.sin(angle)
        y = u * np.sin(angle) + v * np.cos(angle)
        return (x + self.centre[0]) * self.px_per_mm, (
            y + self.centre[1]
        ) * self.px_per_mm

    def _place(self):
        s, layout = self.setup, self.layout
        self.centre = (0.0, 0.0)
        reach = 4.0
        corners = self.to_scan(
            np.array([-reach, layout.width_mm + reach] * 2),
            np.repeat([-reach, layout.height_mm + reach], 2),
        )
        span = [np.ptp(each) / self.px_per_mm for each in corners]
        if s.turn % 2:
            span = span[:]
        glass = s.glass_mm or span
        glass = [max(a, b) for a, b in zip(glass, span, strict=True)]
        self.centre = tuple(
            w / 2 + p * (g - w) for g, w, p in zip(glass, span, s.place, strict=True)
        )
        self.shape = tuple(round(g * self.px_per_mm) for g in reversed(glass))

    def _to_print(self, x_px, y_px):
        """Inverse of `to_scan`, by fixed-point steps for the bow."""
        s, layout = self.setup, self.layout
        angle = np.radians(90 * s.turn + s.tilt_degrees)
        x, y = (
            x_px / self.px_per_mm - self.centre[0],
            y_px / self.px_per_mm - self.centre[1],
        )
        u = x * np.cos(angle) + y * np.sin(angle)
        v = -x * np.sin(angle) + y * np.cos(angle)
        if s.mirrored:
            u = -u
        depth = 1 / (1 - s.keystone * v / (layout.height_mm / 2))
        u, v = u * depth, v * depth
        v = v - s.bow_mm * (2 * u / layout.width_mm) ** 2
        return (
            u / s.stretch[0] + layout.width_mm / 2,
            v / s.stretch[1] + layout.height_mm / 2,
        )

    def _canvas(self):
        s, scale = self.setup, self.canvas_scale
        density = self.density_of(draw_levels(self.layout, scale)).astype(np.float32)
        rows, columns = density.shape
        y = (np.arange(rows, dtype=np.float32)[:, None] + 0.5) / scale - BORDER_MM
        x = (np.arange(columns, dtype=np.float32)[None, :] + 0.5) / scale - BORDER_MM
        if s.uneven:
            tilt = x / self.layout.width_mm - y / self.layout.height_mm
            density *= 1 + s.uneven * (tilt + np.sin(y / 9) * 0.3)
        if s.grain:
            coarse = self.rng.standard_normal(density.shape, dtype=np.float32)
            grain = ndimage.gaussian_filter(coarse, 0.12 * scale)
            density += s.grain * grain / grain.std()
        beyond = np.maximum(
            np.maximum(-x, x - self.layout.width_mm),
            np.maximum(-y, y - self.layout.height_mm),
        )
        density[beyond > 0] += s.beside
        edge = s.coated_mm + 1.5 * np.sin(x / 7) + np.sin(y / 5)
        density[beyond > edge] = s.d_min - 0.02
        for cx, cy, radius, depth in s.stains:
            density += depth * (np.hypot(x - cx, y - cy) < radius)
        for cx, cy, radius in s.brush_outs:
            density[np.hypot(x - cx, y - cy) < radius] = s.d_min
        return 10.0 ** -np.maximum(density, 0)

    def _reflectance(self):
        s, scale = self.setup, self.canvas_scale
        canvas = ndimage.gaussian_filter(self._canvas(), max(s.blur_mm * scale, 0.3))
        rows, columns = np.indices(self.shape) + 0.5
        x, y = self._to_print(columns, rows)
        found = ndimage.map_coordinates(
            canvas,
            [(y + BORDER_MM) * scale - 0.5, (x + BORDER_MM) * scale - 0.5],
            order=1,
            cval=s.lid,
        )
        self._litter(found)
        return found + s.noise * self.rng.normal(size=found.shape)

    def _litter(self, picture):
        height, width = picture.shape
        for _ in range(self.setup.dust):
            y, x = self.rng.uniform(0, height), self.rng.uniform(0, width)
            radius = self.rng.uniform(0.1, 0.5) * self.px_per_mm
            value = self.rng.choice([0.02, 0.9])
            self._dot(picture, x, y, radius, value)
        for _ in range(self.setup.hairs):
            y, x = self.rng.uniform(0, height), self.rng.uniform(0, width)
            angle = self.rng.uniform(0, 2 * np.pi)
            value = self.rng.choice([0.03, 0.8])
            for _ in range(int(25 * self.px_per_mm)):
                angle += self.rng.normal(0, 0.03)
                x, y = x + np.cos(angle), y + np.sin(angle)
                self._dot(picture, x, y, max(0.05 * self.px_per_mm, 0.7), value)

    @staticmethod
    def _dot(picture, x, y, radius, value):
        top, left = max(0, int(y - radius)), max(0, int(x - radius))
        piece = picture[top : int(y + radius) + 2, left : int(x + radius) + 2]
        rows, columns = np.indices(piece.shape) + 0.5
        piece[np.hypot(rows + top - y, columns + left - x) <= radius] = value

    def codes(self):
        """Codes of the scan, shape (rows, columns, 1)."""
        largest = 2**self.setup.bits - 1
        level = np.clip(self.reflectance, 0, 1) ** (1 / self.setup.scan_gamma)
        kind = np.uint8 if self.setup.bits == 8 else np.uint16
        return np.rint(level * largest).astype(kind)[:, :, None]


class ArraySource:
    """An image source over codes in memory."""

    profile = None
    description = ""
    findings = ()

    def __init__(self, codes, *, name="scan.tif", resolution_ppi=None):
        self.codes, self.name = codes, name
        self.resolution_ppi = resolution_ppi
        self.height, self.width, self.channels = codes.shape
        self.dtype = codes.dtype

    def rows(self, start, stop):
        return self.codes[start:stop]

    def window(self, top, left, height, width):
        assert top >= 0
        assert left >= 0
        assert height > 0
        assert width > 0
        assert top + height <= self.height
        assert left + width <= self.width
        return self.codes[top : top + height, left : left + width]

    def close(self):
        pass


class GammaEncoding:
    """Levels that are light raised to 1 / gamma; grey or the mean of three."""

    def __init__(self, gamma=1.0, channels=1):
        self.gamma, self.channels = gamma, channels
        self.name = f"gamma {gamma:g}"

    def luminance(self, level):
        return (level**self.gamma).mean(axis=-1)


def patch_value(**changes):
    """What a clean patch of D 0.7 shows, with changes."""
    usual = {
        "reflectance": 0.2,
        "standard_error": 0.001,
        "scatter": 0.002,
        "left_out": 0.0,
        "clipped_low": 0.0,
        "clipped_high": 0.0,
        "code_step": 1 / 65535,
    }
    return PatchValue(**{**usual, **changes})


def scan_of(layout, *, stated=True, **setup):
    """Print and scan a layout; return the source and the print."""
    made = Print(layout, SetUp(**setup))
    ppi = made.setup.ppi
    source = ArraySource(made.codes(), resolution_ppi=(ppi, ppi) if stated else None)
    return source, made
