"""Simulated strips for the tests of this room: a logistic paper and its noise."""

import numpy as np
from scipy.special import expit

D_MIN, RANGE, MIDDLE = 0.06, 1.40, -1.5


def width_for(scale: float) -> float:
    """Width whose exposure scale, D-min + 0.04 to 90 %, is `scale`."""
    share = 0.04 / RANGE
    return scale / (np.log(9) - np.log(share / (1 - share)))


def place(share: float, *, scale: float, middle: float = MIDDLE) -> float:
    """Log exposure at a share of the range."""
    return middle + width_for(scale) * float(np.log(share / (1 - share)))


def printed(
    x, *, scale: float = 1.8, middle: float = MIDDLE, noise: float = 0.0, seed=1
):
    """Print densities at log exposures x."""
    clean = D_MIN + RANGE * expit((np.asarray(x) - middle) / width_for(scale))
    return clean + np.random.default_rng(seed).normal(0.0, noise, np.shape(x))
