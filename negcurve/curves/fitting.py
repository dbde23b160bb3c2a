"""A monotone curve through readings: averaged over how smooth it may be, with a band.

Each prior (order and stiffness of the penalty) gives a curve and its evidence; the
answer is their mean, weighted by evidence, so that corners stay where readings show
them and noise is smoothed where they do not. The mean of monotone curves is monotone.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy.optimize import isotonic_regression

from negcurve.curves.averaging import (
    NEGLIGIBLE,
    Answer,
    CurveFit,
    averaged,
    best_evidence,
)
from negcurve.curves.basis import COEFFICIENTS, spline_basis
from negcurve.curves.climbing import Mode, climb
from negcurve.curves.model import Effect, Prior, Task
from negcurve.values import FloatArray, frozen

STIFFNESS = {1: (0.5, 2.0, 8.0, 32.0, 128.0, 512.0), 2: (1e1, 1e2, 1e3, 1e4, 1e5, 1e6)}
"""By order: from a log slope that may double from knot to knot to one that hardly
bends over the whole abscissa. Even steps in the logarithm."""

PILOT = {1: 8.0, 2: 100.0}
"""By order: the stiffness to begin with."""

HOPELESS = 15.0
"""Log evidence below the best at which other stiffnesses are not worth a try."""

GROWTH_SPREAD = 0.8
"""Prior standard deviation of half the log of noise at the high over the low end."""


def fit_monotone(
    abscissa: npt.ArrayLike,
    value: npt.ArrayLike,
    *,
    effects: Sequence[Effect] = (),
    relative_error: npt.ArrayLike | None = None,
) -> CurveFit:
    """Fit a non-decreasing curve to readings, some of which may be strays.

    Parameters
    ----------
    abscissa : array, shape (n,)
        Any order, repeats allowed; at least two distinct.
    value : array, shape (n,)
        Densities: the weak prior of the noise is in their unit. [D]
    effects : sequence of Effect
        Fitted together with the curve.
    relative_error : array, shape (n,), optional
        Standard deviation of each reading over that of a plain one.

    Returns
    -------
    CurveFit

    Notes
    -----
    Penalised splines: Eilers and Marx (1996). Monotone by positive coefficients: Pya
    and Wood, Shape constrained additive models, Statistics and Computing 25 (2015).
    Average by evidence: Hoeting and others, Bayesian model averaging, Statistical
    Science 14 (1999).
    """
    x, y = frozen(abscissa, "abscissa"), frozen(value, "value")
    low, high = float(x.min()), float(x.max())
    given = np.ones(len(x)) if relative_error is None else relative_error
    task = Task(
        basis=spline_basis((x - low) / (high - low)),
        value=y,
        relative_error=frozen(given, "relative_error"),
        effects=tuple(effects),
    )
    rough = _rough(x, y)
    plain = _plain_pilot(task, rough)
    views = [
        _View(task=each, pilot=_pilot(each, rough, plain)) for each in _choices(task)
    ]
    views.sort(key=lambda view: -view.pilot.evidence)
    growth = _growing(task, views[0].pilot)
    answers: list[Answer] = []
    for view in views:
        grown = replace(view.task, relative_error=growth)
        answers += _answers(replace(view, task=grown), rough, best_evidence(answers))
    return averaged(answers, task, (low, high))


@dataclass(frozen=True, eq=False, kw_only=True)
class _View:
    """Which effects there are, and a first curve with them."""

    task: Task
    pilot: Mode


def _choices(task: Task) -> list[Task]:
    """With all effects, and without those that need not be there."""
    needed = tuple(each for each in task.effects if not each.optional)
    without = replace(task, effects=needed)
    return [task] if len(needed) == len(task.effects) else [without, task]


@dataclass(frozen=True, eq=False, kw_only=True)
class _Rough:
    """Where to begin: ends of the readings and an S through them."""

    low: float
    span: float
    theta: FloatArray

    def prior(self, order: int, stiffness: float) -> Prior:
        return Prior(order=order, stiffness=stiffness, low=self.low, span=self.span)


def _rough(x: FloatArray, y: FloatArray) -> _Rough:
    """Take medians for the ends, and a line through the logits between them."""
    few = 2 * max(1, len(y) // 20) + 1
    ranked = np.sort(y)
    low, high = float(np.median(ranked[:few])), float(np.median(ranked[-few:]))
    order = np.argsort(x, kind="stable")
    padded = np.pad(y[order], 2, mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, 5)
    rising = isotonic_regression(np.median(windows, axis=1)).x
    position = (x[order] - x.min()) / np.ptp(x)
    span = max(high - low, 1e-3)
    share = np.clip((rising - low) / span, 0.01, 0.99)
    between = (share > 0.04) & (share < 0.96)
    slope, start = 30.0, -30.0 * float(np.interp(0.5, share, position))
    if between.sum() >= 2 and np.ptp(position[between]) > 0:
        logit = np.log(share / (1 - share))[between]
        slope, start = np.polyfit(position[between], logit, 1)
    slope = float(np.clip(slope, 2, 60))
    ends = [low, np.log(1.05 * span), start]
    theta = np.concatenate([ends, np.full(COEFFICIENTS, np.log(slope))])
    return _Rough(low=low, span=span, theta=theta)


def _plain_pilot(task: Task, rough: _Rough) -> Mode:
    """Find a curve without effects that no stray can pull."""
    plain = replace(task, effects=())
    prior = rough.prior(2, PILOT[2])
    pilot = climb(plain, prior, rough.theta, steps=12, resistant=True)
    return climb(plain, prior, pilot, steps=8)


def _pilot(task: Task, rough: _Rough, plain: Mode) -> Mode:
    """Find a first curve with effects, and their sizes."""
    if not task.effects:
        return plain
    tried = [
        climb(task, rough.prior(order, stiffness), plain, steps=16, resize=True)
        for order, stiffness in PILOT.items()
    ]
    return max(tried, key=lambda mode: mode.evidence)


def _growing(task: Task, pilot: Mode) -> FloatArray:
    """Let noise grow or shrink along the value as far as the residuals ask for it.

    Log standard deviation straight in value: maximum likelihood by Newton steps, with
    a prior that says it is probably even. Carroll and Ruppert, Transformation and
    Weighting in Regression (1988), section 3.3.
    """
    value = pilot.shape.value
    along = (value - value.min()) / max(float(np.ptp(value)), 1e-9) - 0.5
    off = pilot.residual / (pilot.noise * task.relative_error)
    squares = pilot.weights * off**2 / (1 - pilot.leverage)
    growth = 0.0
    for _ in range(8):
        left = squares * np.exp(-2 * growth * along)
        pull = along @ (left - pilot.weights) - growth / GROWTH_SPREAD**2
        bend = 2 * left @ along**2 + 1 / GROWTH_SPREAD**2
        growth += float(np.clip(pull / bend, -0.5, 0.5))
    return np.asarray(task.relative_error * np.exp(growth * along))


def _answers(view: _View, rough: _Rough, best: float) -> list[Answer]:
    """Climb under every prior that may have a say, from the middle outwards."""
    found: list[Answer] = []

    def tried(order: int, stiffness: float, start: Mode) -> Mode:
        nonlocal best
        mode = climb(view.task, rough.prior(order, stiffness), start)
        found.append(Answer(task=view.task, mode=mode))
        best = max(best, mode.evidence)
        return mode

    for order, values in STIFFNESS.items():
        middle = len(values) // 2 - 1
        centre = tried(order, values[middle], view.pilot)
        if centre.evidence < best - HOPELESS:
            continue
        for side in (values[middle + 1 :], values[:middle][::-1]):
            last = centre
            for stiffness in side:
                mode = tried(order, stiffness, last)
                if mode.evidence < best - NEGLIGIBLE:
                    break
                last = mode
    return found
