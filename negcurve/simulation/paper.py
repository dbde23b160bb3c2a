"""Coated paper: characteristic curve, grain and the colour of the image.

Knows how exposure turns to density on one uneven sheet; the light is made in
`negcurve.simulation.film` and `negcurve.simulation.lamp`.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from negcurve.density import reflectance_from_density
from negcurve.errors import InvalidValueError
from negcurve.simulation.coating import Coating
from negcurve.simulation.fields import MM_PER_INCH, Image, grain
from negcurve.simulation.film import soft_step
from negcurve.simulation.profile import LUMINANCE_WEIGHTS
from negcurve.values import FloatArray


@dataclass(frozen=True, kw_only=True)
class CharacteristicCurve:
    """Print density against log exposure, with its own toe and shoulder.

    Attributes
    ----------
    d_min, d_max : float
        Of coated, processed paper: unexposed, and at the end of the curve. [D]
    gradient : float
        Slope of the straight part. [D/log10]
    toe, shoulder : float
        How soft the two ends are. [log10]

    Notes
    -----
    A straight line between two soft corners: each corner is w ln(1 + exp(x / w)). Log
    exposure 0 is where the straight part meets D-min.
    """

    d_min: float
    d_max: float
    gradient: float
    toe: float
    shoulder: float

    def __post_init__(self) -> None:
        if not 0 <= self.d_min < self.d_max:
            raise InvalidValueError("must lie below d_max", where="d_min")
        if min(self.gradient, self.toe, self.shoulder) <= 0:
            raise InvalidValueError(
                "gradient, toe and shoulder must be above 0", where="curve"
            )

    def share(self, log_exposure: npt.ArrayLike) -> FloatArray:
        """Share of the range from d_min to d_max that is reached, any shape, 0..1."""
        x = np.asarray(log_exposure, dtype=np.float64)
        span = self.d_max - self.d_min
        rise = soft_step(x, self.toe) - soft_step(
            x - span / self.gradient, self.shoulder
        )
        return np.clip(rise * self.gradient / span, 0.0, 1.0)

    def density(self, log_exposure: npt.ArrayLike) -> FloatArray:
        """Print density of a log exposure, any shape."""
        span = self.d_max - self.d_min
        return np.asarray(self.d_min + span * self.share(log_exposure))

    def log_exposure_for(self, share: float) -> float:
        """Log exposure at which a share of the range, 0..1, is reached."""
        low, high = -3.0, 6.0
        for _ in range(60):
            middle = (low + high) / 2
            if float(self.share(middle)) < share:
                low = middle
            else:
                high = middle
        return (low + high) / 2


@dataclass(frozen=True, kw_only=True)
class ImageColour:
    """Colour of the print's image, as linear red, green and blue of each luminance.

    Attributes
    ----------
    name : str
    red, green, blue : float
        Density in each primary per density of the image. [1]
    """

    name: str = "neutral"
    red: float = 1.0
    green: float = 1.0
    blue: float = 1.0

    def rgb(self, luminance: npt.ArrayLike) -> FloatArray:
        """Linear sRGB light of a luminance factor, shape (..., 3).

        The luminance is kept exactly: rgb @ `LUMINANCE_WEIGHTS` is the input.
        """
        factor = np.asarray(luminance, dtype=np.float64)[..., None]
        tinted = np.power(factor, np.array([self.red, self.green, self.blue]))
        tone = tinted @ LUMINANCE_WEIGHTS
        with np.errstate(invalid="ignore"):
            scaled = tinted * (factor / tone[..., None])
        return np.where(factor > 0, scaled, 0.0)


@dataclass(frozen=True, kw_only=True)
class Paper:
    """One paper with one process on it.

    Attributes
    ----------
    name : str
        Invented.
    curve : CharacteristicCurve
        At mean coating weight. [D]
    bare_density : float
        Of the paper outside the coating. [D]
    coating : Coating
    colour : ImageColour
    grain : float
        Deviation of density by paper texture and grain, in the mid-tones. [D]
    grain_mm : float
        Size of the texture. [mm]
    relief, relief_mm : float
        Deviation of the reflectance by the rough surface's light and shade, which
        leaves its mean as it is, and the size of the tooth. [1, mm]
    """

    name: str
    curve: CharacteristicCurve
    bare_density: float
    coating: Coating
    colour: ImageColour
    grain: float = 0.02
    grain_mm: float = 0.08
    relief: float = 0.0
    relief_mm: float = 0.35

    def reflectance_image(
        self,
        log_exposure: Image,
        *,
        resolution_ppi: float,
        inset_mm: float,
        seed: int,
    ) -> Image:
        """Print one coated sheet.

        Parameters
        ----------
        log_exposure : array, shape (rows, columns)
            Against the curve's zero.
        resolution_ppi : float
        inset_mm : float
            Distance of the coating's edge from the sheet's. [mm]
        seed : int
            Of coating and grain.

        Returns
        -------
        array, shape (rows, columns)
            Luminance factor, 0..1.
        """
        rng = np.random.default_rng(seed)
        shape = log_exposure.shape[0], log_exposure.shape[1]
        weight = self.coating.weight(shape, resolution_ppi=resolution_ppi, rng=rng)
        log_weight: Image = np.log10(weight, out=weight)
        speed = np.float32(self.coating.speed_power)
        share = self._share(log_exposure + speed * log_weight)
        log_weight *= np.float32(self.coating.d_max_power * np.log(10.0))
        cover = self.coating.cover(
            shape, inset_mm=inset_mm, resolution_ppi=resolution_ppi, rng=rng
        )
        span = self.curve.d_max - self.curve.d_min
        stain = np.float32(self.curve.d_min - self.bare_density)
        image = np.exp(log_weight, out=log_weight)
        image *= share * np.float32(span)
        image += stain
        image *= cover
        image += np.float32(self.bare_density)
        self._add_grain(image, share, resolution_ppi, rng)
        seen = _reflectance(image)
        if self.relief:
            size_px = self.relief_mm * resolution_ppi / MM_PER_INCH
            tooth = grain(shape, size_px=size_px, rng=rng)
            seen *= 1 + np.float32(self.relief) * tooth
        return seen

    def _share(self, log_exposure: npt.NDArray[Any]) -> Image:
        table = self.curve.share(np.linspace(-3.0, 4.0, 32768)).astype(np.float32)
        log_exposure += 3
        log_exposure *= np.float32(32767 / 7)
        place = np.clip(log_exposure, 0, 32767, out=log_exposure).astype(np.uint16)
        return table[place]

    def _add_grain(
        self,
        density: Image,
        share: Image,
        resolution_ppi: float,
        rng: np.random.Generator,
    ) -> None:
        size_px = self.grain_mm * resolution_ppi / MM_PER_INCH
        shape = density.shape[0], density.shape[1]
        noise = grain(shape, size_px=size_px, rng=rng)
        # Strongest in the mid-tones, a quarter of it on bare paper and in the blacks.
        noise *= np.float32(self.grain) * (
            np.float32(0.25) + np.float32(3) * share * (1 - share)
        )
        density += noise


def _reflectance(density: Image) -> Image:
    """Reflectance of a large image of densities below 4, to 0.00006 D."""
    table = reflectance_from_density(np.linspace(0.0, 4.0, 65536)).astype(np.float32)
    density *= np.float32(65535 / 4)
    return table[np.clip(density, 0, 65535, out=density).astype(np.uint16)]
