"""Climb to the most probable outer and inner curve under one pair of orders.

Gauss-Newton steps on the penalised squares, with trust, noise, stiffness and sizes of
effects from the same iteration; the answer over all orders is `composed`.
"""

from dataclasses import dataclass

import numpy as np
from scipy.linalg import lapack

from negcurve.curves.climbing import (
    EFFECT_FLOOR,
    EFFECT_TRUST,
    NOISE_GUESS,
    NOISE_TRUST,
    trust_of,
)
from negcurve.curves.composed_model import Composed, penalties
from negcurve.values import FloatArray

STIFFNESS_START = 30.0
STIFFNESS_RANGE = (0.5, 300.0)
"""Between a log slope that may double from knot to knot and one that bends slowly.

Stiffer ones are never sure enough from a sheet's readings: with them the error near
clear film, where paper hides what film does, came out too small by half.
"""

STEPS = 40
SETTLED = 0.01
"""Move of the expected values, in noises, below which a climb has arrived."""

LARGEST_STEP = 1.0


@dataclass(frozen=True, eq=False, kw_only=True)
class ComposedMode:
    """The most probable parameters under one pair of orders."""

    theta: FloatArray
    covariance: FloatArray
    noise: float
    weights: FloatArray
    evidence: float
    share: float = 1.0


def climb_composed(
    task: Composed, orders: tuple[int, int], start: FloatArray
) -> ComposedMode:
    """Climb to the top under one pair of orders."""
    mean = task.mean()
    theta, stiffness = start.copy(), np.full(2, STIFFNESS_START)
    sizes = np.array([each.typical for each in task.effects])
    noise, weights = 0.05, np.ones(len(task.value))
    expected, jacobian = task.predicted(theta)
    for count in range(STEPS):
        prior = task.prior(orders, stiffness, sizes)
        trust = weights / (noise * task.relative_error) ** 2
        weighted = jacobian * trust[:, None]
        matrix = weighted.T @ jacobian + prior
        uphill = weighted.T @ (task.value - expected) - prior @ (theta - mean)
        factor = _factor(matrix)
        step = lapack.dpotrs(factor, uphill, lower=1)[0]
        step *= min(1.0, LARGEST_STEP / float(np.abs(step).max()))
        old = expected
        theta, expected, jacobian = _damped(task, theta, step, (mean, prior, trust))
        covariance = _inverse(factor)
        noise, weights = _reweighed(task, expected, jacobian, covariance, trust, noise)
        if count > 3:
            stiffness = _restiffened(theta, covariance, orders, stiffness)
            sizes = _resized(task, theta, covariance, sizes)
        moved = (expected - old) / (noise * task.relative_error)
        if count > 8 and float(np.sqrt(np.mean(moved**2))) < SETTLED:
            break
    prior = task.prior(orders, stiffness, sizes)
    return _arrived(task, prior, theta, noise, weights)


def _damped(
    task: Composed,
    theta: FloatArray,
    step: FloatArray,
    target: tuple[FloatArray, FloatArray, FloatArray],
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Halve a step until the penalised squares no longer grow."""
    mean, prior, trust = target

    def cost(place: FloatArray, expected: FloatArray) -> float:
        off = place - mean
        return float(trust @ (task.value - expected) ** 2 + off @ prior @ off)

    before = cost(theta, task.predicted(theta)[0])
    for _ in range(10):
        expected, jacobian = task.predicted(theta + step)
        if cost(theta + step, expected) <= before * (1 + 1e-9):
            break
        step = step / 2
    return theta + step, expected, jacobian


def _reweighed(
    task: Composed,
    expected: FloatArray,
    jacobian: FloatArray,
    covariance: FloatArray,
    trust: FloatArray,
    noise: float,
) -> tuple[float, FloatArray]:
    """Noise and trust from the residuals, as `climbing` has them."""
    leverage = np.clip(
        trust * ((jacobian @ covariance) * jacobian).sum(axis=1), 0, 0.95
    )
    off = (task.value - expected) / task.relative_error
    weights = trust_of(off / np.sqrt(1 - leverage) / noise)
    count = max(float(weights.sum() - leverage.sum()), 0.0)
    squares = NOISE_TRUST * NOISE_GUESS**2 + float(weights @ off**2)
    return float(np.sqrt(squares / (NOISE_TRUST + count))), weights


def _restiffened(
    theta: FloatArray,
    covariance: FloatArray,
    orders: tuple[int, int],
    stiffness: FloatArray,
) -> FloatArray:
    """Stiffness that the bends found ask for, within its range."""
    found = []
    for (block, penalty), order, old in zip(
        penalties(orders), orders, stiffness, strict=True
    ):
        rank = len(penalty) - order
        used = rank / old - float(np.trace(covariance[block, block] @ penalty))
        bend = float(theta[block] @ penalty @ theta[block])
        found.append(old * max(used, 1e-9) / max(bend, 1e-9))
    ratio = np.clip(np.array(found) / stiffness, 0.2, 5.0)
    return np.clip(stiffness * ratio, *STIFFNESS_RANGE)


def _resized(
    task: Composed, theta: FloatArray, covariance: FloatArray, sizes: FloatArray
) -> FloatArray:
    """Sizes of the effects' coefficients, with a weak prior, as `climbing` has them."""
    found = sizes.copy()
    for which, (effect, block) in enumerate(task.blocks()):
        if effect.fixed:
            continue
        left = float(np.trace(covariance[block, block])) / sizes[which] ** 2
        used = max(effect.count - left, 0.0)
        floor = EFFECT_TRUST * (EFFECT_FLOOR * effect.typical) ** 2
        squares = float(np.sum(theta[block] ** 2)) + floor
        found[which] = np.sqrt(squares / (used + EFFECT_TRUST))
    return found


def _arrived(
    task: Composed,
    prior: FloatArray,
    theta: FloatArray,
    noise: float,
    weights: FloatArray,
) -> ComposedMode:
    expected, jacobian = task.predicted(theta)
    scale = noise * task.relative_error
    matrix = (jacobian * (weights / scale**2)[:, None]).T @ jacobian + prior
    off, moved = (task.value - expected) / scale, theta - task.mean()
    plain = weights @ off**2 / 2 + np.log(scale).sum()
    factor = _factor(matrix)
    room = _half_log_det(_factor(prior)) - _half_log_det(factor)
    return ComposedMode(
        theta=theta,
        covariance=_inverse(factor),
        noise=noise,
        weights=weights,
        evidence=float(room - plain - moved @ prior @ moved / 2),
    )


def _factor(matrix: FloatArray) -> FloatArray:
    """Cholesky factor, lower; in one thread's reach, as these matrices are small."""
    factor, failed = lapack.dpotrf(matrix, lower=1)
    if failed:
        jitter = 1e-9 * np.trace(matrix) / len(matrix)
        factor, failed = lapack.dpotrf(matrix + jitter * np.eye(len(matrix)), lower=1)
    return np.asarray(factor)


def _inverse(factor: FloatArray) -> FloatArray:
    half = lapack.dpotri(factor, lower=1)[0]
    whole = np.tril(half) + np.tril(half, -1).T
    return np.asarray(whole)


def _half_log_det(factor: FloatArray) -> float:
    return float(np.log(np.diag(factor)).sum())
