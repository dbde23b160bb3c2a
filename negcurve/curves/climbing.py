"""Climb to the most probable curve under one prior, and weigh how probable it is.

Gauss-Newton steps on the penalised squares; stray readings by a mixture of a narrow
and a wide normal distribution, so that a reading is trusted as far as it is probably
not a stray; noise and the sizes of effects from the same iteration.
"""

from dataclasses import dataclass

import numpy as np
from scipy.linalg import lapack

from negcurve.curves.blocks import factor, gram, inverse_root, log_det, product
from negcurve.curves.model import CURVE, Effect, Prior, Shape, Task, blocks
from negcurve.values import FloatArray

STRAY_SHARE = 0.02
"""Share of strays expected beforehand: common practice, no source."""

STRAY_WIDTH = 12.0
"""Standard deviation of strays over that of the noise."""

NOISE_GUESS = 0.012
NOISE_TRUST = 3.0
"""The noise is believed to be near `NOISE_GUESS` [D] as if from so many readings."""

EFFECT_TRUST = 1.0
EFFECT_FLOOR = 0.5
"""The size of an effect is believed to be near this share of its typical size, as if
from so many coefficients: without it small sheets see no field at all."""

LARGEST_STEP = 2.0
"""Of any parameter; a step of log slope beyond is out of the straight range."""

SETTLED = 0.01
"""Move of the curve, in noises, below which a climb has arrived."""

LEAST_STEPS = 2


@dataclass(frozen=True, eq=False, kw_only=True)
class Mode:
    """The most probable parameters under one prior.

    Attributes
    ----------
    theta : array, shape (CURVE + q,)
        Parameters of the curve, then coefficients of the effects.
    covariance : array, shape (CURVE + q,) * 2
        Posterior covariance, which includes what the smoothing may have bent.
        Wahba (1983); Wood, Generalized Additive Models, 2nd ed. (2017), 6.10.
    information, precision : array, shape (CURVE + q,) * 2
        What the readings and what the prior add to the inverse of `covariance`.
    noise : float
        Standard deviation of a plain reading.
    weights : array, shape (n,)
        Trust in each reading, 0..1.
    leverage : array, shape (n,)
    residual : array, shape (n,)
    typical : array, shape (number of effects,)
        Standard deviation of the coefficients of each effect.
    evidence : float
        Log of the readings' probability, parameters integrated by Laplace's method.
    shape : Shape
    """

    theta: FloatArray
    covariance: FloatArray
    information: FloatArray
    precision: FloatArray
    noise: float
    weights: FloatArray
    leverage: FloatArray
    residual: FloatArray
    typical: FloatArray
    evidence: float
    shape: Shape


@dataclass(eq=False, kw_only=True)
class _Climber:
    """What changes from step to step."""

    task: Task
    prior: Prior
    theta: FloatArray
    noise: float
    weights: FloatArray
    typical: FloatArray
    resistant: bool

    def __post_init__(self) -> None:
        self.mean = np.zeros(len(self.theta))
        self.mean[:CURVE] = self.prior.mean()
        self.precision = np.zeros((len(self.theta),) * 2)
        self.precision[:CURVE, :CURVE] = self.prior.precision()
        self.take(self.theta, self.task.predicted(self.theta))
        self.spread_effects()

    def spread_effects(self) -> None:
        places = np.arange(CURVE, len(self.theta))
        sizes = np.repeat(self.typical, [e.count for e in self.task.effects])
        self.precision[places, places] = 1 / sizes**2

    def take(self, theta: FloatArray, seen: tuple[Shape, FloatArray]) -> None:
        self.theta = theta
        self.shape, self.expected = seen
        self.residual = self.task.value - self.expected
        self.jacobian = np.hstack([self.shape.jacobian, self.task.columns(self.shape)])

    def trust(self) -> FloatArray:
        return np.asarray(self.weights / (self.noise * self.task.relative_error) ** 2)

    def cost(self, theta: FloatArray, residual: FloatArray, trust: FloatArray) -> float:
        off = theta - self.mean
        return float(trust @ residual**2 + off @ self.precision @ off)

    def step(self) -> float:
        """Make one damped Gauss-Newton step; return how far it moved, in noises."""
        trust = self.trust()
        weighted = self.jacobian * trust[:, None]
        self.information = gram(weighted, self.jacobian)
        lower = factor(self.information + self.precision)
        uphill = weighted.T @ self.residual - self.precision @ (self.theta - self.mean)
        step = lapack.dpotrs(lower, uphill, lower=1)[0]
        size = float(np.abs(step).max())
        step *= min(1.0, LARGEST_STEP / size)
        before = self.cost(self.theta, self.residual, trust)
        self.root = inverse_root(lower)
        self.pull = (product(self.jacobian, self.root.T) ** 2).sum(axis=1)
        self.leverage = np.clip(trust * self.pull, 0, 0.95)
        old = self.expected
        for _ in range(8):
            seen = self.task.predicted(self.theta + step)
            residual = self.task.value - seen[1]
            if self.cost(self.theta + step, residual, trust) <= before * (1 + 1e-9):
                break
            step /= 2
        self.take(self.theta + step, seen)
        moved = (self.expected - old) / (self.noise * self.task.relative_error)
        return float(np.sqrt(np.mean(moved**2)))

    def reweigh(self) -> None:
        """Noise and trust from the residuals, each freed of its own pull.

        A reading is judged by a curve that does without it: its residual grows by
        1 / (1 - w h), and it may differ by the noise and by the error of that curve,
        h being the curve's variance over the noise's and w the trust so far. Where a
        curve is hardly known, as at a steep end, no reading is called stray. Cook and
        Weisberg, Residuals and Influence in Regression (1982), section 2.2.
        """
        off = self.residual / self.task.relative_error
        variance = self.pull / (self.noise * self.task.relative_error) ** 2
        rest = 1 - self.leverage
        freed = off / np.sqrt(rest * (rest + variance))
        if self.resistant:
            size = np.abs(freed)
            self.noise = max(float(np.median(size)) / 0.6745, 1e-3)
            self.weights = 1 / np.maximum(1, size / self.noise)
            return
        count = self.weights.sum() - self.leverage.sum()
        squares = NOISE_TRUST * NOISE_GUESS**2 + self.weights @ off**2
        self.noise = float(np.sqrt(squares / (NOISE_TRUST + max(count, 0.0))))
        self.weights = trust_of(freed / self.noise)

    def resize_effects(self) -> None:
        """Size of each effect's coefficients: Fellner-Schall, with a weak prior."""
        for which, (effect, block) in enumerate(blocks(self.task.effects)):
            if not effect.fixed:
                self.typical[which] = self._size(effect, block, self.typical[which])
        self.spread_effects()

    def _size(self, effect: Effect, block: slice, size: float) -> float:
        left = np.sum(self.root[:, block] ** 2) / size**2
        used = max(effect.count - left, 0.0)
        floor = EFFECT_TRUST * (EFFECT_FLOOR * effect.typical) ** 2
        squares = float(np.sum(self.theta[block] ** 2))
        return float(np.sqrt((squares + floor) / (used + EFFECT_TRUST)))

    def evidence(self) -> float:
        """Laplace: log likelihood and log prior at the top, and the room about it.

        Source: Wood and Fasiolo, A generalized Fellner-Schall method, Biometrics 73
        (2017), equation (2); strays enter through the mixture's likelihood.
        """
        off = self.residual / (self.noise * self.task.relative_error)
        narrow, wide = _mixture(off)
        likelihood = np.logaddexp(narrow, wide).sum()
        likelihood -= np.log(self.noise * self.task.relative_error).sum()
        ratio = NOISE_GUESS**2 / self.noise**2
        likelihood -= NOISE_TRUST * (np.log(self.noise) + ratio / 2)
        off_prior = self.theta - self.mean
        prior = -0.5 * off_prior @ self.precision @ off_prior
        room = 0.5 * (
            log_det(self.precision) - log_det(self.information + self.precision)
        )
        return float(likelihood + prior + room)


def climb(
    task: Task,
    prior: Prior,
    start: Mode | FloatArray,
    *,
    steps: int = 12,
    resistant: bool = False,
    resize: bool = False,
) -> Mode:
    """Return the most probable parameters under a prior.

    Parameters
    ----------
    task : Task
    prior : Prior
    start : Mode or array, shape (CURVE,)
        Where to begin; a `Mode` also gives noise, trust and sizes of effects.
    steps : int
        At most so many.
    resistant : bool
        Weights 1 / |residual| beyond one noise: slow to believe any one reading; for
        the first approach only. Huber, Robust Statistics (1981), section 7.8.
    resize : bool
        Estimate the sizes of effects on the way.

    Returns
    -------
    Mode
    """
    climber = _climber(task, prior, start, resistant=resistant)
    for count in range(steps):
        moved = climber.step()
        climber.reweigh()
        if resize and count > 1:
            climber.resize_effects()
        if count >= LEAST_STEPS and moved < SETTLED:
            break
    climber.step()
    return Mode(
        theta=climber.theta,
        covariance=gram(climber.root, climber.root),
        information=climber.information,
        precision=climber.precision,
        noise=climber.noise,
        weights=climber.weights,
        leverage=climber.leverage,
        residual=climber.residual,
        typical=climber.typical,
        evidence=climber.evidence(),
        shape=climber.shape,
    )


def _climber(
    task: Task, prior: Prior, start: Mode | FloatArray, *, resistant: bool
) -> _Climber:
    total = CURVE + sum(each.count for each in task.effects)
    begun = start.theta if isinstance(start, Mode) else start
    theta = np.zeros(total)
    theta[: len(begun)] = begun[:total]
    typical = np.array([each.typical for each in task.effects])
    noise, weights = 0.02, np.ones(len(task.value))
    if isinstance(start, Mode):
        noise, weights = start.noise, start.weights
        if len(start.typical) == len(typical):
            typical = start.typical.copy()
    return _Climber(
        task=task,
        prior=prior,
        theta=theta,
        noise=noise,
        weights=weights,
        typical=typical,
        resistant=resistant,
    )


def _mixture(off: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Log probability of residuals, in noise units, as plain and as stray readings."""
    narrow = np.log1p(-STRAY_SHARE) - off**2 / 2
    wide = np.log(STRAY_SHARE / STRAY_WIDTH) - (off / STRAY_WIDTH) ** 2 / 2
    return narrow, wide


def trust_of(off: FloatArray) -> FloatArray:
    """Trust in readings that are off by so many standard deviations of the noise."""
    narrow, wide = _mixture(off)
    plain = 1 / (1 + np.exp(np.clip(wide - narrow, -700, 700)))
    return np.asarray(plain + (1 - plain) / STRAY_WIDTH**2)
