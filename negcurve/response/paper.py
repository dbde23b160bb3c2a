"""The paper by itself: print density against log exposure.

Knows the finished characteristic curve alone; measuring it is left to `apart`.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from negcurve.errors import InvalidValueError
from negcurve.values import FloatArray, frozen


@dataclass(frozen=True, eq=False, kw_only=True)
class PaperCurve:
    """Characteristic curve of paper and chemistry under one lamp.

    Attributes
    ----------
    log_exposure_nodes : array, shape (n,)
        Strictly increasing; 0 is what clear film lets through. [log10]
    density_nodes : array, shape (n,)
        Print density, non-decreasing. [D]
    error_nodes : array, shape (n,)
        Standard error. [D]
    measured : (float, float)
        Log exposures that tablet or film gave; beyond them the curve is continued.
    sheet : str
        Print that log exposure 0 belongs to.
    """

    log_exposure_nodes: FloatArray
    density_nodes: FloatArray
    error_nodes: FloatArray
    measured: tuple[float, float]
    sheet: str = "1"

    def __post_init__(self) -> None:
        names = ("log_exposure_nodes", "density_nodes", "error_nodes")
        for name in names:
            object.__setattr__(self, name, frozen(getattr(self, name), name))
        low, high = self.measured
        object.__setattr__(self, "measured", (float(low), float(high)))
        if len({len(getattr(self, name)) for name in names}) != 1:
            raise InvalidValueError("arrays differ in length", where="paper curve")
        if not (np.diff(self.log_exposure_nodes) > 0).all():
            raise InvalidValueError("must rise strictly", where="log exposure")
        if (np.diff(self.density_nodes) < 0).any():
            raise InvalidValueError("must not fall", where="print density")

    def density(self, log_exposure: npt.ArrayLike) -> FloatArray:
        """Return the print density of each log exposure; flat beyond the nodes. [D]."""
        x = np.asarray(log_exposure, dtype=np.float64)
        return np.asarray(np.interp(x, self.log_exposure_nodes, self.density_nodes))

    def standard_error(self, log_exposure: npt.ArrayLike) -> FloatArray:
        """Return the standard error of `density`, same shape. [D]."""
        x = np.asarray(log_exposure, dtype=np.float64)
        return np.asarray(np.interp(x, self.log_exposure_nodes, self.error_nodes))

    def slope(self, log_exposure: npt.ArrayLike) -> FloatArray:
        """Return the slope of `density`, same shape. [D/log10]."""
        x = np.asarray(log_exposure, dtype=np.float64)
        slopes = np.gradient(self.density_nodes, self.log_exposure_nodes)
        return np.asarray(np.interp(x, self.log_exposure_nodes, slopes))

    @property
    def d_min(self) -> float:
        """Density of the lightest end. [D]."""
        return float(self.density_nodes[0])


@dataclass(frozen=True, kw_only=True)
class SheetExposure:
    """Exposure of one print against another, in stops.

    Attributes
    ----------
    sheet, against : str
        The print, and the one that it is compared with.
    stops, standard_error : float
        [stops]
    assumed : bool
        Whether they rest on a film range that was typed, not measured.
    """

    sheet: str
    against: str
    stops: float
    standard_error: float
    assumed: bool = False
