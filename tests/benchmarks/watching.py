"""How soon drift is found, how often falsely, and what unevenness is recognised.

Run: python tests/benchmarks/watching.py [--quick]
Prints one line for each number of the issue on watching. Everything is simulated here,
by formulas that the code under test does not share.
"""

import sys

import numpy as np

from negcurve.watch.control_chart import control_chart
from negcurve.watch.deviation import (
    Deviation,
    StripCurve,
    assumed_curve,
    curve_from_film,
    split_deviation,
)
from negcurve.watch.judgement import judge

D_MIN, D_MAX, SCALE = 0.06, 1.42, 1.6
SESSION_SCATTER, PATCH_NOISE, PATCHES, BASE = 0.02, 0.02, 8, 20


def print_density(log_exposure: np.ndarray) -> np.ndarray:
    """A paper with a long toe and a hard shoulder: 1 - exp(-10^u), no logistic."""
    toe, shoulder = (
        np.log10(-np.log(1 - 0.04 / (D_MAX - D_MIN))),
        np.log10(-np.log(1 - (0.9 * D_MAX - D_MIN) / (D_MAX - D_MIN))),
    )
    steep = (shoulder - toe) / SCALE
    return D_MIN + (D_MAX - D_MIN) * (1 - np.exp(-(10 ** (steep * log_exposure))))


def places() -> np.ndarray:
    """Log exposures of the strip: patches evenly spaced in lightness."""
    axis = np.linspace(-2.5, 1.5, 4001)
    density = print_density(axis)
    ends = np.interp([D_MIN + 0.005, D_MIN + 0.985 * (D_MAX - D_MIN)], density, axis)
    lightness = 116 * 10 ** (-density / 3) - 16
    wanted = np.linspace(*np.interp(ends, axis, lightness), PATCHES)
    return np.interp(-wanted, -lightness, axis)


def middle() -> float:
    axis = np.linspace(-2.5, 1.5, 4001)
    return float(np.interp((D_MIN + D_MAX) / 2, print_density(axis), axis))


def strip(
    rng: np.random.Generator,
    curve: StripCurve,
    *,
    shift: float = 0.0,
    scale_change: float = 0.0,
    white: float = 0.0,
) -> Deviation:
    at, mid = places(), middle()
    moved = mid + (at - mid) * SCALE / (SCALE + scale_change)
    density = print_density(moved + shift + rng.normal(0, SESSION_SCATTER))
    density = density + white * (D_MAX - density) / (D_MAX - D_MIN)
    return split_deviation(
        print_density(at), density + rng.normal(0, PATCH_NOISE, PATCHES), curve
    )


def curves() -> dict[str, StripCurve]:
    axis = np.linspace(-2.5, 1.5, 201)
    return {
        "film known": curve_from_film(-axis, print_density(axis)),
        "film unknown": assumed_curve(D_MIN, D_MAX),
    }


def detection(rng: np.random.Generator, curve: StripCurve, runs: int) -> None:
    """Steps of 0.05 log H after 20 sessions, on the exposure chart alone."""
    pool = np.array([strip(rng, curve).watched[0] for _ in range(4000)])
    moved = np.array([strip(rng, curve, shift=0.05).watched[0] for _ in range(4000)])
    for apart in (100, 300):
        delays, falsely, watched = [], 0, 0
        for _ in range(runs):
            value = np.concatenate([rng.choice(pool, BASE), rng.choice(moved, 40)])
            alarm = control_chart(
                value, provisional_spread=0.035, false_alarm_sessions=apart
            ).alarm
            if not alarm[:BASE].any():
                found = np.flatnonzero(alarm[BASE:])
                delays.append(found[0] + 1 if len(found) else 41)
            quiet = control_chart(
                rng.choice(pool, BASE + 100),
                provisional_spread=0.035,
                false_alarm_sessions=apart,
            ).alarm
            if not quiet[:BASE].any():
                found = np.flatnonzero(quiet[BASE:])
                watched += found[0] + 1 if len(found) else 100
                falsely += bool(len(found))
        print(
            f"  step 0.05 log H: found after {np.mean(delays):.2f} sessions (mean of "
            f"{len(delays)}), one false alarm in {watched / max(falsely, 1):.0f}"
        )


def verdicts(rng: np.random.Generator, curve: StripCurve, runs: int) -> None:
    """The verdict of all charts at the first alarm, for a change of one kind."""
    kinds = {
        "exposure": {"shift": 0.05},
        "shape": {"scale_change": 0.1},
        "white": {"white": 0.03},
    }
    for wanted, change in kinds.items():
        right, apart, delays = 0, 0, []
        for _ in range(runs):
            past = [strip(rng, curve) for _ in range(BASE)]
            while judge(past).kind != "in control":
                past = [strip(rng, curve) for _ in range(BASE)]
            session = 0
            while session < 40:
                session += 1
                past.append(strip(rng, curve, **change))
                said = judge(past).kind
                if said not in ("in control", "unreadable"):
                    break
            delays.append(session)
            right += said == wanted
            apart += (said == "exposure") == (wanted == "exposure")
        print(
            f"  {wanted} change: told from or as exposure rightly {apart / runs:.1%}, "
            f"named {right / runs:.1%} of {runs}, after {np.mean(delays):.1f} sessions"
        )


def false_verdicts(rng: np.random.Generator, curve: StripCurve, runs: int) -> None:
    """All four charts together, nothing changed."""
    watched = falsely = 0
    for _ in range(runs):
        charts = judge([strip(rng, curve) for _ in range(BASE + 60)]).charts
        alarm = np.any([chart.alarm for chart in charts.values()], axis=0)
        if not alarm[:BASE].any():
            found = np.flatnonzero(alarm[BASE:])
            watched += found[0] + 1 if len(found) else 60
            falsely += bool(len(found))
    print(f"  all four charts: one false alarm in {watched / max(falsely, 1):.0f}")


def main() -> None:
    quick = "--quick" in sys.argv[1:]
    for name, curve in curves().items():
        rng = np.random.default_rng(7)
        print(f"{name}:")
        detection(rng, curve, 200 if quick else 1500)
        verdicts(rng, curve, 40 if quick else 300)
        false_verdicts(rng, curve, 30 if quick else 300)


if __name__ == "__main__":
    main()
