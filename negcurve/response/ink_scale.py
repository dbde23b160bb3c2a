"""What mixtures hold back, told by a step tablet or greys of known film beside them."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from negcurve.curves.fitting import fit_monotone
from negcurve.readings import Readings
from negcurve.response.apart import FEWEST_STEPS
from negcurve.response.apart_rows import usable_steps
from negcurve.response.film import FilmData
from negcurve.response.ink_means import InkMeans
from negcurve.target.ink import LARGEST
from negcurve.values import FloatArray

USABLE = (0.05, 0.9)
"""Share of the paper's range within which print density tells printing density; beyond,
the curve is too flat. Ours."""


Limit = Literal["within", "at least", "at most", ""]
"""Whether a printing density was found, lies beyond, or is not known at all."""


@dataclass(frozen=True, kw_only=True)
class HeldBack:
    """Printing density of one mixture.

    Attributes
    ----------
    density, error : float
        The density or its limit, and its standard error; NaN where not known. [D]
    limit : {"within", "at least", "at most", ""}
    """

    density: float
    error: float
    limit: Limit


NOT_KNOWN = HeldBack(density=float("nan"), error=float("nan"), limit="")


@dataclass(frozen=True, eq=False, kw_only=True)
class InkScale:
    """Print density against printing density, of the paper on this sheet.

    Attributes
    ----------
    known_by : {"tablet", "film"}
    printing : array, shape (n,)
        Falling. [D]
    density, error, slope : array, shape (n,)
        Print density, non-decreasing; its standard error; its rise for one unit less
        of printing density.
    from_clear : bool
        Whether printing density counts from clear film, else from no film.
    """

    known_by: Literal["tablet", "film"]
    printing: FloatArray
    density: FloatArray
    error: FloatArray
    slope: FloatArray
    from_clear: bool

    def held_back(self, density: float, error: float) -> HeldBack:
        """Return what a patch holds back that prints with a density.

        Parameters
        ----------
        density, error : float
            And its standard error. [D]

        Returns
        -------
        HeldBack
        """
        low, high = self.density[[0, -1]]
        share = (density - low) / (high - low)
        inside = float(np.clip(share, *USABLE))
        at = float(np.interp(low + inside * (high - low), self.density, self.printing))
        if share < USABLE[0]:
            return HeldBack(density=at, error=float("nan"), limit="at least")
        if share > USABLE[1]:
            return HeldBack(density=at, error=float("nan"), limit="at most")
        own = float(np.interp(density, self.density, self.error))
        steep = float(np.interp(density, self.density, self.slope))
        spread = float(np.hypot(error, own) / max(steep, 1e-6))
        return HeldBack(density=at, error=spread, limit="within")


def ink_scale(
    readings: Readings, means: InkMeans, film: FilmData | None
) -> InkScale | None:
    """Fit the paper's curve through a tablet's steps, or through greys of known film.

    Parameters
    ----------
    readings : Readings
    means : InkMeans
        Of the same print.
    film : FilmData or None
        Of black ink.

    Returns
    -------
    InkScale or None
        None where neither tells.
    """
    steps = usable_steps(readings)
    known_by: Literal["tablet", "film"] = "tablet"
    if len(steps) >= FEWEST_STEPS:
        known, density = steps.tablet_density, steps.density
    elif film is not None:
        greys = list(means.greys)
        levels = np.array([means.inks[place].red / LARGEST for place in greys])
        known, density, known_by = film.density(levels), means.density[greys], "film"
    else:
        return None
    told = np.isfinite(known)
    if told.sum() < FEWEST_STEPS:
        return None
    fit = fit_monotone(-known[told], density[told])
    return InkScale(
        known_by=known_by,
        printing=-fit.abscissa,
        density=fit.value,
        error=fit.error,
        slope=fit.slope,
        from_clear=known_by == "film" or readings.tablet_over_film,
    )
