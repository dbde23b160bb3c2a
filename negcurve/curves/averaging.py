"""Averaging curves over the priors they were found under.

Each answer is weighted by its evidence; their disagreement widens the band.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from negcurve.curves.basis import NODES, even_basis
from negcurve.curves.blocks import factor, inverse_root, product
from negcurve.curves.climbing import Mode
from negcurve.curves.model import CURVE, Shape, Task, blocks, curve
from negcurve.values import FloatArray

NEGLIGIBLE = 5.0
"""Log evidence below the best at which a prior has no say: weight under 1/100."""


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


@dataclass(frozen=True, eq=False, kw_only=True)
class Answer:
    """A curve under one view and prior, and its share in the mean."""

    task: Task
    mode: Mode
    share: float = 0.0


def best_evidence(answers: Sequence[Answer]) -> float:
    """Return the highest evidence of any answer; minus infinity for none."""
    return max((each.mode.evidence for each in answers), default=-np.inf)


def _weighted(answers: Sequence[Answer]) -> list[Answer]:
    """Keep what has a say; shares by evidence, summing to 1."""
    best = best_evidence(answers)
    kept = [each for each in answers if each.mode.evidence > best - NEGLIGIBLE]
    raw = np.exp([each.mode.evidence - best for each in kept])
    return [
        replace(each, share=float(share))
        for each, share in zip(kept, raw / raw.sum(), strict=True)
    ]


def averaged(
    answers: Sequence[Answer], full: Task, ends: tuple[float, float]
) -> CurveFit:
    """Average the answers that have a say.

    Parameters
    ----------
    answers : sequence of Answer
    full : Task
        With all effects, also those that some answers do without.
    ends : (low, high)
        Of the abscissa.

    Returns
    -------
    CurveFit
    """
    answers = _weighted(answers)
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


def _covariance(full: Task, answers: Sequence[Answer], mean: FloatArray) -> FloatArray:
    """Add up the covariance of parameters within the answers and between them."""
    total = np.zeros((len(mean), len(mean)))
    for each in answers:
        places = np.flatnonzero(_padded(full, each, np.ones(len(each.mode.theta))))
        total[np.ix_(places, places)] += each.share * each.mode.covariance
        off = _padded(full, each, each.mode.theta) - mean
        total += each.share * np.outer(off, off)
    return total


def _padded(full: Task, answer: Answer, values: FloatArray) -> FloatArray:
    """Parameters with 0 for effects that an answer has not."""
    mine = _by_effect(answer.task, values)
    rest = [mine.get(each.name, np.zeros(each.count)) for each in full.effects]
    return np.concatenate([values[:CURVE], *rest])


def _by_effect(task: Task, theta: FloatArray) -> dict[str, FloatArray]:
    return {effect.name: theta[block] for effect, block in blocks(task.effects)}


def _parts(full: Task, answers: Sequence[Answer]) -> dict[str, FloatArray]:
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
