"""One simulated darkroom: printer, film, lamp and coated paper together.

Knows the true response of the chain and makes whole prints with all their faults.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from negcurve.simulation.fields import MM_PER_INCH, Image, reduced
from negcurve.simulation.film import Film
from negcurve.simulation.lamp import Lamp
from negcurve.simulation.paper import Paper
from negcurve.values import FloatArray

COVERED_LOG_EXPOSURE = -3.0
"""Log exposure under opaque tape: none that the paper sees."""


@dataclass(frozen=True, eq=False, kw_only=True)
class SheetPrint:
    """A dry print, as it reads right.

    Attributes
    ----------
    reflectance : array, shape (rows, columns)
        Luminance factor, 0..1.
    resolution_ppi : float
        Of that array.
    """

    reflectance: Image
    resolution_ppi: float


@dataclass(frozen=True, kw_only=True)
class Darkroom:
    """Everything between a negative's file and a dry print.

    Attributes
    ----------
    film : Film
    lamp : Lamp
    paper : Paper
    black_share : float
        Share of the paper's range that clear film reaches, which sets the exposure.
    exposure_spread : float
        Deviation of log exposure from sheet to sheet. [log10]
    paper_border_mm : float
        Paper beyond the film. [mm]
    coating_inset_mm : float
        Distance of the coating's edge inside the film's. [mm]
    """

    film: Film
    lamp: Lamp
    paper: Paper
    black_share: float = 0.985
    exposure_spread: float = 0.01
    paper_border_mm: float = 6.0
    coating_inset_mm: float = 3.0

    @property
    def log_exposure(self) -> float:
        """Log10 exposure without film and glass, against the curve's zero."""
        wanted = self.paper.curve.log_exposure_for(self.black_share)
        return wanted + self.film.base_density + self.lamp.glass_density

    def density(self, negative_level: npt.ArrayLike) -> FloatArray:
        """Print density of an even tone, printed without any unevenness or noise.

        Parameters
        ----------
        negative_level : array, any shape
            0..1.

        Returns
        -------
        array, same shape
            Luminance density. [D]
        """
        through = self.film.density(negative_level) + self.lamp.glass_density
        return self.paper.curve.density(self.log_exposure - through)

    def print_sheet(
        self,
        codes: npt.NDArray[np.uint16],
        *,
        resolution_ppi: float,
        mirrored: bool = True,
        covered_mm: Sequence[tuple[float, float, float, float]] = (),
        seed: int,
    ) -> SheetPrint:
        """Print, coat, expose and develop one negative.

        Parameters
        ----------
        codes : array of uint16, shape (rows, columns)
            The negative's file, 0 full ink.
        resolution_ppi : float
            Of the file; beyond 450 the print is made at a whole part of it.
        mirrored : bool
            Whether the file is mirrored; it is printed ink side down either way.
        covered_mm : sequence of (left, top, width, height)
            Parts covered with opaque tape, on the film as the print reads. [mm]
        seed : int
            Of this sheet.

        Returns
        -------
        SheetPrint
        """
        seeds = np.random.SeedSequence(seed).generate_state(3)
        light = self.film.transmittance_image(
            codes, resolution_ppi=resolution_ppi, seed=int(seeds[0])
        )
        light, ppi = _reduced(light, resolution_ppi)
        if mirrored:
            light = light[:, ::-1]
        log_light = np.log10(light)
        shift = self.exposure_spread * np.random.default_rng(seeds[1]).standard_normal()
        log_light += self.lamp.log_field(_shape(log_light), resolution_ppi=ppi)
        log_light += np.float32(self.log_exposure - self.lamp.glass_density + shift)
        for box in covered_mm:
            left, top, right, bottom = _pixels(box, ppi)
            log_light[top:bottom, left:right] = COVERED_LOG_EXPOSURE
        # Paper beyond the film is not coated, so its exposure does not matter.
        border = round(self.paper_border_mm * ppi / MM_PER_INCH)
        whole = np.pad(log_light, border, constant_values=COVERED_LOG_EXPOSURE)
        reflectance = self.paper.reflectance_image(
            whole,
            resolution_ppi=ppi,
            inset_mm=self.paper_border_mm + self.coating_inset_mm,
            seed=int(seeds[2]),
        )
        return SheetPrint(reflectance=reflectance, resolution_ppi=ppi)


def _shape(image: Image) -> tuple[int, int]:
    return image.shape[0], image.shape[1]


def _pixels(
    box: tuple[float, float, float, float], ppi: float
) -> tuple[int, int, int, int]:
    left, top, width, height = (value * ppi / MM_PER_INCH for value in box)
    return round(left), round(top), round(left + width), round(top + height)


def _reduced(light: Image, resolution_ppi: float) -> tuple[Image, float]:
    """Average whole blocks of pixels so that no more than 450 ppi are left."""
    block = max(1, round(resolution_ppi / 360)) if resolution_ppi > 450 else 1
    if block == 1:
        return light, resolution_ppi
    return reduced(light, block), resolution_ppi / block
