"""Printer, ink and clear film: from the negative's codes to the light let through.

Knows ink limits, dot gain and ink changeovers; what the light then does to the coating
is left to `negcurve.simulation.paper`.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import ndimage

from negcurve.errors import InvalidValueError
from negcurve.simulation.fields import (
    MM_PER_INCH,
    Image,
    grain,
    knots_for,
    smooth_line,
)
from negcurve.values import FloatArray


def soft_step(value: npt.ArrayLike, width: float) -> FloatArray:
    """Ramp that turns smoothly from 0 to the straight line: w ln(1 + exp(x / w))."""
    x = np.asarray(value, dtype=np.float64)
    return np.asarray(width * np.logaddexp(0.0, x / width))


@dataclass(frozen=True, kw_only=True)
class Film:
    """What the printer lays on clear film for a level, seen by the lamp.

    Attributes
    ----------
    name : str
        Invented.
    full_ink_density : float
        Density of solid ink to the lamp, above the base. [D]
    base_density : float
        Of clear coated film. [D]
    driver_power : float
        The driver's own curve: ink asked for, to this power. [1]
    dot_gain : float
        Gain of coverage at half coverage, 0..0.24. [1]
    spread : float
        Yule-Nielsen factor, 1 or more: 1 for hard dots, large for ink that runs
        together, where density follows coverage. [1]
    ink_limit : float
        Share of ink above which the driver adds no more, 0..1. [1]
    kink_ink, kink_strength : float
        Where a denser ink takes over, and by how much the slope grows there. [1]
    blur_mm : float
        Spread of the image from ink to coating, standard deviation. [mm]
    graininess : float
        Deviation of the coverage per square of 0.1 mm at half coverage. [1]
    dust_count : int
        Opaque specks between film and coating.
    banding, banding_mm : float
        Relative deviation of the ink's density in bands across the film, as the print
        head's passes leave them, and how fast it varies down. [1, mm]
    """

    name: str
    full_ink_density: float
    base_density: float = 0.08
    driver_power: float = 1.0
    dot_gain: float = 0.1
    spread: float = 3.0
    ink_limit: float = 1.0
    kink_ink: float = 0.5
    kink_strength: float = 0.0
    blur_mm: float = 0.05
    graininess: float = 0.02
    dust_count: int = 12
    banding: float = 0.0
    banding_mm: float = 3.0

    def __post_init__(self) -> None:
        if not 0 <= self.dot_gain < 0.25:
            raise InvalidValueError("must lie in 0..0.24", where="dot_gain")
        if self.spread < 1 or self.full_ink_density <= 0:
            raise InvalidValueError(
                "spread must be 1 or more and full ink above 0", where=self.name
            )

    def coverage(self, negative_level: npt.ArrayLike) -> FloatArray:
        """Share of the film under ink, any shape, 0..1.

        Notes
        -----
        The dot gain is the quadratic of the usual press characterisations, largest at
        half coverage: c = a + 4 g a (1 - a). Common practice, no source.
        """
        asked = 1 - np.clip(np.asarray(negative_level, dtype=np.float64), 0.0, 1.0)
        laid = asked**self.driver_power
        kink = soft_step(laid - self.kink_ink, 0.02)
        top = 1 + self.kink_strength * soft_step(1 - self.kink_ink, 0.02)
        laid = (laid + self.kink_strength * kink) / top
        if self.ink_limit < 1:
            laid = laid - soft_step(laid - self.ink_limit, 0.02)
        laid = np.clip(laid, 0.0, 1.0)
        return np.asarray(laid + 4 * self.dot_gain * laid * (1 - laid))

    def density_of_coverage(self, coverage: npt.ArrayLike) -> FloatArray:
        """Density to the lamp of a coverage, base included, any shape.

        Notes
        -----
        Source: Yule and Nielsen 1951, TAGA Proceedings (from memory): the n-th root of
        the transmittance is linear in the coverage.
        """
        share = np.asarray(coverage, dtype=np.float64)
        solid = 10 ** (-self.full_ink_density / self.spread)
        mixed = 1 - share * (1 - solid)
        return np.asarray(self.base_density - self.spread * np.log10(mixed))

    def density(self, negative_level: npt.ArrayLike) -> FloatArray:
        """Density to the lamp of an even tone, base included, any shape."""
        return self.density_of_coverage(self.coverage(negative_level))

    def transmittance_image(
        self, codes: npt.NDArray[np.uint16], *, resolution_ppi: float, seed: int
    ) -> Image:
        """Light that one printed sheet lets through, as it lies on the coating.

        Parameters
        ----------
        codes : array of uint16, shape (rows, columns)
            The negative's file.
        resolution_ppi : float
            Of the file.
        seed : int
            Of grain and dust.

        Returns
        -------
        array, shape (rows, columns)
            Transmittance, base included, in the file's own orientation.
        """
        rng = np.random.default_rng(seed)
        pixel_mm = MM_PER_INCH / resolution_ppi
        level = np.arange(65536) / 65535
        light = (10 ** -self.density(level)).astype(np.float32)[codes]
        noise = grain((codes.shape[0], codes.shape[1]), size_px=0.0, rng=rng)
        noise *= self._grain_of_level(level, pixel_mm).astype(np.float32)[codes]
        noise += 1
        light *= np.clip(noise, 0.05, None, out=noise)
        if self.banding:
            light *= self._bands(light, pixel_mm, rng)
        ndimage.gaussian_filter(
            light, self.blur_mm / pixel_mm, output=light, mode="nearest", truncate=3.0
        )
        self._add_dust(light, pixel_mm, rng)
        return light

    def _grain_of_level(self, level: FloatArray, pixel_mm: float) -> FloatArray:
        """Relative deviation of the light through one pixel, shape (n,).

        The coverage scatters as sqrt(c (1 - c)), and the light with it; its mean stays
        what the density says.
        """
        covered = self.coverage(level)
        # White noise per pixel that averages to `graininess` over 0.1 mm squares.
        scatter = 2 * self.graininess * 0.1 / pixel_mm
        kept = 1 - 10 ** (-self.full_ink_density / self.spread)
        slope = self.spread * kept / (1 - covered * kept)
        return np.asarray(scatter * np.sqrt(covered * (1 - covered)) * slope)

    def _bands(self, light: Image, pixel_mm: float, rng: np.random.Generator) -> Image:
        """Return the factor that bands of more and less ink put on the light."""
        rows = light.shape[0]
        knots = knots_for(rows * pixel_mm, self.banding_mm)
        more = np.float32(self.banding) * smooth_line(rows, knots=knots, rng=rng)
        return np.asarray((light * np.float32(10**self.base_density)) ** more[:, None])

    def _add_dust(
        self, light: Image, pixel_mm: float, rng: np.random.Generator
    ) -> None:
        rows, columns = light.shape
        for _ in range(self.dust_count):
            radius = rng.uniform(0.08, 0.3) / pixel_mm
            y, x = rng.uniform(0, rows), rng.uniform(0, columns)
            top, left = max(0, int(y - radius)), max(0, int(x - radius))
            part = light[top : int(y + radius) + 2, left : int(x + radius) + 2]
            down, across = np.ogrid[: part.shape[0], : part.shape[1]]
            part[(down + top - y) ** 2 + (across + left - x) ** 2 < radius**2] = 1e-3
