"""How much a print darkens as it dries, from the user's own pairs; when to read it.

Knows densities of prints wet and dry; which readings belong together is left to the
caller.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import stats

from negcurve.errors import ReadingsError
from negcurve.values import FloatArray, frozen

ASSUMED_PRINT_SPREAD = 0.02
"""From print to print, where the pairs come from one print only. Common practice, no
source. [D]
"""

SETTLED = 0.01
"""A print has settled when it will change by less than this. [D]"""


@dataclass(frozen=True, eq=False, kw_only=True)
class DryDown:
    """Dry density from wet density.

    Attributes
    ----------
    coefficients : array, shape (m,)
        Of dry minus wet, in powers of the wet density, lowest first. [D]
    covariance : array, shape (m, m)
    noise : float
        Standard deviation of one pair. [D]
    print_spread : float
        Standard deviation from print to print. [D]
    spread_assumed : bool
        Whether `print_spread` is common practice, for want of a second print.
    low, high : float
        Wet densities that the pairs cover. [D]
    pairs, prints : int
    """

    coefficients: FloatArray
    covariance: FloatArray
    noise: float
    print_spread: float
    spread_assumed: bool
    low: float
    high: float
    pairs: int
    prints: int

    def dry_density(self, wet_density: npt.ArrayLike) -> FloatArray:
        """Return the dry density to expect; NaN 0.05 D or more beyond the pairs.

        Parameters
        ----------
        wet_density : array, any shape
            [D]

        Returns
        -------
        array, same shape
            [D]
        """
        wet = np.asarray(wet_density, dtype=np.float64)
        inside = (wet > self.low - 0.05) & (wet < self.high + 0.05)
        change = np.polynomial.polynomial.polyval(wet, self.coefficients)
        return np.asarray(np.where(inside, wet + change, np.nan))

    def half_width(self, wet_density: npt.ArrayLike) -> FloatArray:
        """Return half the width of the 90 % interval for a new print. [D].

        Student's t with the degrees of freedom that the pairs leave.
        """
        wet = np.asarray(wet_density, dtype=np.float64)
        powers = wet[..., None] ** np.arange(len(self.coefficients))
        fit = np.einsum("...i,ij,...j->...", powers, self.covariance, powers)
        spare = max(self.pairs - len(self.coefficients), 1)
        if not self.spread_assumed:
            spare = min(spare, max(self.prints - 1, 1))
        total = np.sqrt(fit + self.print_spread**2 + self.noise**2)
        return np.asarray(float(stats.t.ppf(0.95, spare)) * total)


def fit_drydown(
    wet_density: npt.ArrayLike,
    dry_density: npt.ArrayLike,
    print_number: npt.ArrayLike,
) -> DryDown:
    """Learn the dry-down from pairs of readings.

    Parameters
    ----------
    wet_density, dry_density : array, shape (n,)
        The same patch wet and dry. [D]
    print_number : array, shape (n,)
        Which print each pair comes from.

    Returns
    -------
    DryDown

    Raises
    ------
    ReadingsError
        With fewer than 3 pairs.

    Notes
    -----
    A parabola, a line or a constant in the wet density, whichever has the least
    Akaike criterion corrected for small samples (C. M. Hurvich and C.-L. Tsai,
    Biometrika 76, 297-307, 1989). Prints differ by offsets whose variance is found by
    moments; the fit is by generalised least squares with it.
    """
    wet, dry = frozen(wet_density, "wet"), frozen(dry_density, "dry")
    sheet = np.unique(np.asarray(print_number), return_inverse=True)[1]
    if len(wet) < 3 or len(wet) != len(dry) or len(sheet) != len(wet):
        raise ReadingsError(
            f"{len(wet)} pairs of wet and dry readings are too few",
            where="dry-down",
            fix="Read three or more patches wet, and the same patches dry.",
        )
    prints = int(sheet.max()) + 1
    orders = range(min(3, len(wet) - 2, len(np.unique(wet.round(2)))))
    fits = [_generalised(wet, dry - wet, sheet, order) for order in orders]
    best = min(fits, key=lambda fit: fit[4])
    coefficients, covariance, noise, spread, _ = best
    return DryDown(
        coefficients=coefficients,
        covariance=covariance,
        noise=noise,
        print_spread=spread if prints > 1 else ASSUMED_PRINT_SPREAD,
        spread_assumed=prints == 1,
        low=float(wet.min()),
        high=float(wet.max()),
        pairs=len(wet),
        prints=prints,
    )


def _generalised(
    wet: FloatArray, change: FloatArray, sheet: npt.NDArray[np.intp], order: int
) -> tuple[FloatArray, FloatArray, float, float, float]:
    """Return coefficients, covariance, noise, print spread and criterion."""
    powers = wet[:, None] ** np.arange(order + 1)
    same = (sheet[:, None] == sheet[None, :]).astype(np.float64)
    prints = int(sheet.max()) + 1
    # Noise from within the prints, their spread from what is left between them.
    centred = powers - same @ powers / same.sum(axis=1)[:, None]
    inner = change - same @ change / same.sum(axis=1)
    slopes = np.linalg.lstsq(centred[:, 1:], inner, rcond=None)[0]
    spare = max(len(wet) - prints - order, 1)
    noise = max(
        float(np.sqrt(np.sum((inner - centred[:, 1:] @ slopes) ** 2) / spare)), 1e-4
    )
    spread = 0.0
    if prints > 1:
        rest = change - powers[:, 1:] @ slopes
        means = np.array([rest[sheet == each].mean() for each in range(prints)])
        count = np.array([(sheet == each).sum() for each in range(prints)])
        extra = means.var(ddof=1) - noise**2 * float((1 / count).mean())
        spread = float(np.sqrt(max(extra, 0.0)))
    total = noise**2 * np.eye(len(wet)) + spread**2 * same
    weight = np.linalg.inv(total)
    covariance = np.linalg.inv(powers.T @ weight @ powers)
    coefficients = covariance @ (powers.T @ weight @ change)
    rest = change - powers @ coefficients
    sign, size = np.linalg.slogdet(total)
    count_free = order + 2
    deviance = float(rest @ weight @ rest + sign * size)
    small = 2 * count_free * len(wet) / max(len(wet) - count_free - 1, 0.5)
    return (
        np.asarray(coefficients),
        np.asarray(covariance),
        noise,
        spread,
        deviance + small,
    )


@dataclass(frozen=True, kw_only=True)
class Settling:
    """When a print is dry enough to read.

    Attributes
    ----------
    hours : float or None
        Earliest honest reading time, None where the readings do not tell.
    time_constant_hours : float or None
        In which the rest falls to 37 %.
    rest : float
        Expected change after the last reading. [D]
    why : str
        What the answer rests on, or why there is none.
    """

    hours: float | None
    time_constant_hours: float | None
    rest: float
    why: str


def settling(hours: npt.ArrayLike, density: npt.ArrayLike) -> Settling:
    """Find the earliest time at which a print reads as it will stay.

    Parameters
    ----------
    hours : array, shape (n,)
        Since the print came out of the last bath, rising. [h]
    density : array, shape (n, m)
        The same m patches each time. [D]

    Returns
    -------
    Settling

    Raises
    ------
    ReadingsError
        If the two do not fit together.

    Notes
    -----
    D(t) = D_dry - A exp(-t / T) for each patch with a common T, by least squares over
    T. Honest is the time from which the rest, with its 90 % interval, stays below
    0.01 D; never earlier than the first reading.
    """
    times = frozen(hours, "hours")
    values = np.array(density, dtype=np.float64)
    if values.ndim != 2 or len(values) != len(times) or not np.isfinite(values).all():
        raise ReadingsError(
            "every patch must be read at every time",
            where="dry-down times",
            fix="Read the same target each time, and leave no patch out.",
        )
    if len(times) < 4 or (np.diff(times) <= 0).any():
        return Settling(
            hours=None,
            time_constant_hours=None,
            rest=float("nan"),
            why="four or more readings at rising times are needed to tell",
        )
    constants = np.geomspace(np.diff(times).min() / 3, 2 * times[-1], 80)
    errors = np.array([_decay(times, values, each)[2] for each in constants])
    constant = float(constants[np.argmin(errors)])
    _, size, error = _decay(times, values, constant)
    spare = max(values.size - 2 * values.shape[1] - 1, 1)
    noise = float(np.sqrt(error / spare))
    margin = float(stats.t.ppf(0.95, spare)) * noise / np.sqrt(values.shape[1])
    fall = float(np.sqrt(np.mean(size**2)))
    rest = fall * float(np.exp(-times[-1] / constant))
    if rest + margin > SETTLED:
        return Settling(
            hours=None,
            time_constant_hours=constant,
            rest=rest,
            why=(
                f"after {times[-1]:g} h another {rest:.3f} D is to come, give or take "
                f"{margin:.3f}: read once more, later"
            ),
        )
    needed = constant * float(np.log(max(fall, 1e-9) / (SETTLED - margin)))
    return Settling(
        hours=max(needed, float(times[0])),
        time_constant_hours=constant,
        rest=rest,
        why=f"less than {SETTLED} D is to come, with 90 % confidence",
    )


def _decay(
    hours: FloatArray, density: FloatArray, constant: float
) -> tuple[FloatArray, FloatArray, float]:
    """Return final densities, falls and squared error for one time constant."""
    columns = np.stack([np.ones_like(hours), -np.exp(-hours / constant)], axis=1)
    parts = np.linalg.lstsq(columns, density, rcond=None)[0]
    return parts[0], parts[1], float(np.sum((density - columns @ parts) ** 2))
