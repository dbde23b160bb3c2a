"""Flatbed scanner: from a print on the glass to the codes of a file.

Knows placement, flare, dust, noise and the scanner's own encoding; finding the target
again is the work of `negcurve.reading`, which knows nothing of this.
"""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from negcurve.simulation.fields import MM_PER_INCH, Image, grain, smooth_line, stretched
from negcurve.simulation.paper import ImageColour
from negcurve.simulation.profile import (
    LUMINANCE_WEIGHTS,
    SRGB_TO_XYZ_D50,
    Matrix,
    encode,
    input_profile,
)

FLARE_MM = 12.0
"""How far stray light comes from, standard deviation. [mm]"""

FLARE_STEP = 8
"""Every how many pixels are enough to find it."""


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
class ScannerEncoding:
    """How the scanner's software writes light.

    Attributes
    ----------
    name : str
        Invented.
    channels, bits : int
        1 or 3; 8 or 16.
    gamma : float or None
        None for the sRGB curve. Kept to 1/256, as a profile holds it.
    matrix : array, shape (3, 3)
        Linear red, green, blue to XYZ at D50.
    tagged : bool
        Whether the profile is embedded.
    """

    name: str
    channels: int = 3
    bits: int = 16
    gamma: float | None = None
    matrix: Matrix = SRGB_TO_XYZ_D50
    tagged: bool = True

    def __post_init__(self) -> None:
        if self.gamma is not None:
            object.__setattr__(self, "gamma", round(self.gamma * 256) / 256)

    @property
    def profile(self) -> bytes | None:
        """The embedded profile, None when the file is left untagged."""
        if not self.tagged:
            return None
        matrix = self.matrix if self.channels == 3 else None
        return input_profile(self.name, gamma=self.gamma, matrix=matrix)

    def codes(self, luminance: Image, colour: ImageColour) -> npt.NDArray[Any]:
        """Write luminance factors 0..1 of a print of one colour as codes."""
        steps = np.linspace(0.0, 1.0, 65536)
        light = colour.rgb(steps)
        if self.channels == 1:
            light = light @ LUMINANCE_WEIGHTS
        else:
            light = light @ (np.linalg.inv(self.matrix) @ np.array(SRGB_TO_XYZ_D50)).T
        largest = 2**self.bits - 1
        levels = encode(light, self.gamma)
        dtype = np.uint16 if self.bits == 16 else np.uint8
        table = np.rint(levels * largest).astype(dtype)
        place = np.clip(luminance * np.float32(65535), 0, 65535).astype(np.uint16)
        return np.asarray(table[place])


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
    """

    name: str
    encoding: ScannerEncoding
    resolution_ppi: float = 300.0
    skew_deg: float = 1.3
    keystone: float = 0.001
    stretch: float = 0.001
    quarter_turns: int = 0
    border_mm: float = 6.0
    lid: float = 0.82
    flare: float = 0.006
    gain: float = 1.0
    tone_power: float = 1.0
    unevenness: float = 0.004
    read_noise: float = 0.0006
    shot_noise: float = 0.006
    dust_count: int = 60
    hair_count: int = 4

    def scan(
        self,
        reflectance: Image,
        *,
        resolution_ppi: float,
        colour: ImageColour,
        seed: int,
    ) -> Scan:
        """Scan one print.

        Parameters
        ----------
        reflectance : array, shape (rows, columns)
            Luminance factor of the sheet as it reads right.
        resolution_ppi : float
            Of that array.
        colour : ImageColour
            Of the print.
        seed : int
            Of dust and noise.

        Returns
        -------
        Scan
        """
        rng = np.random.default_rng(seed)
        image = self._placed(reflectance, resolution_ppi)
        self._add_flare(image)
        if self.tone_power != 1:
            np.power(image, np.float32(self.tone_power), out=image)
        across = smooth_line(image.shape[1], knots=8, rng=rng)
        image *= np.float32(self.gain) * (1 + np.float32(self.unevenness) * across)
        self._add_dust(image, rng)
        self._add_noise(image, rng)
        codes = self.encoding.codes(image, colour)
        turned = np.ascontiguousarray(np.rot90(codes, self.quarter_turns))
        return Scan(
            codes=turned,
            resolution_ppi=self.resolution_ppi,
            profile=self.encoding.profile,
        )

    def print_place(
        self, x_mm: npt.ArrayLike, y_mm: npt.ArrayLike, *, size_mm: tuple[float, float]
    ) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
        """Where a place on the glass lies on the print.

        Parameters
        ----------
        x_mm, y_mm : arrays of one shape
            On the glass, from the top left of the scan before its quarter turns. [mm]
        size_mm : (width, height)
            Of the sheet. [mm]

        Returns
        -------
        x, y : arrays, same shape
            From the top left of the print as it reads right. [mm]
        """
        width, height = size_mm
        half_x, half_y = width / 2, height / 2
        x = np.asarray(x_mm, dtype=np.float64) - half_x - self.border_mm
        y = np.asarray(y_mm, dtype=np.float64) - half_y - self.border_mm
        angle = math.radians(self.skew_deg)
        turned_x = math.cos(angle) * x + math.sin(angle) * y
        turned_y = math.cos(angle) * y - math.sin(angle) * x
        depth = 1 + self.keystone * (turned_x / width + 0.6 * turned_y / height)
        turned_y = turned_y / (1 + self.stretch)
        return turned_x / depth + half_x, turned_y / depth + half_y

    def _placed(self, reflectance: Image, resolution_ppi: float) -> Image:
        """Resample the sheet to the scan's pixels, lid around it."""
        rows, columns = reflectance.shape
        size_mm = (
            columns * MM_PER_INCH / resolution_ppi,
            rows * MM_PER_INCH / resolution_ppi,
        )
        pixel_mm = MM_PER_INCH / self.resolution_ppi
        shape = tuple(
            round((length + 2 * self.border_mm) / pixel_mm) for length in size_mm[::-1]
        )
        # A pixel of the scan averages all the print that it sees.
        ratio = resolution_ppi / self.resolution_ppi
        seen = reflectance
        if ratio > 1.3:
            seen = ndimage.gaussian_filter(reflectance, 0.35 * ratio, truncate=3.0)
        image = np.empty(shape, dtype=np.float32)
        x_mm = (np.arange(shape[1]) + 0.5) * pixel_mm
        for start in range(0, shape[0], 256):
            y_mm = (np.arange(start, min(start + 256, shape[0])) + 0.5) * pixel_mm
            x, y = self.print_place(x_mm[None, :], y_mm[:, None], size_mm=size_mm)
            scale = resolution_ppi / MM_PER_INCH
            places = np.stack([y * scale - 0.5, x * scale - 0.5])
            image[start : start + 256] = ndimage.map_coordinates(
                seen,
                places,
                order=1,
                mode="grid-constant",
                cval=self.lid,
                prefilter=False,
            )
        return image

    def _add_flare(self, image: Image) -> None:
        rows, columns = image.shape
        coarse = image[::FLARE_STEP, ::FLARE_STEP].copy()
        sigma = FLARE_MM * self.resolution_ppi / MM_PER_INCH / FLARE_STEP
        ndimage.gaussian_filter(coarse, sigma, output=coarse, mode="nearest")
        image *= np.float32(1 - self.flare)
        image += np.float32(self.flare) * stretched(coarse, (rows, columns))

    def _add_dust(self, image: Image, rng: np.random.Generator) -> None:
        per_mm = self.resolution_ppi / MM_PER_INCH
        rows, columns = image.shape
        for number in range(self.dust_count):
            place = rng.uniform(0, rows), rng.uniform(0, columns)
            radius = rng.uniform(0.06, 0.3) * per_mm
            _dab(image, place, radius, 0.75 if number % 3 else 0.05)
        for _ in range(self.hair_count):
            length = rng.uniform(4, 18) * per_mm
            bend = rng.normal(0, 2.5 / length)
            place, angle = (
                (rng.uniform(0, rows), rng.uniform(0, columns)),
                rng.uniform(0, 2 * math.pi),
            )
            for _ in range(int(length)):
                angle += bend
                place = place[0] + math.sin(angle), place[1] + math.cos(angle)
                _dab(image, place, 0.04 * per_mm, 0.35)

    def _add_noise(self, image: Image, rng: np.random.Generator) -> None:
        shape = image.shape[0], image.shape[1]
        noise = grain(shape, size_px=0.0, rng=rng)
        dark, light = np.float32(self.read_noise**2), np.float32(self.shot_noise**2)
        noise *= np.sqrt(dark + light * np.clip(image, 0, 1))
        image += noise


def _dab(image: Image, place: tuple[float, float], radius: float, light: float) -> None:
    """Lay a speck of a luminance factor on the image, soft at its rim."""
    y, x = place
    reach = radius + 1
    top, left = max(0, int(y - reach)), max(0, int(x - reach))
    part = image[top : max(0, int(y + reach) + 2), left : max(0, int(x + reach) + 2)]
    if part.size == 0:
        return
    down, across = np.ogrid[: part.shape[0], : part.shape[1]]
    distance = np.hypot(down + top - y, across + left - x)
    share = np.clip(radius + 0.5 - distance, 0, 1).astype(np.float32)
    part *= 1 - share
    part += share * np.float32(light)
