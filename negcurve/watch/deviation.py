"""What a strip's readings say has changed: exposure, contrast, D-max or white.

Knows one strip against what it should have printed; judging whether a change is more
than the user's usual scatter is left to `control_chart` and `judgement`.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from negcurve.errors import InvalidValueError
from negcurve.values import FloatArray, frozen

PARTS = ("exposure", "contrast", "d_max", "white")

_PRIOR = np.array([0.5, 0.5, 0.4, 0.3])
"""Standard deviation that the four parts are held by, so wide that it matters only for
a part which the strip does not show. [D, 1, D, D]
"""

_SEEN = np.array([0.06, 0.2, 0.08, 0.06])
"""A part whose standard error is larger was not shown by the strip. [D, 1, D, D]"""

_STEP = np.array([1e-3, 1e-3, 1e-3, 1e-3])


@dataclass(frozen=True, eq=False, kw_only=True)
class StripCurve:
    """Print density against log exposure, or against an axis that stands in for it.

    Attributes
    ----------
    log_exposure : array, shape (n,)
        Strictly increasing; relative. [log10 exposure where `known`]
    density : array, shape (n,)
        Non-decreasing. [D]
    known : bool
        Whether the axis is log exposure. Readings of grey patches alone do not tell:
        stretching film density and paper scale alike leaves them unchanged.
    """

    log_exposure: FloatArray
    density: FloatArray
    known: bool

    def __post_init__(self) -> None:
        for name in ("log_exposure", "density"):
            object.__setattr__(self, name, frozen(getattr(self, name), name))
        if len(self.density) < 3 or len(self.density) != len(self.log_exposure):
            raise InvalidValueError("needs three or more points", where="curve")
        rises = (np.diff(self.log_exposure) > 0).all() and self._rising()
        if not rises:
            raise InvalidValueError("must rise", where="characteristic curve")

    def _rising(self) -> bool:
        density = self.density
        return bool((np.diff(density) >= 0).all() and density[-1] > density[0])

    @property
    def d_min(self) -> float:
        """Lowest density of the curve. [D]."""
        return float(self.density[0])

    @property
    def d_max(self) -> float:
        """Highest density of the curve. [D]."""
        return float(self.density[-1])

    @property
    def mid_slope(self) -> float:
        """Slope at mid-tone, half way between the ends in density. [D per axis]."""
        middle, half = (self.d_min + self.d_max) / 2, (self.d_max - self.d_min) / 20
        low, high = self.position(np.array([middle - half, middle + half]))
        return float(2 * half / (high - low))

    def position(self, density: npt.ArrayLike) -> FloatArray:
        """Return where on the axis each density lies; the nearer end if beyond."""
        keep = np.append(True, np.diff(self.density) > 0)
        value = np.asarray(density, dtype=np.float64)
        return np.asarray(np.interp(value, self.density[keep], self.log_exposure[keep]))

    def at(self, position: npt.ArrayLike) -> FloatArray:
        """Return the density at each place of the axis. [D]."""
        place = np.asarray(position, dtype=np.float64)
        return np.asarray(np.interp(place, self.log_exposure, self.density))


def assumed_curve(
    d_min: float, d_max: float, *, exposure_scale: float | None = None
) -> StripCurve:
    """Stand in for the characteristic curve where film density is not known.

    Parameters
    ----------
    d_min, d_max : float
        Ends of the print's density. [D]
    exposure_scale : float, optional
        Of the process: log exposure from d_min + 0.04 to nine tenths of d_max. With
        it the axis is log exposure; without it a unit of its own.

    Returns
    -------
    StripCurve
        A logistic between the ends, the plainest curve of this kind.

    Notes
    -----
    The points of the scale are those of ISO 6846 for the range of papers, as given in
    the Focal Encyclopedia of Photography (2007), p. 679.
    """
    if not d_max > d_min + 0.1:
        raise InvalidValueError(
            f"D {d_min:.2f} to {d_max:.2f} is no range of print densities",
            where="characteristic curve",
        )
    span = d_max - d_min
    axis = np.linspace(-9.0, 9.0, 721)
    density = d_min + span / (1 + np.exp(-axis))
    if exposure_scale is not None:
        if not 0.3 <= exposure_scale <= 4:
            raise InvalidValueError(
                f"{exposure_scale:g} is not within 0.3..4",
                where="exposure scale",
                fix="Give it in log units, as `negcurve tablet` prints it.",
            )
        ends = np.interp([d_min + 0.04, 0.9 * d_max], density, axis)
        axis = axis * exposure_scale / float(ends[1] - ends[0])
    return StripCurve(
        log_exposure=axis, density=density, known=exposure_scale is not None
    )


def curve_from_film(
    printing_density: npt.ArrayLike, density: npt.ArrayLike
) -> StripCurve:
    """Return the characteristic curve where the film's printing density is known.

    Parameters
    ----------
    printing_density : array, shape (n,)
        Of the film at some levels, in any order. [D]
    density : array, shape (n,)
        Of the print at the same levels. [D]

    Returns
    -------
    StripCurve
        Log exposure is relative to that behind clear film, as log H falls by the
        density that the light goes through.
    """
    film = frozen(printing_density, "printing_density")
    order = np.argsort(-film, kind="stable")
    axis, first = np.unique(-film[order], return_index=True)
    print_density = np.maximum.accumulate(frozen(density, "density")[order][first])
    return StripCurve(log_exposure=axis, density=print_density, known=True)


@dataclass(frozen=True, eq=False, kw_only=True)
class Deviation:
    """How one strip differs from what the solution says it should print.

    Attributes
    ----------
    parts : array, shape (4,)
        Exposure as the density it adds at mid-tone [D], contrast as relative change
        of the scale's steepness [1], D-max [D], white [D]. NaN: not shown.
    covariance : array, shape (4, 4)
        Of the four, from the scatter of the patches.
    watched : array, shape (4,)
        For the control charts: exposure and contrast with the ends held, which
        scatter less; D-max and white as in `parts`.
    noise : float
        Standard deviation of one patch about the fit. [D]
    readings : int
        Patches used.
    mid_slope : float or None
        Density per log exposure at mid-tone, None where log exposure is not known.
    misfit : float
        `noise` over what was expected of a patch; above 3 the strip fits no change
        of these four kinds.
    """

    parts: FloatArray
    covariance: FloatArray
    watched: FloatArray
    noise: float
    readings: int
    mid_slope: float | None = None
    misfit: float = 1.0

    @property
    def log_exposure(self) -> float | None:
        """The exposure part in log10 exposure, where that is known."""
        return self.parts[0] / self.mid_slope if self.mid_slope else None


def split_deviation(
    expected: npt.ArrayLike,
    measured: npt.ArrayLike,
    curve: StripCurve,
    *,
    patch_error: float = 0.02,
) -> Deviation:
    """Split what a strip deviates by into exposure, contrast, D-max and white.

    Parameters
    ----------
    expected : array, shape (n,)
        Density that the solution gives for each patch. [D]
    measured : array, shape (n,)
        [D]
    curve : StripCurve
        How the print answers to exposure.
    patch_error : float
        Expected standard deviation of one patch. [D]

    Returns
    -------
    Deviation

    Raises
    ------
    InvalidValueError
        With fewer than 4 patches.

    Notes
    -----
    Model: D = P(m + (1 + b)(x - m) + d) with the ends moved, P the characteristic
    curve, x the place of the patch on its axis, m mid-tone; least squares by
    Gauss-Newton, held weakly so that a strip without black or white still gives the
    rest.
    """
    wanted, given = frozen(expected, "expected"), frozen(measured, "measured")
    if len(wanted) < 4 or len(wanted) != len(given):
        raise InvalidValueError(
            f"{len(given)} patches are too few to tell what changed",
            where="strip",
            fix="Read four or more patches, from light to dark.",
        )
    model = _Model(curve, wanted)
    free, jacobian = _fit(model, given, patch_error, _PRIOR)
    rest = given - model.density(free)
    spare = max(len(given) - 4, 1)
    noise = float(np.sqrt((rest**2).sum() / spare))
    scatter = float(
        np.sqrt(((rest**2).sum() + 4 * patch_error**2) / (len(given) - 4 + 4))
    )
    covariance = _covariance(jacobian, scatter, _PRIOR)
    held, _ = _fit(model, given, patch_error, np.array([0.5, 0.5, 1e-4, 1e-4]))
    error = np.sqrt(np.diag(covariance))
    parts = np.where(error <= _SEEN, free, np.nan)
    watched = np.append(np.where(np.isnan(parts[:2]), np.nan, held[:2]), parts[2:])
    return Deviation(
        parts=parts,
        covariance=covariance,
        watched=watched,
        noise=noise,
        readings=len(given),
        mid_slope=curve.mid_slope if curve.known else None,
        misfit=noise / patch_error,
    )


class _Model:
    """Density of each patch after a change of the four parts."""

    def __init__(self, curve: StripCurve, expected: FloatArray) -> None:
        self.curve = curve
        self.place = curve.position(expected)
        self.middle = float(curve.position((curve.d_min + curve.d_max) / 2))
        self.slope = curve.mid_slope
        # What the curve does not reach stays as it is.
        self.beyond = expected - curve.at(self.place)

    def density(self, parts: FloatArray) -> FloatArray:
        exposure, contrast, d_max, white = parts
        place = (
            self.middle
            + (1 + contrast) * (self.place - self.middle)
            + exposure / self.slope
        )
        base = self.curve.at(place)
        share = (base - self.curve.d_min) / (self.curve.d_max - self.curve.d_min)
        return np.asarray(base + self.beyond + d_max * share + white * (1 - share))

    def jacobian(self, parts: FloatArray) -> FloatArray:
        """Return the central differences, shape (n, 4)."""
        columns = []
        for place in range(4):
            step = np.zeros(4)
            step[place] = _STEP[place]
            change = self.density(parts + step) - self.density(parts - step)
            columns.append(change / (2 * _STEP[place]))
        return np.stack(columns, axis=1)


def _fit(
    model: _Model, given: FloatArray, error: float, prior: FloatArray
) -> tuple[FloatArray, FloatArray]:
    parts = np.zeros(4)
    for _ in range(8):
        jacobian = model.jacobian(parts)
        rest = given - model.density(parts)
        left = jacobian.T @ jacobian / error**2 + np.diag(prior**-2.0)
        right = jacobian.T @ rest / error**2 - parts / prior**2
        step = np.linalg.solve(left, right)
        parts = np.clip(parts + np.clip(step, -0.2, 0.2), -0.8, 0.8)
        if np.abs(step).max() < 1e-7:
            break
    return parts, model.jacobian(parts)


def _covariance(jacobian: FloatArray, error: float, prior: FloatArray) -> FloatArray:
    left = jacobian.T @ jacobian / error**2 + np.diag(prior**-2.0)
    return np.asarray(np.linalg.inv(left))
