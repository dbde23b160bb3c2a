"""From the light that a scan seems to see to density, by the steps of a wedge.

A scanner adds flare and has a gain, so density is a shifted logarithm of light less an
offset; a contrast curve adds a power and a smooth departure. How much of this is
needed is chosen by how well steps that were left out are foretold.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.optimize import minimize_scalar

from negcurve.density import reflectance_from_density
from negcurve.values import FloatArray

VALUE_ERROR = 0.007
"""Standard deviation of a wedge's stated densities: two digits, and a print that
differs from cell to cell. Common practice, no source. [D]"""

LEAST_REFLECTANCE = 1e-4
"""Nothing is read darker: D 4. [1]"""

STIFFNESS = np.geomspace(1e-4, 1e1, 11)
"""Weights of the bend of a smooth departure against its misfit, for abscissas in D."""

NO_MATTER = 1e-3
"""A mean square misfit, against the errors expected, that no fit is bent for. Ours."""

SPARE = 2
"""So many more steps than free numbers a fit needs."""

FLATTEST = 0.02
"""A curve must rise by this share of its mean slope everywhere. [1]"""


@dataclass(frozen=True, eq=False, kw_only=True)
class Steps:
    """What one channel sees of the steps, lightest first, shape (n,) each.

    Attributes
    ----------
    light : array
        Seen, falling. [1]
    light_error : array
        Its standard error.
    density : array
        Known, rising. [D]
    """

    light: FloatArray
    light_error: FloatArray
    density: FloatArray


@dataclass(frozen=True, eq=False, kw_only=True)
class StepFit:
    """Density from light: D = level - power log10(light - offset) + departure.

    Attributes
    ----------
    offset, power, level : float
    knots, departure : array, shape (m,)
        A natural cubic through points of first density and what is added there. It
        goes on straight beyond its light end, as natural cubics do; at the dark end,
        where noise and flare turn it most, the last value holds. Empty where nothing
        is added.
    left_out : array, shape (n,)
        Known density less what the other steps foretell. [D]
    freedom : float
        How many free numbers the fit amounts to.
    """

    offset: float
    power: float
    level: float
    knots: FloatArray
    departure: FloatArray
    left_out: FloatArray
    freedom: float

    @property
    def straight(self) -> bool:
        """Whether gain and flare explain the steps."""
        return self.power == 1.0 and not len(self.knots)

    def density(self, light: FloatArray) -> FloatArray:
        """Return the density of light, any shape, in D."""
        # Light at or below the offset is darker than anything that can be told.
        least = 10.0 ** ((self.level - 4.5) / self.power)
        rough = self.level - self.power * np.log10(
            np.maximum(np.asarray(light) - self.offset, least)
        )
        if not len(self.knots):
            return np.asarray(rough)
        within = np.clip(rough, self.knots[0], self.knots[-1])
        spline = _natural(self.knots, self.departure)
        lighter = np.minimum(rough - self.knots[0], 0.0)
        slope = float(spline(self.knots[0], 1))
        return np.asarray(rough + spline(within) + slope * lighter)

    def reflectance(self, light: FloatArray) -> FloatArray:
        """Return the reflectance of light, any shape."""
        found = reflectance_from_density(self.density(light))
        return np.maximum(found, LEAST_REFLECTANCE)


def fit_steps(steps: Steps, *, bent: bool = True) -> StepFit:
    """Fit the steps of a wedge, as simply as foretelling them allows.

    Parameters
    ----------
    steps : Steps
        Five at least.
    bent : bool
        Allow more than gain and flare.

    Returns
    -------
    StepFit

    Notes
    -----
    Each step is foretold by the others (leave-one-out, from the leverages of the fit,
    linear about its solution). Of all fits the one with the fewest free numbers is
    taken whose foretelling is within one standard error of the best: Hastie,
    Tibshirani, Friedman, The Elements of Statistical Learning, 2009, section 7.10
    (from memory).
    """
    fits = sorted(_fits(steps, bent=bent), key=lambda fit: fit.freedom)
    return best_fit(steps, fits)


def best_fit(steps: Steps, fits: Sequence[StepFit]) -> StepFit:
    """Return the simplest fit that foretells the steps about as well as the best.

    Parameters
    ----------
    steps : Steps
        Any with the densities and errors of those fitted.
    fits : sequence of StepFit
        The simplest first.

    Returns
    -------
    StepFit
    """
    misfit = [(fit.left_out / _errors(steps)) ** 2 for fit in fits]
    best = misfit[int(np.argmin([each.mean() for each in misfit]))]
    for fit, each in zip(fits, misfit, strict=True):
        more = each - best
        if more.mean() <= max(more.std() / np.sqrt(len(more)), NO_MATTER):
            return fit
    raise AssertionError  # the best is no worse than itself


def foretold_error(fit: StepFit, steps: Steps) -> float:
    """Root mean square of what is left out, each by what it may be off by, in D.

    Weighted so that steps in which a code or the noise is coarse count less.
    """
    weight = _errors(steps) ** -2.0
    return float(np.sqrt(np.average(fit.left_out**2, weights=weight)))


def _errors(steps: Steps) -> FloatArray:
    """Return what the densities may be off by, from wedge and reading, in D."""
    seen = steps.light_error / np.maximum(steps.light, 1e-4) / np.log(10)
    return np.asarray(np.hypot(VALUE_ERROR, seen))


def _fits(steps: Steps, *, bent: bool) -> Iterator[StepFit]:
    count = len(steps.light)
    for flare, power in ((False, False), (True, False), (False, True), (True, True)):
        if power and not bent:
            continue
        if 1 + flare + power > count - SPARE:
            continue
        line = _line(steps, flare=flare, power=power)
        yield line.plain()
        if not bent:
            continue
        for stiffness in STIFFNESS:
            fit = line.bent(stiffness)
            if fit.freedom <= count - SPARE and _rises(fit):
                yield fit


def _rises(fit: StepFit) -> bool:
    """Tell whether density rises everywhere as light falls."""
    rough = np.linspace(fit.knots[0], fit.knots[-1], 400)
    slope = 1 + _natural(fit.knots, fit.departure)(rough, 1)
    return bool(slope.min() > FLATTEST)


@dataclass(frozen=True, eq=False, kw_only=True)
class _Line:
    """A fit without departure, and its derivatives by its free numbers."""

    offset: float
    power: float
    level: float
    rough: FloatArray
    density: FloatArray
    error: FloatArray
    jacobian: FloatArray  # weighted

    @property
    def hat(self) -> FloatArray:
        """Weighted residuals taken up by the free numbers, shape (n, n)."""
        basis = np.linalg.qr(self.jacobian)[0]
        return np.asarray(basis @ basis.T)

    def plain(self) -> StepFit:
        none = np.empty(0)
        return self._fit(self.hat, none, none, np.zeros(len(self.rough)))

    def bent(self, stiffness: float) -> StepFit:
        order = np.argsort(self.rough)
        rest = self.density - self.rough
        smoother = np.empty((len(rest),) * 2)
        part = _smoother(self.rough[order], self.error[order], stiffness)
        smoother[np.ix_(order, order)] = part
        departure = smoother @ rest
        # In weighted residuals, like the hat of the line.
        scaled = smoother * (self.error[np.newaxis, :] / self.error[:, np.newaxis])
        hat = self.hat
        both = hat + scaled @ (np.eye(len(rest)) - hat)
        return self._fit(both, self.rough[order], departure[order], departure)

    def _fit(
        self,
        hat: FloatArray,
        knots: FloatArray,
        bent: FloatArray,
        departure: FloatArray,
    ) -> StepFit:
        rest = self.density - self.rough - departure
        leverage = np.minimum(np.diag(hat), 0.99)
        return StepFit(
            offset=self.offset,
            power=self.power,
            level=self.level,
            knots=knots,
            departure=bent,
            left_out=rest / (1 - leverage),
            freedom=float(np.trace(hat)),
        )


def _line(steps: Steps, *, flare: bool, power: bool) -> _Line:
    """Fit level, and offset and power where asked for."""
    error = _errors(steps)

    def solved(offset: float) -> tuple[float, float, float]:
        seen = -np.log10(steps.light - offset)
        slope = 1.0
        if power:
            slope = float(np.polyfit(seen, steps.density, 1, w=1 / error)[0])
            slope = max(slope, 0.05)
        rest = steps.density - slope * seen
        level = float(np.average(rest, weights=error**-2))
        return level, slope, float((((rest - level) / error) ** 2).sum())

    offset = 0.0
    if flare:
        least = float(steps.light.min())
        most = float(steps.light.max())
        # The offset is looked for in the logarithm of what it leaves of the least.
        found = minimize_scalar(
            lambda left: solved(least - 10.0**left)[2],
            bounds=(np.log10(0.03 * least), np.log10(least + 0.2 * most)),
            method="bounded",
            options={"xatol": 1e-6},
        )
        offset = least - 10.0 ** float(found.x)
    level, slope, _ = solved(offset)
    seen = -np.log10(steps.light - offset)
    columns = [np.ones(len(seen))]
    if power:
        columns.append(seen)
    if flare:
        columns.append(slope / (steps.light - offset))
    return _Line(
        offset=offset,
        power=slope,
        level=level,
        rough=level + slope * seen,
        density=steps.density,
        error=error,
        jacobian=np.column_stack(columns) / error[:, np.newaxis],
    )


def _natural(knots: FloatArray, values: FloatArray) -> CubicSpline:
    return CubicSpline(knots, values, bc_type="natural")


def _smoother(x: FloatArray, error: FloatArray, stiffness: float) -> FloatArray:
    """Matrix of the natural cubic smoothing spline, shape (n, n).

    Notes
    -----
    Source: Green and Silverman, Nonparametric Regression and Generalized Linear
    Models, 1994, section 2.3: (W + a K)^-1 W with K = Q R^-1 Q' (from memory).
    """
    h = np.diff(x)
    count = len(x)
    q = np.zeros((count, count - 2))
    r = np.zeros((count - 2, count - 2))
    for j in range(count - 2):
        q[j, j] = 1 / h[j]
        q[j + 1, j] = -1 / h[j] - 1 / h[j + 1]
        q[j + 2, j] = 1 / h[j + 1]
        r[j, j] = (h[j] + h[j + 1]) / 3
        if j + 1 < count - 2:
            r[j, j + 1] = r[j + 1, j] = h[j + 1] / 6
    bend = q @ np.linalg.solve(r, q.T)
    weight = np.diag((VALUE_ERROR / error) ** 2)
    return np.asarray(np.linalg.solve(weight + stiffness * bend, weight))
