"""A monotone curve through readings: averaged over how smooth it may be, with a band.

Each prior (order and stiffness of the penalty) gives a curve and its evidence; the
answer is their mean, weighted by evidence, so that corners stay where readings show
them and noise is smoothed where they do not. The mean of monotone curves is monotone.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt
from scipy.optimize import isotonic_regression

from negcurve.curves.basis import COEFFICIENTS, NODES, even_basis, spline_basis
from negcurve.curves.blocks import factor, inverse_root, product
from negcurve.curves.climbing import Mode, climb
from negcurve.curves.model import CURVE, Effect, Prior, Shape, Task, blocks, curve
from negcurve.values import FloatArray, frozen

STIFFNESS = {1: (0.5, 2.0, 8.0, 32.0, 128.0, 512.0), 2: (1e1, 1e2, 1e3, 1e4, 1e5, 1e6)}
"""By order: from a log slope that may double from knot to knot to one that hardly
bends over the whole abscissa. Even steps in the logarithm."""

PILOT = {1: 8.0, 2: 100.0}

NEGLIGIBLE = 5.0
"""Log evidence below the best at which a prior has no say: weight under 1/100."""

HOPELESS = 15.0
"""Log evidence below the best at which other stiffnesses are not worth a try."""

GROWTH_SPREAD = 0.8
"""Prior standard deviation of half the log of noise at the high over the low end."""


@dataclass(frozen=True, eq=False, kw_only=True)
class CurveFit:
    """A monotone curve with its band, and what else was found on the way.

    Attributes
    ----------
    abscissa : array, shape (NODES,)
        Even, from the lowest to the highest of the readings.
    value : array, shape (NODES,)
        Non-decreasing.
    error : array, shape (NODES,)
        Standard error; includes what smoothing may have bent.
    slope : array, shape (NODES,)
        Of the value against the abscissa.
    gain : array, shape (NODES,)
        Change of the value for one unit of an effect of scale "exposure".
    weights : array, shape (n,)
        Trust in each reading: 1 whole, 0 a stray.
    noise : array, shape (n,)
        Standard deviation of each reading.
    expected : array, shape (n,)
        What each reading should have been, effects included.
    used : float
        Number of parameters that the readings were spent on.
    halving : float
        Times as many readings as here that would halve the error.
    coefficients : dict of str to array, shape (q,)
        Of each effect.
    covariances : dict of str to array, shape (q, q)
        Of these.
    parts : dict of str to array, shape (n,)
        What each effect added to each reading.
    """

    abscissa: FloatArray
    value: FloatArray
    error: FloatArray
    slope: FloatArray
    gain: FloatArray
    weights: FloatArray
    noise: FloatArray
    expected: FloatArray
    used: float
    halving: float
    coefficients: dict[str, FloatArray]
    covariances: dict[str, FloatArray]
    parts: dict[str, FloatArray]

    def coefficient_errors(self, effect: str) -> FloatArray:
        """Return the standard errors of an effect's coefficients, shape (q,)."""
        return np.sqrt(np.diag(self.covariances[effect]))


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
    answers: list[_Answer] = []
    for view in views:
        grown = replace(view.task, relative_error=growth)
        answers += _answers(replace(view, task=grown), rough, _best(answers))
    return _averaged(_weighted(answers), task, (low, high))


@dataclass(frozen=True, eq=False, kw_only=True)
class _View:
    """Which effects there are, and a first curve with them."""

    task: Task
    pilot: Mode


@dataclass(frozen=True, eq=False, kw_only=True)
class _Answer:
    """A curve under one view and prior, and its share in the mean."""

    task: Task
    mode: Mode
    share: float = 0.0


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


def _answers(view: _View, rough: _Rough, best: float) -> list[_Answer]:
    """Climb under every prior that may have a say, from the middle outwards."""
    found: list[_Answer] = []

    def tried(order: int, stiffness: float, start: Mode) -> Mode:
        nonlocal best
        mode = climb(view.task, rough.prior(order, stiffness), start)
        found.append(_Answer(task=view.task, mode=mode))
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


def _best(answers: Sequence[_Answer]) -> float:
    return max((each.mode.evidence for each in answers), default=-np.inf)


def _weighted(answers: Sequence[_Answer]) -> list[_Answer]:
    """Keep what has a say; shares by evidence, summing to 1."""
    best = _best(answers)
    kept = [each for each in answers if each.mode.evidence > best - NEGLIGIBLE]
    raw = np.exp([each.mode.evidence - best for each in kept])
    return [
        replace(each, share=float(share))
        for each, share in zip(kept, raw / raw.sum(), strict=True)
    ]


def _averaged(
    answers: Sequence[_Answer], full: Task, ends: tuple[float, float]
) -> CurveFit:
    """Mean over the answers; their disagreement widens the band."""
    shares = np.array([each.share for each in answers])

    def mean(values: Iterable[FloatArray]) -> FloatArray:
        return np.asarray(shares @ np.stack(list(values)))

    shapes = [curve(each.mode.theta, even_basis()) for each in answers]
    value = mean(shape.value for shape in shapes)
    variance = mean(
        _variance(shape, each.mode) + (shape.value - value) ** 2
        for shape, each in zip(shapes, answers, strict=True)
    )
    theta = mean(_padded(full, each, each.mode.theta) for each in answers)
    covariance = _covariance(full, answers, theta)
    return CurveFit(
        abscissa=np.linspace(*ends, NODES),
        value=np.maximum.accumulate(value),
        error=np.sqrt(variance),
        slope=mean(shape.slope for shape in shapes) / (ends[1] - ends[0]),
        gain=mean(shape.gain for shape in shapes),
        weights=mean(each.mode.weights for each in answers),
        noise=mean(each.mode.noise * each.task.relative_error for each in answers),
        expected=full.value - mean(each.mode.residual for each in answers),
        used=float(shares @ [each.mode.leverage.sum() for each in answers]),
        halving=_halving(max(answers, key=lambda each: each.share).mode),
        coefficients=_by_effect(full, theta),
        covariances={
            effect.name: covariance[block, block]
            for effect, block in blocks(full.effects)
        },
        parts=_parts(full, answers),
    )


def _variance(shape: Shape, mode: Mode) -> FloatArray:
    block = mode.covariance[:CURVE, :CURVE]
    return np.asarray((product(shape.jacobian, block) * shape.jacobian).sum(axis=1))


def _halving(mode: Mode) -> float:
    """Find how many times the readings would halve the error, all else the same.

    The covariance is (H + P)^-1 with H from the readings; m times as many make it
    (m H + P)^-1. The precision of the prior does not grow with them.
    """
    shape = curve(mode.theta, even_basis())
    rows = shape.jacobian[:: NODES // 32]
    times = np.array([1.0, 2.0, 4.0, 8.0, 16.0, 32.0])
    errors = []
    for each in times:
        root = inverse_root(factor(each * mode.information + mode.precision))
        spread = product(rows, root[:, :CURVE].T)
        errors.append(float(np.sqrt((spread**2).sum(axis=1)).mean()))
    halved = np.log(errors[0] / 2)
    return float(np.exp(np.interp(-halved, -np.log(errors), np.log(times))))


def _covariance(full: Task, answers: Sequence[_Answer], mean: FloatArray) -> FloatArray:
    """Add up the covariance of parameters within the answers and between them."""
    total = np.zeros((len(mean), len(mean)))
    for each in answers:
        places = np.flatnonzero(_padded(full, each, np.ones(len(each.mode.theta))))
        total[np.ix_(places, places)] += each.share * each.mode.covariance
        off = _padded(full, each, each.mode.theta) - mean
        total += each.share * np.outer(off, off)
    return total


def _padded(full: Task, answer: _Answer, values: FloatArray) -> FloatArray:
    """Parameters with 0 for effects that an answer has not."""
    mine = _by_effect(answer.task, values)
    rest = [mine.get(each.name, np.zeros(each.count)) for each in full.effects]
    return np.concatenate([values[:CURVE], *rest])


def _by_effect(task: Task, theta: FloatArray) -> dict[str, FloatArray]:
    return {effect.name: theta[block] for effect, block in blocks(task.effects)}


def _parts(full: Task, answers: Sequence[_Answer]) -> dict[str, FloatArray]:
    """Give what each effect added: the prediction with it, less that without."""
    parts = {each.name: np.zeros(len(full.value)) for each in full.effects}
    for answer in answers:
        whole = answer.task.predicted(answer.mode.theta)[1]
        for effect, block in blocks(answer.task.effects):
            without = answer.mode.theta.copy()
            without[block] = 0
            added = whole - answer.task.predicted(without)[1]
            parts[effect.name] += answer.share * added
    return parts
