"""How well a printed tablet gives exposure scale, time for black, printing density.

Strips are simulated here, not by the package: 31 steps of 0.10, D-min 0.06, range 1.40,
noise 0.02 D on every step. The bound is that of Cramer and Rao for the four parameters
of the curve that printed the strip, computed from its own slopes.

Run `python tests/benchmarks/tablet.py [--strips 1000]`. The promise holds for
logistic strips; the other lines show what other papers would get.
"""

import argparse
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq
from scipy.special import expit, ndtr, ndtri

from negcurve.darkroom.curve_fitting import fit_curve
from negcurve.darkroom.iso6846 import BLACK_POINT, WHITE_POINT
from negcurve.darkroom.matching import match_patches
from negcurve.darkroom.shape_fit import Point

STEPS, INCREMENT, NOISE = 31, 0.10, 0.02
D_MIN, RANGE, MIDDLE = 0.06, 1.40, -1.5
BLACK_SHARE = 0.98
SCALES = (1.2, 1.8, 2.2)
WORST_RATIO, COVERAGE = 1.3, (0.85, 0.95)
MATCH_RMS = 0.03


@dataclass(frozen=True)
class Paper:
    """A true curve: share of the range, and where it reaches a share."""

    name: str
    share: Callable
    place: Callable


def cornered(u: np.ndarray, toe: float = 0.10, shoulder: float = 0.14) -> np.ndarray:
    """Straight from 0 to 1 with a soft corner at each end."""
    rise = toe * np.logaddexp(0, u / toe)
    return np.clip(rise - shoulder * np.logaddexp(0, (u - 1) / shoulder), 0, 1)


def place_on(share: Callable) -> Callable:
    """Inverse of a share by bisection."""

    def place(p: float) -> float:
        return float(brentq(lambda u: float(share(np.float64(u))) - p, -30, 30))

    return place


PAPERS = (
    Paper("logistic", expit, lambda p: np.log(p / (1 - p))),
    Paper("normal", ndtr, ndtri),
    Paper("straight", cornered, place_on(cornered)),
)

LOG_EXPOSURE = -INCREMENT * np.arange(STEPS)


def width_for(paper: Paper, scale: float) -> float:
    return scale / (paper.place(0.9) - paper.place(0.04 / RANGE))


def parameters(paper: Paper, scale: float) -> np.ndarray:
    """D-min, range, log exposure at u = 0, width; half the range lies at `MIDDLE`."""
    width = width_for(paper, scale)
    return np.array([D_MIN, RANGE, MIDDLE - width * paper.place(0.5), width])


def truth(paper: Paper, p: np.ndarray) -> np.ndarray:
    """Exposure scale and log exposure of black for parameters p."""
    _, span, middle, width = p
    return np.array(
        [
            width * (paper.place(0.9) - paper.place(0.04 / span)),
            middle + width * paper.place(BLACK_SHARE),
        ]
    )


def densities(paper: Paper, p: np.ndarray) -> np.ndarray:
    return p[0] + p[1] * paper.share((LOG_EXPOSURE - p[2]) / p[3])


def slopes(function: Callable, p: np.ndarray) -> np.ndarray:
    steps = np.eye(len(p)) * 1e-5
    return np.array([(function(p + s) - function(p - s)) / 2e-5 for s in steps]).T


def bound(paper: Paper, p: np.ndarray) -> np.ndarray:
    """Least standard error that any unbiased estimate can have, shape (2,)."""
    by_density = slopes(lambda q: densities(paper, q), p)
    covariance = NOISE**2 * np.linalg.inv(by_density.T @ by_density)
    by_truth = slopes(lambda q: truth(paper, q), p)
    return np.sqrt(np.einsum("qi,ij,qj->q", by_truth, covariance, by_truth))


def score(paper: Paper, scale: float, strips: int, rng) -> dict[str, np.ndarray]:
    p = parameters(paper, scale)
    clean, true = densities(paper, p), truth(paper, p)
    errors, held = [], []
    for _ in range(strips):
        curve = fit_curve(LOG_EXPOSURE, clean + rng.normal(0, NOISE, STEPS))
        found = (
            curve.distance(WHITE_POINT, BLACK_POINT),
            curve.place(Point.at_share(BLACK_SHARE)),
        )
        errors.append([each.value for each in found] - true)
        held.append([e.low <= t <= e.high for e, t in zip(found, true, strict=True)])
    rms = np.sqrt(np.mean(np.square(errors), axis=0))
    return {
        "ratio": rms / bound(paper, p),
        "bias": np.mean(errors, axis=0),
        "coverage": np.mean(held, axis=0),
        "bound": bound(paper, p),
    }


def match_rms(scale: float, strips: int, rng) -> float:
    """RMS error of printing densities by matching, 10-85 % of the range, 2 readings."""
    paper = PAPERS[0]
    p = parameters(paper, scale)
    clean = densities(paper, p)
    errors: list[float] = []
    for _ in range(strips):
        curve = fit_curve(LOG_EXPOSURE, clean + rng.normal(0, NOISE, STEPS))
        share = rng.uniform(0.12, 0.83, 10)
        exact = -(p[2] + p[3] * paper.place(share))
        read = D_MIN + RANGE * share + rng.normal(0, NOISE, (2, 10))
        patches = [f"{n}" for n in range(10)] * 2
        found = match_patches(curve, patch=patches, density=read.ravel())
        errors += [
            m.printing_density.value - e
            for m, e in zip(found, exact, strict=True)
            if m.limit == "within"
        ]
    return float(np.sqrt(np.mean(np.square(errors))))


def main(strips: int = 1000, seed: int = 1) -> bool:
    rng = np.random.default_rng(seed)
    good = True
    for paper in PAPERS:
        promised = paper is PAPERS[0]
        for scale in SCALES:
            found = score(paper, scale, strips, rng)
            print(
                f"{paper.name:9s} scale {scale}: RMS error over bound "
                f"{found['ratio'].round(2)}, 90 % intervals hold "
                f"{found['coverage'].round(3)}, bias {found['bias'].round(3)}, "
                f"bound {found['bound'].round(3)}"
            )
            if promised:
                held = found["coverage"]
                good &= bool((found["ratio"] <= WORST_RATIO).all())
                good &= bool((held >= COVERAGE[0]).all() & (held <= COVERAGE[1]).all())
    for scale in SCALES:
        rms = match_rms(scale, max(strips // 10, 20), rng)
        print(f"matching, scale {scale}: {rms:.4f} D rms")
        good &= rms <= MATCH_RMS
    print("kept" if good else "NOT KEPT")
    return good


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--strips", type=int, default=1000)
    raise SystemExit(0 if main(parser.parse_args().strips) else 1)
