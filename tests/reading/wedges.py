"""Step wedges laid beside synthetic prints, and scanners that bend their codes.

Drawn with numpy alone, like `tests.reading.prints`.
"""

import io
from dataclasses import dataclass

import numpy as np
from PIL import Image
from scipy import ndimage

from tests.reading.prints import ArraySource, Print, SetUp

EVEN = np.linspace(0.05, 1.75, 18)
UNEVEN = np.array([0.05, 0.15, 0.30, 0.50, 0.72, 0.95, 1.22, 1.50, 1.70])


@dataclass
class Wedge:
    """A strip of grey cells on the glass."""

    density: np.ndarray  # in the order in which the cells lie
    middle_mm: tuple  # on the glass, from its top left
    angle_degrees: float = 90.0  # of the way from first to last cell, clockwise
    length_mm: float = 90.0
    side_mm: float = 14.0
    border_mm: float = 0.0
    border_density: float = 0.06
    gap_mm: float = 0.0
    gap_density: float = 0.06
    grain: float = 0.004

    @property
    def corners_mm(self):
        """First cell's outer corners, then the last one's."""
        turn = np.radians(self.angle_degrees)
        along = self.length_mm / 2 * np.array([np.cos(turn), np.sin(turn)])
        side = self.side_mm / 2 * np.array([-np.sin(turn), np.cos(turn)])
        middle = np.array(self.middle_mm)
        return np.array(
            [
                middle - along - side,
                middle + along - side,
                middle + along + side,
                middle - along + side,
            ]
        )

    def lay(self, light, px_per_mm, rng):
        """Put the wedge on what the scanner sees, which is changed."""
        far = self.corners_mm
        reach = self.border_mm + 1.0
        low = np.floor((far.min(axis=0) - reach) * px_per_mm).astype(int)
        high = np.ceil((far.max(axis=0) + reach) * px_per_mm).astype(int)
        low, high = np.maximum(low, 0), np.minimum(high, light.shape[::-1])
        part = light[low[1] : high[1], low[0] : high[0]]
        rows, columns = np.indices(part.shape) + 0.5
        x = (columns + low[0]) / px_per_mm - self.middle_mm[0]
        y = (rows + low[1]) / px_per_mm - self.middle_mm[1]
        turn = np.radians(self.angle_degrees)
        along = np.cos(turn) * x + np.sin(turn) * y + self.length_mm / 2
        across = np.cos(turn) * y - np.sin(turn) * x
        part[:] = self._painted(part, along, across, px_per_mm, rng)

    def _painted(self, part, along, across, scale, rng):
        count = len(self.density)
        pitch = self.length_mm / count
        step = np.clip(np.floor(along / pitch), 0, count - 1).astype(int)
        density = np.asarray(self.density)[step]
        edge = np.abs(along / pitch - np.rint(along / pitch)) * pitch
        density = np.where(edge < self.gap_mm / 2, self.gap_density, density)
        half = self.side_mm / 2

        def within(by):
            return (
                (np.abs(across) < half + by)
                & (along > -by)
                & (along < self.length_mm + by)
            )

        outside = within(self.border_mm) & ~within(0)
        density = np.where(outside, self.border_density, density)
        density = density + self.grain * rng.normal(size=density.shape)
        paper = within(self.border_mm)
        painted = np.where(paper, 10.0**-density, part)
        # Only where the wedge lies is the light softened by the optics.
        soft = ndimage.gaussian_filter(painted, 0.05 * scale)
        return np.where(within(self.border_mm + 0.3), soft, painted)


def beside(
    layout, density, *, room_mm=60.0, high_mm=115.0, below=False, wedge=None, **setup
):
    """Print a layout with a wedge to its right on the glass, or below it.

    Parameters
    ----------
    room_mm, high_mm
        Of the glass, beside the print and along the wedge.
    wedge : dict
        Of `Wedge`, besides its densities.
    setup
        Of the print.

    Returns
    -------
    light : array, shape (rows, columns)
        What the scanner sees.
    made : Print
    wedge : Wedge
    """
    # Room for the paper that `Print` draws around the film, askew by up to 5 degrees.
    size = [layout.width_mm + 20, layout.height_mm + 20]
    if setup.get("turn", 0) % 2:
        size = size[::-1]
    glass = (
        (max(size[0], high_mm), size[1] + room_mm)
        if below
        else (size[0] + room_mm, max(size[1], high_mm))
    )
    made = Print(layout, SetUp(glass_mm=glass, place=(0.0, 0.0), **setup))
    middle = (
        (glass[0] / 2, glass[1] - room_mm / 2)
        if below
        else (glass[0] - room_mm / 2, glass[1] / 2)
    )
    asked = {"middle_mm": middle, **(wedge or {})}
    laid = Wedge(density=np.asarray(density), **asked)
    light = made.reflectance.copy()
    laid.lay(light, made.px_per_mm, made.rng)
    return light, made, laid


def with_flare(light, share, *, reach_px=60):
    """Stray light from some millimetres around."""
    small = ndimage.zoom(light, 1 / 8, order=1, grid_mode=True, mode="nearest")
    spread = ndimage.gaussian_filter(small, reach_px / 8)
    zoom = [a / b for a, b in zip(light.shape, small.shape, strict=True)]
    around = ndimage.zoom(spread, zoom, order=1, grid_mode=True, mode="nearest")
    return (1 - share) * light + share * around


def sharpened(level, amount, radius_px):
    return level + amount * (level - ndimage.gaussian_filter(level, (radius_px,) * 2))


def scanned(light, made, *, curve=lambda c: c, bits=16, colour=None, **after):
    """Codes of light through a scanner's curve; three channels where coloured.

    `colour` raises the light of each channel to a power. After it: `sharpen`, amount
    and radius in pixels; `quality` of a JPEG.
    """
    channels = light[:, :, None] if colour is None else light[:, :, None] ** colour
    level = curve(np.clip(channels, 0, None))
    if "sharpen" in after:
        amount, radius = after["sharpen"]
        level = np.stack(
            [sharpened(each, amount, radius) for each in np.moveaxis(level, 2, 0)],
            axis=2,
        )
    largest = 2**bits - 1
    codes = np.rint(np.clip(level, 0, 1) * largest)
    codes = codes.astype(np.uint8 if bits == 8 else np.uint16)
    if "quality" in after:
        codes = through_jpeg(codes, after["quality"])
    ppi = made.setup.ppi
    return ArraySource(codes, resolution_ppi=(ppi, ppi))


def through_jpeg(codes, quality):
    file = io.BytesIO()
    Image.fromarray(codes.squeeze()).save(file, "JPEG", quality=quality)
    with Image.open(file) as picture:
        found = np.asarray(picture)
    return found.reshape(*found.shape[:2], -1)
