"""Fit an outer and an inner monotone curve at once, with the errors of both.

The most probable curves under each order of penalty, stiffness estimated on the way;
the answer is their mean, weighted by evidence. What the curves mean is left to others.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from negcurve.curves.composed_climb import ComposedMode, climb_composed
from negcurve.curves.composed_model import INNER, OUTER, Composed, inner_basis
from negcurve.curves.model import Effect
from negcurve.values import FloatArray, frozen

ORDERS = ((1, 1), (1, 2), (2, 1), (2, 2))
"""Differences of the log slopes that are penalised, outer and inner."""

MARGIN = 0.35
"""Log exposure beyond the readings, either way, that the outer curve is carried to."""


@dataclass(frozen=True, eq=False, kw_only=True)
class ComposedFit:
    """Outer and inner curve with their errors.

    Attributes
    ----------
    task : Composed
    noise : float
        Standard deviation of a plain reading. [D]
    weights : array, shape (n,)
        Trust in each reading, 0..1.
    coefficients, coefficient_errors : dict of str to array, shape (q,)
        Of each effect.
    """

    task: Composed
    noise: float
    weights: FloatArray
    coefficients: dict[str, FloatArray]
    coefficient_errors: dict[str, FloatArray]
    modes: tuple[ComposedMode, ...]

    def inner(self, abscissa: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return the inner curve and its standard error, 0 at 1, shape (m,)."""
        basis = inner_basis(np.asarray(abscissa, dtype=np.float64))
        found = []
        for mode in self.modes:
            parts = basis * np.exp(mode.theta[INNER])
            by = np.zeros((len(basis), self.task.count))
            by[:, INNER] = parts
            found.append((parts.sum(axis=1), by))
        return self._blend(found)

    def outer(self, log_exposure: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return the outer curve and its standard error, shape (m,)."""
        x = np.asarray(log_exposure, dtype=np.float64)
        return self._blend([self._at(mode, x, None) for mode in self.modes])

    def composed(
        self, abscissa: npt.ArrayLike, *, shift: float = 0.0
    ) -> tuple[FloatArray, FloatArray]:
        """Return the value at each abscissa with so much more log exposure.

        The errors of the two curves are taken together: what was read was their
        composition, so without a shift it is known far better than either.
        """
        basis = inner_basis(np.asarray(abscissa, dtype=np.float64))
        x = np.full(len(basis), float(shift))
        return self._blend([self._at(mode, x, basis) for mode in self.modes])

    @property
    def floor(self) -> tuple[float, float]:
        """Lower end of the outer curve, and its standard error."""
        by = np.zeros((1, self.task.count))
        by[0, 0] = 1.0
        value, error = self._blend([(mode.theta[:1], by) for mode in self.modes])
        return float(value[0]), float(error[0])

    def _at(
        self, mode: ComposedMode, x: FloatArray, basis: FloatArray | None
    ) -> tuple[FloatArray, FloatArray]:
        parts = np.zeros((len(x), INNER.stop - INNER.start))
        if basis is not None:
            parts = basis * np.exp(mode.theta[INNER])
        outer = self.task.outer(mode.theta, x - parts.sum(axis=1))
        by = np.zeros((len(x), self.task.count))
        by[:, :3] = outer.by_ends
        by[:, OUTER] = outer.by_slopes
        by[:, INNER] = -outer.slope[:, None] * parts
        return outer.value, by

    def _blend(
        self, found: Sequence[tuple[FloatArray, FloatArray]]
    ) -> tuple[FloatArray, FloatArray]:
        """Mean over the modes; their disagreement widens the error."""
        shares = np.array([mode.share for mode in self.modes])
        values = np.stack([value for value, _ in found])
        mean = shares @ values
        own = np.stack(
            [
                ((by @ mode.covariance) * by).sum(axis=1)
                for (_, by), mode in zip(found, self.modes, strict=True)
            ]
        )
        return mean, np.sqrt(np.maximum(shares @ (own + (values - mean) ** 2), 0))


def fit_composed(
    value: npt.ArrayLike,
    *,
    known: npt.ArrayLike,
    inner: npt.ArrayLike | None = None,
    effects: Sequence[Effect] = (),
    relative_error: npt.ArrayLike | None = None,
) -> ComposedFit:
    """Fit the two curves to readings, some of which may be strays.

    Parameters
    ----------
    value : array, shape (n,)
        Print density. [D]
    known : array, shape (n,)
        Part of the log exposure that is known. [log10]
    inner : array, shape (n,), optional
        Abscissa of the inner curve, 0..1, for readings whose log exposure is `known`
        less that curve; NaN where it takes no part. The inner curve falls to 0 at 1.
    effects : sequence of Effect
        Fitted with the curves; scales `exposure` (added to log exposure), `height`,
        `plain`. Sizes are estimated from `typical` on, unless `fixed`.
    relative_error : array, shape (n,), optional
        Standard deviation of each reading over that of a plain one.

    Returns
    -------
    ComposedFit

    Notes
    -----
    Gauss-Newton on the penalised squares; stiffness by Fellner-Schall updates, Wood and
    Fasiolo, Biometrics 73 (2017), equation (3); evidence by Laplace's method.
    """
    y, x = frozen(value, "value"), frozen(known, "known")
    abscissa = np.full(len(y), np.nan) if inner is None else np.asarray(inner, float)
    given = np.ones(len(y)) if relative_error is None else relative_error
    task = _task(y, x, abscissa, frozen(given, "relative_error"), tuple(effects))
    start = _start(task)
    orders = ORDERS if inner is not None else ORDERS[::3]
    modes: list[ComposedMode] = []
    for each in orders:
        modes.append(climb_composed(task, each, start))
        start = modes[0].theta
    best = max(mode.evidence for mode in modes)
    raw = np.array([np.exp(mode.evidence - best) for mode in modes])
    shares = raw / raw.sum()
    kept = tuple(
        ComposedMode(**{**vars(mode), "share": float(share)})
        for mode, share in zip(modes, shares, strict=True)
    )
    return _finished(task, kept)


def _finished(task: Composed, modes: tuple[ComposedMode, ...]) -> ComposedFit:
    shares = np.array([mode.share for mode in modes])
    theta = shares @ np.stack([mode.theta for mode in modes])
    spread = shares @ np.stack(
        [np.diag(mode.covariance) + (mode.theta - theta) ** 2 for mode in modes]
    )
    return ComposedFit(
        task=task,
        noise=float(shares @ [mode.noise for mode in modes]),
        weights=shares @ np.stack([mode.weights for mode in modes]),
        coefficients={each.name: theta[block] for each, block in task.blocks()},
        coefficient_errors={
            each.name: np.sqrt(spread[block]) for each, block in task.blocks()
        },
        modes=modes,
    )


def _task(
    y: FloatArray,
    x: FloatArray,
    abscissa: FloatArray,
    relative_error: FloatArray,
    effects: tuple[Effect, ...],
) -> Composed:
    """Find the rough ends and middle; the readings without inner part say where."""
    outside = np.isnan(abscissa)
    few = 2 * max(1, len(y) // 20) + 1
    ranked = np.sort(y)
    low, high = float(np.median(ranked[:few])), float(np.median(ranked[-few:]))
    span = max(high - low, 1e-3)
    order = np.argsort(x[outside])
    rising = np.maximum.accumulate(y[outside][order])
    anchor = float(np.interp(low + span / 2, rising, x[outside][order]))
    return Composed(
        value=y,
        known=x,
        inner=abscissa,
        relative_error=relative_error,
        effects=effects,
        domain=(float(x.min()) - MARGIN, float(x.max()) + MARGIN),
        anchor=anchor,
        low=low,
        span=1.02 * span,
    )


def _start(task: Composed) -> FloatArray:
    """Begin at the mean; the inner slope so that half the density comes out right."""
    theta = task.mean()
    inside = np.isfinite(task.inner)
    if not inside.any():
        return theta
    order = np.argsort(task.inner[inside])
    rising = np.maximum.accumulate(task.value[inside][order])
    half = float(np.interp(task.low + task.span / 2, rising, task.inner[inside][order]))
    slope = -task.anchor / max(1 - half, 0.05)
    theta[INNER] = np.log(np.clip(slope, 0.3, 8))
    return theta
