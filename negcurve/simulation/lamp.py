"""Ultraviolet lamp over the printing frame: where on the sheet how much light falls."""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from negcurve.simulation.fields import MM_PER_INCH, Image, knots_for, smooth_line


@dataclass(frozen=True, kw_only=True)
class Lamp:
    """Bank of tubes, larger than the sheet by an overhang, seen from a height.

    Attributes
    ----------
    name : str
        Invented.
    height_mm, overhang_mm : float
        Of the bank above the sheet, and beyond its edges. [mm]
    tilt_across, tilt_down : float
        Difference of log exposure from edge to edge, from a bank not level or unevenly
        aged tubes. [log10]
    ripple, spacing_mm : float
        Amplitude in log exposure and distance of the tubes, which lie across. [log10]
    glass_density : float
        Of the glass of the frame. [D]
    streaks, streak_mm : float
        Deviation of log exposure along lines down the sheet, as smears on the glass
        leave them, and how fast it varies across. [log10, mm]
    streak_seed : int
        Of these lines; they stay from sheet to sheet.
    """

    name: str
    height_mm: float = 60.0
    overhang_mm: float = 90.0
    tilt_across: float = 0.02
    tilt_down: float = -0.015
    ripple: float = 0.002
    spacing_mm: float = 45.0
    glass_density: float = 0.04
    streaks: float = 0.0
    streak_mm: float = 9.0
    streak_seed: int = 1

    def log_field(self, shape: tuple[int, int], *, resolution_ppi: float) -> Image:
        """Log exposure over the sheet against its mean.

        Parameters
        ----------
        shape : (rows, columns)
        resolution_ppi : float

        Returns
        -------
        array, shape (rows, columns)
            Mean 0. [log10]
        """
        down = self._profile(shape[0], resolution_ppi, self.tilt_down)
        across = self._profile(shape[1], resolution_ppi, self.tilt_across)
        place_mm = np.arange(shape[0]) * MM_PER_INCH / resolution_ppi
        down += self.ripple * np.cos(2 * math.pi * place_mm / self.spacing_mm)
        if self.streaks:
            length_mm = shape[1] * MM_PER_INCH / resolution_ppi
            across += self.streaks * smooth_line(
                shape[1],
                knots=knots_for(length_mm, self.streak_mm),
                rng=np.random.default_rng(self.streak_seed),
            )
        field = (down - down.mean())[:, None] + (across - across.mean())[None, :]
        return np.asarray(field, dtype=np.float32)

    def _profile(
        self, count: int, resolution_ppi: float, tilt: float
    ) -> npt.NDArray[np.float64]:
        """Fall-off one way in log10 exposure, shape (count,).

        Notes
        -----
        Light from infinite parallel tubes that end at a straight edge falls as
        0.5 + atan(x / h) / pi at x inside the edge: geometry, of both edges together.
        """
        place_mm = (np.arange(count) + 0.5) * MM_PER_INCH / resolution_ppi
        length_mm = count * MM_PER_INCH / resolution_ppi
        near = np.arctan((self.overhang_mm + place_mm) / self.height_mm)
        far = np.arctan((self.overhang_mm + length_mm - place_mm) / self.height_mm)
        slope = tilt * (place_mm / length_mm - 0.5)
        return np.asarray(np.log10((near + far) / math.pi) + slope)
