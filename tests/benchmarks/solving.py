"""Printed error of `solve` beside what a careful user would otherwise do.

Run `python -m tests.benchmarks.solving` (some minutes; `--seeds 1` for a quick look;
`--families developed|held-out|new`). Printed error is the L* of the print minus the L*
of the aim at 256 even image tones, printed without noise, the aim running between the
ends that an exact table reaches, with `black_share=1`. All methods see the same sheets.

`DEVELOPED` families were looked at while the method was chosen; `HELD_OUT` ones were
written after and judge it; the `NEW` one came last of all. Times are process times of
one call, as medians.
"""

import argparse
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.interpolate import PchipInterpolator, make_smoothing_spline
from scipy.optimize import isotonic_regression

from negcurve.density import (
    density_from_lightness,
    lightness_from_density,
    lightness_slope,
)
from negcurve.readings import Readings
from negcurve.response.solving import solve
from tests.benchmarks.families import (
    COUNTS,
    DEVELOPED,
    HELD_OUT,
    NEW,
    SITUATIONS,
    Sheet,
    sheet,
)

TONES = np.linspace(0, 1, 256)
GRID = np.linspace(0, 1, 2049)


@dataclass(frozen=True)
class Answer:
    """What a method says: response on its own levels, with a standard error."""

    level: np.ndarray
    density: np.ndarray
    error: np.ndarray | None = None


Method = Callable[[Sheet], Answer]


def interpolation(given: Sheet) -> Answer:
    """Straight lines through averaged readings; only the running maximum inverts."""
    level, place = np.unique(given.level, return_inverse=True)
    mean = np.bincount(place, given.density) / np.bincount(place)
    return Answer(GRID, np.maximum.accumulate(np.interp(GRID, level, mean)))


def isotonic(given: Sheet) -> Answer:
    """Isotonic regression, then PCHIP through the middle of each block."""
    order = np.argsort(given.level, kind="stable")
    fit = isotonic_regression(given.density[order])
    level, starts = given.level[order], fit.blocks
    middle = [(level[a] + level[b - 1]) / 2 for a, b in pairwise(starts)]
    value = fit.x[starts[:-1]]
    middle[0], middle[-1] = level[0], level[-1]
    return Answer(GRID, PchipInterpolator(middle, value)(GRID))


def smoothing_spline(given: Sheet) -> Answer:
    """Smoothing spline by generalized cross-validation, made monotone after."""
    level, place = np.unique(given.level, return_inverse=True)
    mean = np.bincount(place, given.density) / np.bincount(place)
    smooth = make_smoothing_spline(level, mean)(GRID)
    return Answer(GRID, isotonic_regression(smooth).x)


def ours(given: Sheet) -> Answer:
    """`negcurve.solve`, with places."""
    readings = Readings(
        negative_level=given.level,
        density=given.density,
        x_mm=given.x_mm,
        y_mm=given.y_mm,
    )
    response = solve([readings], black_share=1.0).response
    return Answer(response.level_nodes, response.density_nodes, response.error_nodes)


def mistaken(given: Sheet) -> Answer:
    """No method but a bound: all known but what runs with level."""
    return Answer(given.true_level, given.mistaken_density)


METHODS: dict[str, Method] = {
    "interpolation": interpolation,
    "isotonic": isotonic,
    "smoothing": smoothing_spline,
    "ours": ours,
    "bound": mistaken,
}


@dataclass(frozen=True)
class Score:
    """Of one method on one sheet."""

    rms: float
    range_kept: float
    inside: float
    seconds: float


def score(given: Sheet, method: Method) -> Score:
    """Build the table, print through the truth, compare with the aim."""
    start = time.process_time()
    answer = method(given)
    seconds = time.process_time() - start
    level = _inverse(answer, _straight(answer.density[-1], answer.density[0]))
    printed = np.interp(level, given.true_level, given.true_density)
    black, white = given.true_density[-1], given.true_density[0]
    wanted = lightness_from_density(_straight(black, white))
    got = lightness_from_density(printed)
    span = wanted[-1] - wanted[0]
    return Score(
        rms=float(np.sqrt(np.mean((got - wanted) ** 2))),
        range_kept=float((got[-1] - got[0]) / span),
        inside=_inside(answer, level, printed),
        seconds=seconds,
    )


def _straight(black: float, white: float) -> np.ndarray:
    ends = lightness_from_density([black, white])
    return density_from_lightness(ends[0] + TONES * (ends[1] - ends[0]))


def _inverse(answer: Answer, density: np.ndarray) -> np.ndarray:
    """Level of each density; on a flat the level nearest the sloping part."""
    up = answer.density + np.linspace(0, 1e-9, len(answer.density))
    middle = (up[0] + up[-1]) / 2
    level = np.interp(density, up, answer.level)
    dark = answer.level[np.searchsorted(answer.density, density - 1e-7)]
    return np.where(density > middle, np.minimum(level, dark), level)


def _inside(answer: Answer, level: np.ndarray, printed: np.ndarray) -> float:
    """Share of tones whose printed L* lies in the 90 % band."""
    if answer.error is None:
        return np.nan
    expected = np.interp(level, answer.level, answer.density)
    error = np.interp(level, answer.level, answer.error)
    width = 1.645 * error * np.abs(lightness_slope(expected))
    off = np.abs(lightness_from_density(printed) - lightness_from_density(expected))
    return float(np.mean(off <= width))


def run(
    methods: Iterable[str],
    families: Iterable[str],
    *,
    seeds: int,
    counts: Iterable[int] = COUNTS,
    first_seed: int = 0,
) -> dict[str, "Scores"]:
    """Score every method on the same sheets."""
    table: dict[str, Scores] = {name: {} for name in methods}
    for family in families:
        for situation in SITUATIONS:
            for count in counts:
                for seed in range(first_seed, first_seed + seeds):
                    given = sheet(family, situation, count, seed)
                    for name, scores in table.items():
                        key = (family, situation, count, seed)
                        scores[key] = score(given, METHODS[name])
    return table


Scores = dict[tuple[str, str, int, int], Score]


def report(table: dict[str, Scores]) -> None:
    """Print what the targets ask for."""
    isotonic_rms = _rms(table["isotonic"]).mean()
    print(f"{'method':14s} mean rms  ratio  95th pct  least range  inside  ms")
    for name, scores in table.items():
        rms = _rms(scores)
        kept = min(each.range_kept for each in scores.values())
        inside = np.mean([each.inside for each in scores.values()])
        seconds = np.median([each.seconds for each in scores.values()])
        print(
            f"{name:14s} {rms.mean():8.3f} {rms.mean() / isotonic_rms:6.3f} "
            f"{np.percentile(rms, 95):9.2f} {kept:12.3f} {inside:7.3f} "
            f"{1000 * seconds:4.0f}"
        )
    for title, place in (("situation", 1), ("readings", 2), ("family", 0)):
        _report_by(table, title, place)
    scattered = {
        key: each
        for key, each in table["ours"].items()
        if key[1] == "scattered" and key[2] == 101
    }
    print(f"scattered, 101 readings: {_rms(scattered).mean():.3f}")
    bound = {key: each for key, each in table["bound"].items() if key[1] == "ordered"}
    print(f"ordered, what cannot be told from tone: {_rms(bound).mean():.3f}")


def _report_by(table: dict[str, Scores], title: str, place: int) -> None:
    print(f"\nby {title}: mean rms of {', '.join(table)}; share inside the band")
    for value in dict.fromkeys(key[place] for key in table["ours"]):
        part = {
            name: {k: s for k, s in scores.items() if k[place] == value}
            for name, scores in table.items()
        }
        figures = " ".join(f"{_rms(scores).mean():7.3f}" for scores in part.values())
        inside = np.mean([each.inside for each in part["ours"].values()])
        print(f"{value!s:14s} {figures}   {inside:.3f}")


def _rms(scores: Scores) -> np.ndarray:
    return np.array([each.rms for each in scores.values()])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--first-seed", type=int, default=0)
    parser.add_argument(
        "--families", choices=["developed", "held-out", "new", "all"], default="all"
    )
    given = parser.parse_args()
    groups = {"developed": DEVELOPED, "held-out": HELD_OUT, "new": NEW}
    for name, families in groups.items():
        if given.families in (name, "all"):
            print(f"\n== {name} families: {', '.join(families)}")
            report(
                run(METHODS, families, seeds=given.seeds, first_seed=given.first_seed)
            )


if __name__ == "__main__":
    main()
