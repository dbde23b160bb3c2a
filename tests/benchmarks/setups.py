"""The way from target to table over simulated set-ups, read by scan without wedge.

Run with `python -m tests.benchmarks.setups` (`--count 4` for a quick look). Ink, paper,
lamp, scanner and every chance differ from set-up to set-up; the target file, the scan
and the readings are real files. Printed error is the L* of the print minus the L* of
the aim at 256 even image tones, printed without noise, the aim running between the ends
that an exact table reaches; `black_share=1`. Exits 1 when a promise is not kept.
"""

import argparse
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np

import negcurve
from negcurve.errors import NegcurveError
from negcurve.negative.tones import STRAIGHT
from negcurve.simulation.scoring import PrintedError, printed_error
from negcurve.simulation.setups import SetUp, random_set_up
from negcurve.tasks.simulated import print_file, scan_to_file

MEAN, WORST, RANGE_KEPT = 1.2, 2.5, 0.95
"""Promised: mean and largest printed error in L* rms, least share of the range."""


@dataclass(frozen=True, kw_only=True)
class Score:
    """One set-up: what the straight line and what the table print."""

    set_up: SetUp
    straight: PrintedError
    table: PrintedError


def score(seed: int, target: Path, folder: Path) -> Score:
    """Print, scan and read the target in one set-up, solve, and score the table."""
    set_up = random_set_up(seed)
    scan = folder / f"scan-{seed}.tif"
    sheet = print_file(set_up, target, seed=1000 + seed)
    scan_to_file(set_up, sheet, scan, seed=2000 + seed)
    readings = negcurve.read_scan(scan, target=target)
    scan.unlink()
    solution = negcurve.solve([readings], black_share=1.0)
    density = set_up.darkroom.density
    return Score(
        set_up=set_up,
        straight=printed_error(density, STRAIGHT.negative_level),
        table=printed_error(density, solution.table.negative_level),
    )


def line(seed: int, each: Score) -> str:
    """Return one row of the report."""
    scanner = each.set_up.scanner
    return (
        f"{seed:4d}  {each.straight.rms:5.2f}  {each.table.rms:5.2f}  "
        f"{each.table.worst:5.2f}  {each.table.range_kept:.3f}  "
        f"{each.set_up.darkroom.paper.colour.name}, {scanner.encoding.name}, "
        f"{scanner.resolution_ppi:.0f} ppi, {scanner.skew_deg:+.1f} deg"
    )


def main() -> int:
    """Run the benchmark and print its report."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=20)
    parser.add_argument("--first", type=int, default=0)
    options = parser.parse_args()
    scores: list[Score] = []
    print("seed  straight  table  worst  range  set-up   (L* rms, L*, share)")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        target = folder / "target.tif"
        negcurve.make_target(target)
        seeds = range(options.first, options.first + options.count)
        for seed in seeds:
            try:
                scores.append(score(seed, target, folder))
            except NegcurveError as error:
                print(f"{seed:4d}  failed: {error}")
                continue
            print(line(seed, scores[-1]), flush=True)
    return report(scores, options.count)


def report(scores: list[Score], count: int) -> int:
    """Print the promises beside what was reached; return the exit code."""
    rms = np.array([each.table.rms for each in scores])
    kept = min((each.table.range_kept for each in scores), default=0.0)
    mean, worst = (float(rms.mean()), float(rms.max())) if scores else (9e9, 9e9)
    print(f"targets found and solved  {len(scores)} of {count}")
    print(f"printed error, mean       {mean:.2f} L* rms (promised {MEAN})")
    print(f"printed error, largest    {worst:.2f} L* rms (promised {WORST})")
    print(f"range kept, least         {kept:.3f} (promised {RANGE_KEPT})")
    good = len(scores) == count and mean <= MEAN and worst <= WORST
    return 0 if good and kept >= RANGE_KEPT else 1


if __name__ == "__main__":
    sys.exit(main())
