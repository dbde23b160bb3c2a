"""The healthy unevenness of sheets as a random field, and how well a mark stands out.

Knows tilt, slow fields, streaks and noise of one sheet or two under one lamp; which
marks are looked for, and what they mean, is left to `shapes` and `evenness`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy import linalg, optimize

from negcurve.values import FloatArray
from negcurve.watch.placed import PlacedSheet

LAMP_TILT, COAT_TILT, SLOW = 0.10, 0.05, 0.03
"""Usual size of healthy unevenness at mid-tone, middle to edge: tilt of light, tilt of
coating, curved part of either. Common practice, no source. [D]
"""

STREAK_SIZE = 0.02
"""Usual size of brush streaks, as the deviation of a half-normal distribution. Common
practice, no source. [D]
"""

STREAK_MM = (7.0, 22.0)
"""Breadths of brush streaks. Common practice, no source. [mm]"""


@dataclass(frozen=True, eq=False, kw_only=True)
class Scatter:
    """Standard deviations of what varies from reading to reading and line to line.

    Attributes
    ----------
    noise : float
        Of one reading. [D]
    along_x, along_y : float
        Of streaks that run along x, and along y, at mid-tone. [D]
    """

    noise: float
    along_x: float
    along_y: float


class FieldModel:
    """Covariance of all readings of one sheet or two, and fits under it."""

    def __init__(self, sheets: Sequence[PlacedSheet]) -> None:
        self.sheets = tuple(sheets)
        self.difference = np.concatenate([each.difference for each in sheets])
        self.sheet = np.repeat(np.arange(len(sheets)), [len(s.x_mm) for s in sheets])
        self.x = np.concatenate([each.x_mm for each in sheets])
        self.y = np.concatenate([each.y_mm for each in sheets])
        places = [each.in_lamp(each.x_mm, each.y_mm) for each in sheets]
        self.lamp_x = np.concatenate([each[0] for each in places])
        self.lamp_y = np.concatenate([each[1] for each in places])
        self.exposure = np.concatenate([each.exposure_weight for each in sheets])
        self.coating = np.concatenate([each.coating_weight for each in sheets])
        same = self.sheet[:, None] == self.sheet[None, :]
        coated = self.coating[:, None] * self.coating[None, :] * same
        self.smooth = self._smooth(coated)
        self.streak_x = coated * line_covariance(self.y, self.y)
        self.streak_y = coated * line_covariance(self.x, self.x)
        self.fixed = self._levels()

    def _levels(self) -> FloatArray:
        """Return what a whole sheet may be off by, (n, m): that is no unevenness.

        A constant; of a target's tones also more or less exposure, and coating.
        """
        columns = []
        for nth, each in enumerate(self.sheets):
            own = (self.sheet == nth).astype(np.float64)
            columns.append(own)
            if not each.even:
                columns += [own * self.exposure, own * self.coating]
        return np.stack(columns, axis=1)

    def _smooth(self, coated: FloatArray) -> FloatArray:
        lamp = self.lamp_terms(LAMP_TILT)
        coat = self.coat_terms()
        return np.asarray(lamp @ lamp.T + coated * (coat @ coat.T))

    def lamp_terms(self, tilt: float = LAMP_TILT) -> FloatArray:
        """Return the lamp's tilt and curvature, scaled to their usual size, (n, 5)."""
        return np.asarray(
            self.exposure[:, None] * _terms(self._unit(self.lamp_x, self.lamp_y), tilt)
        )

    def coat_terms(self) -> FloatArray:
        """Return the coating's tilt and curvature, scaled to their usual size."""
        return _terms(self._unit(self.x, self.y), COAT_TILT)

    def _unit(self, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
        width, height = self.sheets[0].width_mm, self.sheets[0].height_mm
        return 2 * x / width - 1, 2 * y / height - 1

    def covariance(self, scatter: Scatter) -> FloatArray:
        """Return the covariance of all readings, (n, n). [D^2]."""
        total = (
            self.smooth
            + scatter.along_x**2 * self.streak_x
            + scatter.along_y**2 * self.streak_y
        )
        return np.asarray(total + scatter.noise**2 * np.eye(len(self.difference)))

    def whitened(self, scatter: Scatter, fixed: FloatArray) -> "Whitened":
        """Prepare fits under one scatter, beside some fixed shapes, (n, m)."""
        return Whitened(self.covariance(scatter), fixed, self.difference)

    def estimate(
        self,
        fixed: FloatArray,
        *,
        mark: FloatArray | None = None,
        start: Scatter | None = None,
    ) -> tuple[Scatter, float]:
        """Find the likeliest scatter; return it and its log likelihood.

        With a `mark`, shape (n,), the likelihood is that of its best size.
        """

        def cost(logs: FloatArray) -> float:
            scatter = _scatter_of(logs)
            white = self.whitened(scatter, fixed)
            gained = 0.0
            if mark is not None:
                size, error = white.sizes(mark[:, None])
                gained = float(size[0] / error[0]) ** 2 / 2
            usual = (scatter.along_x**2 + scatter.along_y**2) / STREAK_SIZE**2 / 2
            return usual - white.likelihood - gained

        first = start or self._first_guess()
        found = optimize.minimize(
            cost,
            np.log([first.noise, first.along_x, first.along_y]),
            method="Nelder-Mead",
            options={"xatol": 0.1, "fatol": 0.1, "maxfev": 60},
        )
        return _scatter_of(found.x), -float(found.fun)

    def _first_guess(self) -> Scatter:
        noise = max(float(np.std(self.difference)) / 3, 2e-3)
        return Scatter(noise=noise, along_x=noise / 2, along_y=noise / 2)


def _scatter_of(logs: FloatArray) -> Scatter:
    noise, along_x, along_y = np.exp(np.clip(logs, np.log(5e-4), np.log(0.5)))
    return Scatter(noise=float(noise), along_x=float(along_x), along_y=float(along_y))


class Whitened:
    """Generalised least squares with one covariance, constants already fitted."""

    def __init__(
        self, covariance: FloatArray, fixed: FloatArray, difference: FloatArray
    ) -> None:
        self.root = linalg.cholesky(covariance, lower=True, check_finite=False)
        shapes = self.white(fixed)
        self.basis, upper = linalg.qr(shapes, mode="economic", check_finite=False)
        white = self.white(difference)
        self.fixed_size = linalg.solve_triangular(upper, self.basis.T @ white)
        self.rest = white - self.basis @ (self.basis.T @ white)
        self.likelihood = -float(
            np.log(np.diag(self.root)).sum()
            + np.log(np.abs(np.diag(upper))).sum()
            + 0.5 * self.rest @ self.rest
        )

    def white(self, values: FloatArray) -> FloatArray:
        """Return values with unit, uncorrelated errors."""
        return np.asarray(
            linalg.solve_triangular(self.root, values, lower=True, check_finite=False)
        )

    def sizes(self, shapes: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the size of each shape added alone and its standard error, (m,)."""
        white = self.white(shapes)
        white = white - self.basis @ (self.basis.T @ white)
        power = np.maximum((white**2).sum(axis=0), 1e-12)
        return white.T @ self.rest / power, power**-0.5

    def weighted_rest(self) -> FloatArray:
        """Return V^-1 times what the fixed shapes leave, (n,)."""
        return np.asarray(
            linalg.solve_triangular(
                self.root, self.rest, lower=True, trans="T", check_finite=False
            )
        )


def _terms(unit: tuple[FloatArray, FloatArray], tilt: float) -> FloatArray:
    u, v = unit
    return np.stack(
        [tilt * u, tilt * v, SLOW * u**2, SLOW * v**2, SLOW * u * v], axis=1
    )


def line_covariance(one_mm: FloatArray, other_mm: FloatArray) -> FloatArray:
    """Return the correlation of streaks at places across them, (n, m)."""
    gap = one_mm[:, None] - other_mm[None, :]
    return np.asarray(
        sum(np.exp(-((gap / each) ** 2) / 2) for each in STREAK_MM) / len(STREAK_MM)
    )
