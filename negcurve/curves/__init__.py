"""Monotone curves through noisy readings, with a band, for any abscissa."""

from negcurve.curves.averaging import CurveFit
from negcurve.curves.fitting import fit_monotone
from negcurve.curves.model import Effect
from negcurve.curves.turning import turning_points

__all__ = ["CurveFit", "Effect", "fit_monotone", "turning_points"]
