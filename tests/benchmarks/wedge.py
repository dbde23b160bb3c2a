"""How often a step wedge is found, counted right, and what densities it gives.

Run from the repository:

    python -m tests.benchmarks.wedge --count 100 --seed 1

Random wedges beside the synthetic prints of `tests/reading/prints.py`: any quarter turn
and up to 8 degrees besides, lids from black to white, with or without a border, lines
between cells; scanners that are linear, of gamma 2.2 or with automatic levels, tagged
or not, in 8 or 16 bits, sharpened, through JPEG. `--absent` leaves the wedge out:
nothing may be found. Held against: no wedge counted wrong; 0.012 D rms.
"""

import argparse
import time
from collections import Counter

import numpy as np

from negcurve.encoding import grey_encoding
from negcurve.errors import ReadingsError
from negcurve.reading.placing import place_target
from negcurve.reading.scan import read_placed
from negcurve.reading.wedge import read_wedge
from tests.reading.prints import small_layout
from tests.reading.wedges import EVEN, UNEVEN, beside, scanned, with_flare

LAYOUT = small_layout()
UP_TO_D = 1.5

VALUE_ERROR = 0.004
"""Of a wedge's cells against its list: invented. [D]"""


def stated(density, rng):
    """Return the list of a wedge: measured with an error, rounded to two digits."""
    known = np.round(density + rng.normal(0, VALUE_ERROR, len(density)), 2)
    return np.sort(known)


def automatic(rng):
    """Levels stretched and bent as a scanner's software does unasked."""
    black, white = rng.uniform(0.0, 0.012), rng.uniform(0.9, 1.05)
    bend, gamma = rng.uniform(-0.05, 0.08), rng.choice([1.8, 2.2])

    def curve(light):
        level = np.clip((light - black) / (white - black), 0, 1) ** (1 / gamma)
        return level + bend * np.sin(2 * np.pi * (level - 0.5)) * level * (1 - level)

    return curve


def random_densities(rng):
    """Even or uneven, 6 to 41 steps, from either end."""
    which = rng.random()
    if which < 0.15:
        density = EVEN
    elif which < 0.35:
        density = UNEVEN
    else:
        count = int(rng.choice([6, 8, 11, 13, 18, 21, 26, 31, 41]))
        density = np.linspace(rng.uniform(0.03, 0.1), rng.uniform(1.5, 1.9), count)
    return density if rng.random() < 0.5 else density[::-1]


def random_scan(rng, *, absent=False):
    """Draw a scan; return source, encoding or None, print, wedge and a name."""
    density = random_densities(rng)
    quarter = int(rng.integers(4))
    border = float(rng.choice([0.0, 0.0, 2.0, 4.0]))
    length = rng.uniform(max(70, 3.2 * len(density)), 140)
    wedge = {
        "angle_degrees": 90 * quarter + rng.uniform(-8, 8),
        "length_mm": length,
        "side_mm": rng.uniform(8, 20),
        "border_mm": border,
        "border_density": rng.choice([0.05, 0.08, 0.5]),
        "gap_mm": float(rng.choice([0.0, 0.0, 0.4])),
        "gap_density": float(rng.choice([0.05, 1.6])),
        "grain": rng.uniform(0, 0.02),
    }
    ppi = float(rng.choice([150, 150, 200, 300]))
    light, made, laid = beside(
        LAYOUT,
        density if not absent else np.full(len(density), 0.05),
        room_mm=40.0,
        high_mm=165.0,
        below=quarter % 2 == 0,
        wedge=wedge,
        seed=int(rng.integers(1 << 30)),
        turn=int(rng.choice([0, 2])),
        tilt_degrees=rng.uniform(-5, 5),
        lid=float(rng.choice([0.02, 0.05, 0.2, 0.6, 0.86, 0.9])),
        grain=rng.uniform(0, 0.03),
        noise=rng.uniform(0.0003, 0.002),
        dust=int(rng.integers(0, 60)),
        hairs=int(rng.integers(0, 4)),
        ppi=ppi,
    )
    light = with_flare(light, rng.uniform(0, 0.01), reach_px=10 * made.px_per_mm)
    kinds = ("linear", "tagged", "untagged", "automatic", "automatic tagged")
    kind = str(rng.choice(kinds))
    after = {"bits": 16}
    if kind != "linear" and rng.random() < 0.5:
        after = {"bits": 8}
        if rng.random() < 0.5:
            after["quality"] = int(rng.integers(70, 96))
    if rng.random() < 0.4:
        after["sharpen"] = rng.uniform(0.3, 1.2), rng.uniform(0.6, 1.5)
    encoding = {"tagged": 2.2, "automatic tagged": 2.2, "linear": 1.0}.get(kind)
    curve = {
        "linear": lambda c: 0.97 * c,
        "tagged": lambda c: (0.97 * c) ** (1 / 2.2),
        "untagged": lambda c: (0.97 * c) ** (1 / 2.2),
    }.get(kind) or automatic(rng)
    source = scanned(light, made, curve=curve, **after)
    encoding = None if encoding is None else grey_encoding(encoding)
    return source, encoding, made, laid, kind


def counted_right(place, laid, px_per_mm):
    """Whether first and last cell are where they were laid, to 0.3 of a cell."""
    corners = laid.corners_mm * px_per_mm
    ends = [corners[[0, 3]].mean(axis=0), corners[[1, 2]].mean(axis=0)]
    if laid.density[0] > laid.density[-1]:
        ends = ends[::-1]
    pitch = laid.length_mm / len(laid.density) * px_per_mm
    found = [place.outline_px[each].mean(axis=0) for each in ([0, 3], [1, 2])]
    off = [np.hypot(*(one - two)) for one, two in zip(found, ends, strict=True)]
    return max(off) < 0.3 * pitch


def run(count, seed, *, absent=False, verbose=False):
    """Print how often what happened, and the density error."""
    outcome, errors, seconds = Counter(), {}, []
    for place in range(count):
        rng = np.random.default_rng([seed, place])
        source, encoding, made, laid, kind = random_scan(rng, absent=absent)
        placed = place_target(source, [made.layout])
        known = stated(laid.density, rng)
        start = time.perf_counter()
        try:
            wedge = read_wedge(source, placed, known, encoding=encoding)
        except ReadingsError as error:
            outcome["refused"] += 1
            if verbose:
                print(place, kind, len(known), "refused:", str(error).splitlines()[0])
            continue
        finally:
            seconds.append(time.perf_counter() - start)
        right = not absent and counted_right(wedge.place, laid, made.px_per_mm)
        outcome["right" if right else "wrong"] += 1
        scan = read_placed(source, wedge.encoding, placed, zero="absolute")
        truth = made.density_of(scan.readings.negative_level)
        off = (scan.readings.density - truth)[truth <= UP_TO_D]
        errors.setdefault(kind, []).append(float(np.sqrt(np.mean(off**2))))
        if verbose or not right:
            print(
                place, kind, len(known), "right" if right else "WRONG",
                f"{errors[kind][-1]:.4f} D, residual {wedge.rms:.4f}",
                f"sure {wedge.place.sure}",
            )  # fmt: skip
    print(dict(outcome))
    for kind, each in sorted(errors.items()):
        rms = np.sqrt(np.mean(np.square(each)))
        print(f"{kind}: {len(each)} scans, {rms:.4f} D rms, {max(each):.4f} worst")
    print(f"{np.median(seconds):.2f} s each, {max(seconds):.2f} s at most")


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--absent", action="store_true")
    parser.add_argument("--verbose", action="store_true")
    asked = parser.parse_args()
    run(asked.count, asked.seed, absent=asked.absent, verbose=asked.verbose)


if __name__ == "__main__":
    main()
