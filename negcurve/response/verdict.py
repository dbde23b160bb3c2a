"""The verdict on a print made through a table: how far from its aim, and what next.

Knows the finished comparison; making it is left to `checking`.
"""

from dataclasses import dataclass, fields
from typing import Literal

import numpy as np

from negcurve.density import lightness_from_density
from negcurve.errors import InvalidValueError
from negcurve.response.solution import Unevenness
from negcurve.values import Finding, FloatArray, frozen

Verdict = Literal["accept", "refine", "look for a cause"]


@dataclass(frozen=True, eq=False, kw_only=True)
class Check:
    """A print against its aim, tone by tone.

    Attributes
    ----------
    image_tone : array, shape (n,)
        Tones with readings, strictly increasing. [1]
    printed_density : array, shape (n,)
        Fitted to the readings with the sheet's unevenness taken off. [D]
    aim_density : array, shape (n,)
        [D]
    standard_error : array, shape (n,)
        Of `printed_density`, within the sheet. [D]
    sheet_error : float
        What one print differs from the next by, standard deviation. [D]
    sheet_error_verified : bool
        Whether `sheet_error` comes from repeated prints rather than common practice.
    offset, offset_error : float
        Mean of printed minus aim, and what a new sheet alone would explain. [D]
    chi_square : float
        Mean square of the differences over their expected variance; about 1 for noise.
    real : bool
        Whether the difference is more than the noise of a new sheet.
    verdict : {"accept", "refine", "look for a cause"}
    advice : str
        The next step, in a sentence or two.
    sheet : str
        The print.
    unevenness : Unevenness or None
    findings : tuple of Finding
    """

    image_tone: FloatArray
    printed_density: FloatArray
    aim_density: FloatArray
    standard_error: FloatArray
    sheet_error: float
    sheet_error_verified: bool
    offset: float
    offset_error: float
    chi_square: float
    real: bool
    verdict: Verdict
    advice: str
    sheet: str = "1"
    unevenness: Unevenness | None = None
    findings: tuple[Finding, ...] = ()

    def __post_init__(self) -> None:
        arrays = [each.name for each in fields(self)][:4]
        for name in arrays:
            object.__setattr__(self, name, frozen(getattr(self, name), name))
        if len({len(getattr(self, name)) for name in arrays}) != 1:
            raise InvalidValueError("arrays differ in length", where="check")

    @property
    def density_error(self) -> FloatArray:
        """Printed minus aim, shape (n,). [D]."""
        return self.printed_density - self.aim_density

    @property
    def printed_lightness(self) -> FloatArray:
        """L* of the print, shape (n,)."""
        return lightness_from_density(self.printed_density)

    @property
    def aim_lightness(self) -> FloatArray:
        """L* of the aim, shape (n,)."""
        return lightness_from_density(self.aim_density)

    @property
    def lightness_error(self) -> FloatArray:
        """Printed minus aim, shape (n,). [L*]."""
        return self.printed_lightness - self.aim_lightness

    @property
    def rms(self) -> float:
        """Root mean square of the lightness error. [L*]."""
        return float(np.sqrt(np.mean(self.lightness_error**2)))

    @property
    def percentile_95(self) -> float:
        """95th percentile of the size of the lightness error. [L*]."""
        return float(np.percentile(np.abs(self.lightness_error), 95))

    @property
    def worst(self) -> float:
        """Largest lightness error, with its sign. [L*]."""
        error = self.lightness_error
        return float(error[np.argmax(np.abs(error))])

    @property
    def density_rms(self) -> float:
        """Root mean square of the density error. [D]."""
        return float(np.sqrt(np.mean(self.density_error**2)))
