"""Flatbed scanner: from a print on the glass to the codes of a file.

Knows placement, flare and noise of the print and of a step wedge beside it; finding the
target again is the work of `negcurve.reading`, which knows nothing of this.
"""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from negcurve.simulation.dust import add_dust
from negcurve.simulation.fields import (
    MM_PER_INCH,
    Image,
    grain,
    sampled,
    smooth_line,
    stretched,
)
from negcurve.simulation.paper import ImageColour
from negcurve.simulation.scanner_encoding import ScannerEncoding
from negcurve.simulation.software import ScanSoftware
from negcurve.simulation.wedge import LaidWedge, drawn_wedge, lay_wedge

NEUTRAL = ImageColour()
"""Colour of a step wedge and of the lid."""

FLARE_MM = 12.0
"""How far stray light comes from, standard deviation. [mm]"""

FLARE_STEP = 8
"""Every how many pixels are enough to find it."""

WEDGE_MARGIN_MM = 3.0
"""Lid seen beyond a wedge. [mm]"""

WEDGE_SEED = 7_000_000
"""Sets the wedge's texture apart from the scan's noise."""

Mask = npt.NDArray[np.bool_]


@dataclass(frozen=True, eq=False, kw_only=True)
class Scan:
    """What the scanner's file holds.

    Attributes
    ----------
    codes : array of uint8 or uint16, shape (rows, columns) or (rows, columns, 3)
    resolution_ppi : float
    profile : bytes or None
        ICC profile to embed.
    """

    codes: npt.NDArray[Any]
    resolution_ppi: float
    profile: bytes | None


@dataclass(frozen=True, kw_only=True)
class Scanner:
    """A flatbed and the way the print was laid on it.

    Attributes
    ----------
    name : str
        Invented.
    encoding : ScannerEncoding
    resolution_ppi : float
    skew_deg : float
        Turn of the print on the glass, clockwise in the scan. [degree]
    keystone : float
        Change of scale from one edge to the other. [1]
    stretch : float
        True scale down over scale across, less 1. [1]
    quarter_turns : int
        Of the finished scan, counter-clockwise.
    border_mm : float
        Lid seen around the sheet; below 0 cuts into the sheet. [mm]
    crop_mm : (left, top, right, bottom)
        Cut off what the border would show, before quarter turns; never a wedge. [mm]
    lid : float
        Luminance factor of the lid. [1]
    flare : float
        Share of the light that comes from the neighbourhood. [1]
    gain, tone_power : float
        Luminance factor read is gain R ^ power; both 1 in a scanner without error. [1]
    unevenness : float
        Deviation of the lamp along the scanning bar. [1]
    read_noise, shot_noise : float
        Deviation of R in the dark, and added at R = 1. [1]
    dust_count, hair_count : int
        Specks and hairs on the glass.
    software : ScanSoftware or None
        Corrections of the picture that were left on.
    """

    name: str
    encoding: ScannerEncoding
    resolution_ppi: float = 300.0
    skew_deg: float = 1.3
    keystone: float = 0.001
    stretch: float = 0.001
    quarter_turns: int = 0
    border_mm: float = 6.0
    crop_mm: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    lid: float = 0.82
    flare: float = 0.006
    gain: float = 1.0
    tone_power: float = 1.0
    unevenness: float = 0.004
    read_noise: float = 0.0006
    shot_noise: float = 0.006
    dust_count: int = 60
    hair_count: int = 4
    software: ScanSoftware | None = None

    def scan(
        self,
        reflectance: Image,
        *,
        resolution_ppi: float,
        colour: ImageColour,
        wedge: LaidWedge | None = None,
        seed: int,
    ) -> Scan:
        """Scan one print, with a wedge beside it or without.

        Parameters
        ----------
        reflectance : array, shape (rows, columns)
            Luminance factor of the sheet as it reads right.
        resolution_ppi : float
            Of that array.
        colour : ImageColour
            Of the print.
        wedge : LaidWedge, optional
            The scan is made so much wider that it is seen whole.
        seed : int
            Of dust and noise.

        Returns
        -------
        Scan
        """
        rng = np.random.default_rng(seed)
        image, neutral = self._placed(reflectance, resolution_ppi, wedge, seed)
        self._add_flare(image)
        if self.tone_power != 1:
            np.power(image, np.float32(self.tone_power), out=image)
        across = smooth_line(image.shape[1], knots=8, rng=rng)
        image *= np.float32(self.gain) * (1 + np.float32(self.unevenness) * across)
        add_dust(
            image,
            resolution_ppi=self.resolution_ppi,
            dust_count=self.dust_count,
            hair_count=self.hair_count,
            rng=rng,
        )
        self._add_noise(image, rng)
        codes = self._codes(image, colour, neutral)
        turned = np.ascontiguousarray(np.rot90(codes, self.quarter_turns))
        return Scan(
            codes=turned,
            resolution_ppi=self.resolution_ppi,
            profile=self.encoding.profile,
        )

    def margins_mm(
        self, size_mm: tuple[float, float], wedge: LaidWedge | None = None
    ) -> tuple[float, float, float, float]:
        """How far the scan reaches beyond a print of a size on each side.

        Parameters
        ----------
        size_mm : (width, height)
            Of the sheet. [mm]
        wedge : LaidWedge, optional
            Beside it.

        Returns
        -------
        left, top, right, bottom : float
            From the sheet's edges if it lay straight, before quarter turns. [mm]
        """
        wanted = self.border_mm - np.array(self.crop_mm)
        if wedge is not None:
            left, top, right, bottom = wedge.box_mm(size_mm)
            half_x, half_y = size_mm[0] / 2, size_mm[1] / 2
            x = np.array([left, right, right, left]) - half_x
            y = np.array([top, top, bottom, bottom]) - half_y
            angle = math.radians(self.skew_deg)
            across = math.cos(angle) * x - math.sin(angle) * y
            down = math.sin(angle) * x + math.cos(angle) * y
            reach = [-across.min(), -down.min(), across.max(), down.max()]
            beyond = np.array(reach) - [half_x, half_y, half_x, half_y]
            wanted = np.maximum(wanted, beyond + WEDGE_MARGIN_MM)
        left, top, right, bottom = wanted.tolist()
        return left, top, right, bottom

    def print_place(
        self,
        x_mm: npt.ArrayLike,
        y_mm: npt.ArrayLike,
        *,
        size_mm: tuple[float, float],
        wedge: LaidWedge | None = None,
    ) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
        """Where a place on the glass lies on the print.

        Parameters
        ----------
        x_mm, y_mm : arrays of one shape
            On the glass, from the top left of the scan before its quarter turns. [mm]
        size_mm : (width, height)
            Of the sheet. [mm]
        wedge : LaidWedge, optional
            Beside it.

        Returns
        -------
        x, y : arrays, same shape
            From the top left of the print as it reads right. [mm]
        """
        width, height = size_mm
        half_x, half_y = width / 2, height / 2
        margins = self.margins_mm(size_mm, wedge)
        x = np.asarray(x_mm, dtype=np.float64) - half_x - margins[0]
        y = np.asarray(y_mm, dtype=np.float64) - half_y - margins[1]
        angle = math.radians(self.skew_deg)
        turned_x = math.cos(angle) * x + math.sin(angle) * y
        turned_y = math.cos(angle) * y - math.sin(angle) * x
        depth = 1 + self.keystone * (turned_x / width + 0.6 * turned_y / height)
        turned_y = turned_y / (1 + self.stretch)
        return turned_x / depth + half_x, turned_y / depth + half_y

    def _placed(
        self,
        reflectance: Image,
        resolution_ppi: float,
        wedge: LaidWedge | None,
        seed: int,
    ) -> tuple[Image, Mask]:
        """Resample sheet and wedge to the scan's pixels; tell lid and wedge apart."""
        rows, columns = reflectance.shape
        size_mm = (
            columns * MM_PER_INCH / resolution_ppi,
            rows * MM_PER_INCH / resolution_ppi,
        )
        pixel_mm = MM_PER_INCH / self.resolution_ppi
        left, top, right, bottom = self.margins_mm(size_mm, wedge)
        shape = (
            round((size_mm[1] + top + bottom) / pixel_mm),
            round((size_mm[0] + left + right) / pixel_mm),
        )
        # A pixel of the scan averages all the print that it sees.
        ratio = resolution_ppi / self.resolution_ppi
        seen = reflectance
        if ratio > 1.3:
            seen = ndimage.gaussian_filter(reflectance, 0.35 * ratio, truncate=3.0)
        image = np.empty(shape, dtype=np.float32)
        neutral = np.empty(shape, dtype=bool)
        drawn = drawn_wedge(wedge, self.resolution_ppi, WEDGE_SEED + seed)
        x_mm = (np.arange(shape[1]) + 0.5) * pixel_mm
        for start in range(0, shape[0], 256):
            strip = slice(start, min(start + 256, shape[0]))
            y_mm = (np.arange(strip.start, strip.stop) + 0.5) * pixel_mm
            x, y = self.print_place(
                x_mm[None, :], y_mm[:, None], size_mm=size_mm, wedge=wedge
            )
            scale = resolution_ppi / MM_PER_INCH
            image[strip] = sampled(seen, x * scale, y * scale, self.lid)
            neutral[strip] = np.abs(x - size_mm[0] / 2) > size_mm[0] / 2
            neutral[strip] |= np.abs(y - size_mm[1] / 2) > size_mm[1] / 2
            if wedge is not None:
                along, across = wedge.place(x, y, size_mm=size_mm)
                lay_wedge(image[strip], drawn, along / pixel_mm, across / pixel_mm)
        return image, neutral

    def _codes(
        self, image: Image, colour: ImageColour, neutral: Mask
    ) -> npt.NDArray[Any]:
        """Encode the print in its own colour, what lies around it without one."""
        encoding = self.encoding
        if self.software is None:
            codes = encoding.codes(image, colour)
            codes[neutral] = encoding.codes(image[neutral], NEUTRAL)
            return codes
        levels = encoding.levels(image, colour)
        levels[neutral] = encoding.levels(image[neutral], NEUTRAL)
        shape = levels.shape
        levels = self.software.applied(levels.reshape(*image.shape, -1))
        return encoding.quantized(levels.reshape(shape))

    def _add_flare(self, image: Image) -> None:
        rows, columns = image.shape
        coarse = image[::FLARE_STEP, ::FLARE_STEP].copy()
        sigma = FLARE_MM * self.resolution_ppi / MM_PER_INCH / FLARE_STEP
        ndimage.gaussian_filter(coarse, sigma, output=coarse, mode="nearest")
        image *= np.float32(1 - self.flare)
        image += np.float32(self.flare) * stretched(coarse, (rows, columns))

    def _add_noise(self, image: Image, rng: np.random.Generator) -> None:
        shape = image.shape[0], image.shape[1]
        noise = grain(shape, size_px=0.0, rng=rng)
        dark, light = np.float32(self.read_noise**2), np.float32(self.shot_noise**2)
        noise *= np.sqrt(dark + light * np.clip(image, 0, 1))
        image += noise
