"""Least squares for the characteristic curve of a printed tablet.

Fits every shape of `negcurve.darkroom.curve_shapes` and weighs them; what the curve
then says is left to `negcurve.darkroom.characteristic`.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.optimize import least_squares

from negcurve.darkroom.characteristic import CharacteristicCurve
from negcurve.darkroom.curve_shapes import SHAPES, Shape
from negcurve.darkroom.shape_fit import ShapeFit
from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.values import FloatArray, frozen

FEWEST_STEPS = 6
SMALLEST_RANGE = 0.3
"""Density between lightest and darkest step below which no curve is fitted. [D]"""

USUAL_NOISE = 0.02
"""Repeat noise within a sheet that scales the loose limits below. [D]

Grade C, common practice, no source: a hand-coated process repeats to 0.02-0.04 D.
"""

LOOSE_D_MAX = (1.45, 0.5)
LOOSE_D_MIN = (0.07, 0.2)
"""Center and width of what paper shows, used so that a strip without black or without
white still has an answer, with a wide error; a strip that shows both hardly feels it.

Source: range of the process table, `negcurve.darkroom.processes` (grades B and C).
"""


def fit_curve(
    log_exposure: npt.ArrayLike,
    density: npt.ArrayLike,
    *,
    place: npt.ArrayLike | None = None,
    unexposed: float | None = None,
) -> CharacteristicCurve:
    """Fit the characteristic curve of a printed tablet.

    Parameters
    ----------
    log_exposure : array, shape (n,)
        Relative; minus the tablet's density. [log10]
    density : array, shape (n,)
        Print density, one value a step and strip. [D]
    place : array, shape (n,), optional
        Where each step lay along the strip, -0.5..0.5. Given for two strips that lie
        head to tail, a gradient of the lamp is fitted with the curve.
    unexposed : float, optional
        Density of coated, processed, unexposed paper. [D]

    Returns
    -------
    CharacteristicCurve

    Raises
    ------
    InvalidValueError
        If the arrays differ in length.
    ReadingsError
        If there are too few steps, or they hardly differ, or no curve fits.

    Notes
    -----
    Least squares with equal weights for each shape of `curve_shapes`. A shape's weight
    is its prior belief times the likelihood with the noise integrated out,
    misfit^(-(n - p) / 2). What the blend costs and how often its intervals hold is
    measured in `tests/benchmarks/tablet.py`.
    """
    x, y = frozen(log_exposure, "log_exposure"), frozen(density, "density")
    along = None if place is None else frozen(place, "place")
    for name, other in (("density", y), ("place", x if along is None else along)):
        if len(other) != len(x):
            raise InvalidValueError(
                f"has {len(other)} values for {len(x)} exposures", where=name
            )
    _check_strip(x, y)
    problem = _Problem(x=x, y=y, along=along, unexposed=unexposed)
    fits = [fit for shape in SHAPES if (fit := problem.fitted(shape)) is not None]
    if not fits:
        raise ReadingsError(
            "no characteristic curve fits these densities",
            where="strip",
            fix="Check that each density belongs to its step.",
        )
    return problem.blend(fits)


def _check_strip(x: FloatArray, y: FloatArray) -> None:
    steps = len(np.unique(x))
    if steps < FEWEST_STEPS:
        raise ReadingsError(
            f"{steps} steps are too few for a curve",
            where="strip",
            fix=f"Read at least {FEWEST_STEPS} steps, or give the step numbers that "
            "you see: --merged and --last.",
        )
    if np.ptp(y) < SMALLEST_RANGE:
        raise ReadingsError(
            f"the print densities differ by only {np.ptp(y):.2f}",
            where="strip",
            fix="Read a print that shows both light and dark steps.",
        )
    if np.corrcoef(x, y)[0, 1] < 0:
        raise ReadingsError(
            "the print gets darker towards the dense end of the tablet",
            where="strip",
            fix="Number the steps from the tablet's clear end, which prints darkest.",
        )


@dataclass(frozen=True, eq=False, kw_only=True)
class _Problem:
    """Readings and loose limits, as rows of one least-squares problem."""

    x: FloatArray
    y: FloatArray
    along: FloatArray | None
    unexposed: float | None

    @property
    def size(self) -> int:
        return 4 if self.along is None else 5

    def fitted(self, shape: Shape) -> ShapeFit | None:
        def rows(parameters: FloatArray) -> FloatArray:
            return self._rows(shape, parameters)

        def slopes_of(parameters: FloatArray) -> FloatArray:
            return self._slopes(shape, parameters)

        found = least_squares(
            rows,
            self._start(shape),
            jac=slopes_of,
            method="lm",
            max_nfev=200,
        )
        slopes = np.asarray(found.jac, dtype=np.float64)
        normal = slopes.T @ slopes
        if not np.isfinite(normal).all() or np.linalg.cond(normal) > 1e13:
            return None
        residual = self._rows(shape, found.x)[: len(self.y)]
        misfit = max(float(residual @ residual), len(self.y) * 1e-12)
        freedom = len(self.y) - self.size
        return ShapeFit(
            shape=shape,
            parameters=found.x,
            covariance=np.linalg.inv(normal) * misfit / freedom,
            misfit=misfit,
            weight=shape.belief,
        )

    def blend(self, fits: list[ShapeFit]) -> CharacteristicCurve:
        freedom = len(self.y) - self.size
        misfit = np.array([fit.misfit for fit in fits])
        belief = np.log([fit.weight for fit in fits])
        score = belief - freedom / 2 * np.log(misfit / misfit.min())
        weight = np.exp(score - score.max())
        weight /= weight.sum()
        kept = tuple(
            ShapeFit(**{**vars(fit), "weight": float(share)})
            for fit, share in zip(fits, weight, strict=True)
        )
        x = self.x
        if self.along is not None:
            gradient = sum(fit.weight * fit.parameters[4] for fit in kept)
            x = frozen(x + gradient * self.along, "log_exposure")
        fitted = sum(fit.weight * fit.density(x) for fit in kept)
        return CharacteristicCurve(
            fits=kept,
            log_exposure=x,
            density=self.y,
            residual=frozen(self.y - fitted, "residual"),
            noise=float(np.sqrt(weight @ misfit / freedom)),
        )

    def _start(self, shape: Shape) -> FloatArray:
        order = np.argsort(self.x)
        x, y = self.x[order], np.maximum.accumulate(self.y[order])
        low, high = (
            float(np.sort(self.y)[:2].mean()),
            float(np.sort(self.y)[-2:].mean()),
        )
        ends = [
            float(np.interp(low + share * (high - low), y, x)) for share in (0.2, 0.8)
        ]
        u = [shape.place(0.2), shape.place(0.8)]
        width = max(ends[1] - ends[0], 0.05) / (u[1] - u[0])
        middle = ends[0] - width * u[0]
        return np.array([low, high - low, middle, np.log(width), 0.0][: self.size])

    def _exposure(self, parameters: FloatArray) -> FloatArray:
        if self.along is None:
            return self.x
        return np.asarray(self.x + parameters[4] * self.along)

    def _rows(self, shape: Shape, parameters: FloatArray) -> FloatArray:
        low, span, middle, log_width = parameters[:4]
        u = (self._exposure(parameters) - middle) * np.exp(-np.clip(log_width, -9, 9))
        rows = [
            low + span * shape.share(u) - self.y,
            [(low + span - LOOSE_D_MAX[0]) * USUAL_NOISE / LOOSE_D_MAX[1]],
            [(low - LOOSE_D_MIN[0]) * USUAL_NOISE / LOOSE_D_MIN[1]],
        ]
        if self.unexposed is not None:
            rows.append([low - self.unexposed])
        return np.concatenate(rows)

    def _slopes(self, shape: Shape, parameters: FloatArray) -> FloatArray:
        span, middle = parameters[1:3]
        width = np.exp(np.clip(parameters[3], -9, 9))
        u = (self._exposure(parameters) - middle) / width
        by_x = span * shape.slope(u) / width
        slopes = np.zeros((len(self.y) + 2 + (self.unexposed is not None), self.size))
        slopes[: len(u), :4] = np.stack(
            [np.ones_like(u), shape.share(u), -by_x, -by_x * u * width], axis=1
        )
        if self.along is not None:
            slopes[: len(u), 4] = by_x * self.along
        slopes[len(u), :2] = USUAL_NOISE / LOOSE_D_MAX[1]
        slopes[len(u) + 1 :, 0] = 1.0
        slopes[len(u) + 1, 0] = USUAL_NOISE / LOOSE_D_MIN[1]
        return slopes
