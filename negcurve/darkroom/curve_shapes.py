"""The shapes that a characteristic curve may have, from 0 to 1 on an axis of their own.

Each shape has no free parameter: where the curve lies, how wide and how high it is, is
fitted in `negcurve.darkroom.characteristic`.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from scipy.optimize import brentq
from scipy.special import expit, ndtr

from negcurve.values import FloatArray

Function = Callable[[FloatArray], FloatArray]

FAR = 60.0
"""Beyond this every shape has reached its end within double precision or nearly so."""


@dataclass(frozen=True, kw_only=True)
class Shape:
    """One way for print density to rise from its lowest to its highest.

    Attributes
    ----------
    name : str
    belief : float
        Prior weight among all shapes; these sum to 1.
    share, slope : function of array
        Share of the density range reached at u, 0..1, and its derivative.
    """

    name: str
    belief: float
    share: Function
    slope: Function

    def place(self, share: float) -> float:
        """Return u at which a share of the range, 0..1 exclusive, is reached."""
        return _place(self, share)


@lru_cache(maxsize=4096)
def _place(shape: Shape, share: float) -> float:
    def excess(u: float) -> float:
        return float(shape.share(np.array([u]))[0]) - share

    return float(brentq(excess, -FAR, FAR, xtol=1e-12))


def _power(base: Function, base_slope: Function, power: float) -> tuple[Function, ...]:
    def share(u: FloatArray) -> FloatArray:
        return np.asarray(base(u) ** power)

    def slope(u: FloatArray) -> FloatArray:
        low = np.maximum(base(u), 1e-300)
        return np.asarray(power * low ** (power - 1) * base_slope(u))

    return share, slope


def _logistic(u: FloatArray) -> FloatArray:
    return np.asarray(expit(u))


def _logistic_slope(u: FloatArray) -> FloatArray:
    return np.asarray(expit(u) * expit(-u))


def _normal(u: FloatArray) -> FloatArray:
    return np.asarray(ndtr(u))


def _normal_slope(u: FloatArray) -> FloatArray:
    return np.asarray(np.exp(-0.5 * u**2) / np.sqrt(2 * np.pi))


def _saturating(u: FloatArray) -> FloatArray:
    return np.asarray(-np.expm1(-np.exp(np.clip(u, -FAR, 5.0))))


def _saturating_slope(u: FloatArray) -> FloatArray:
    rate = np.exp(np.clip(u, -FAR, 5.0))
    return np.asarray(rate * np.exp(-rate))


def _turned(function: Function, *, share: bool) -> Function:
    """Swap the ends of a shape: 1 - F(-u), or its slope F'(-u)."""

    def turned(u: FloatArray) -> FloatArray:
        value = function(-u)
        return np.asarray(1.0 - value if share else value)

    return turned


def _straight(toe: float, shoulder: float) -> tuple[Function, Function]:
    """Straight from 0 to 1 on u = 0..1 with a soft corner at each end.

    Each corner is w ln(1 + exp(v / w)), the shoulder's laid over the toe's.
    """
    full = float(_corner(np.array([1.0]), shoulder)[0])

    def share(u: FloatArray) -> FloatArray:
        left = 1.0 - _corner(u, toe)
        return np.asarray(1.0 - _corner(left, shoulder) / full)

    def slope(u: FloatArray) -> FloatArray:
        left = 1.0 - _corner(u, toe)
        return np.asarray(expit(u / toe) * expit(left / shoulder) / full)

    return share, slope


def _corner(v: FloatArray, softness: float) -> FloatArray:
    return np.asarray(softness * np.logaddexp(0.0, v / softness))


BELIEF = 0.85
"""Prior weight of the logistic shape among all.

Our own choice, no source. At a noise of 0.02 D a 31-step strip can hardly tell the
logistic from a normal curve, yet the two differ by 0.2 in exposure scale; without a
preference the answer would wander between them. Most of the rest goes to curves with a
straight part, which readings can tell from it. `tests/benchmarks/tablet.py` measures
what the choice costs on several kinds of paper.
"""


def _shapes() -> tuple[Shape, ...]:
    normal = (_normal, _normal_slope)
    logistic = (_logistic, _logistic_slope)
    turned = (_turned(_saturating, share=True), _turned(_saturating_slope, share=False))
    pairs: list[tuple[str, float, tuple[Function, ...]]] = [
        ("logistic", BELIEF, logistic),
        ("normal", 0.02, normal),
        ("straight, soft ends", 0.02, _straight(0.15, 0.15)),
        ("straight", 0.05, _straight(0.10, 0.10)),
        ("straight, soft shoulder", 0.03, _straight(0.10, 0.15)),
        ("straight, soft toe", 0.01, _straight(0.15, 0.10)),
        ("straight, long shoulder", 0.006, _straight(0.06, 0.18)),
        ("straight, long toe", 0.002, _straight(0.18, 0.06)),
        ("straight, sharp ends", 0.002, _straight(0.06, 0.06)),
        ("normal, long toe", 0.001, _power(*normal, 2.0)),
        ("normal, short toe", 0.001, _power(*normal, 0.5)),
        ("logistic, long toe", 0.002, _power(*logistic, 2.0)),
        ("logistic, short toe", 0.002, _power(*logistic, 0.5)),
        ("saturating", 0.002, (_saturating, _saturating_slope)),
        ("saturating, turned", 0.002, turned),
    ]
    return tuple(
        Shape(name=name, belief=belief, share=pair[0], slope=pair[1])
        for name, belief, pair in pairs
    )


SHAPES = _shapes()
