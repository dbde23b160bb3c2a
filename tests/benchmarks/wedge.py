"""How often a step wedge is found, counted right, and what densities it gives.

Run from the repository:

    python -m tests.benchmarks.wedge --count 100 --seed 1

Random wedges beside the synthetic prints of `tests/reading/prints.py`: any quarter turn
and up to 8 degrees besides, lids from black to white, with or without a border, lines
between cells; scanners that are linear, of gamma 2.2 or with automatic levels, tagged
or not, in 8 or 16 bits, sharpened, through JPEG. `--absent` leaves the wedge out:
nothing may be found. `--spoilt` cuts some steps off at the glass's edge, or leaves the
list a step too short or too long: refused is right, and so is what reads each listed
step where it lies. Held against: no wedge counted wrong; 0.012 D rms.
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
from negcurve.reading.wedge_words import wedge_findings
from tests.reading.prints import small_layout
from tests.reading.wedges import EVEN, UNEVEN, beside, scanned, with_flare

LAYOUT = small_layout()
UP_TO_D = 1.5

PRINT_MM = 128.0
"""To which the print reaches from the corner of the glass. [mm]"""

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


def spoilt(rng, light, made, laid):
    """Cut the far end of the wedge off, or return a list that is not the wedge's."""
    known = np.sort(laid.density)
    step = float(np.median(np.diff(known)))
    which = str(rng.choice(["cut", "short", "long"]))
    if which == "cut":
        down = abs(np.sin(np.radians(laid.angle_degrees))) > 0.5
        end = laid.corners_mm[:, int(down)].max()
        pitch = laid.length_mm / len(known)
        kept = int(max(PRINT_MM, end - pitch * rng.uniform(0.4, 3)) * made.px_per_mm)
        light = light[:kept] if down else light[:, :kept]
    elif which == "short":
        known = known[1:] if rng.random() < 0.5 else known[:-1]
    else:
        more = known[-1] + step if rng.random() < 0.5 else known[0] - step
        known = np.sort(np.append(known, max(more, 0.0)))
    return which, light, known


def random_scan(rng, *, absent=False, spoil=False):
    """Draw a scan; return source, encoding or None, print, wedge, its list, a name."""
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
    known = laid.density
    if spoil:
        spoiling, light, known = spoilt(rng, light, made, laid)
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
    name = f"{kind}, {spoiling}" if spoil else kind
    return source, encoding, made, laid, stated(known, rng), name


def counted_right(place, laid, known, px_per_mm):
    """Whether each listed step was read within the cell that has its density."""
    turn = np.radians(laid.angle_degrees)
    centres = place.geometry.to_scan([box.center for box in place.boxes]) / px_per_mm
    along = (centres - np.array(laid.middle_mm)) @ [np.cos(turn), np.sin(turn)]
    cell = (along / laid.length_mm + 0.5) * len(laid.density)
    if not ((cell > 0) & (cell < len(laid.density))).all():
        return False
    centred = np.abs(cell % 1 - 0.5).max() < 0.3
    off = laid.density[cell.astype(int)] - known
    return bool(centred and np.abs(off).max() < 6 * VALUE_ERROR)


def run(count, seed, *, absent=False, spoil=False, verbose=False):
    """Print how often what happened, and the density error."""
    outcome, errors, seconds = Counter(), {}, []
    for place in range(count):
        rng = np.random.default_rng([seed, place])
        source, encoding, made, laid, known, kind = random_scan(
            rng, absent=absent, spoil=spoil
        )
        placed = place_target(source, [made.layout])
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
        seen = wedge.place
        right = not absent and counted_right(wedge.place, laid, known, made.px_per_mm)
        scan = read_placed(source, wedge.encoding, placed, zero="absolute")
        said = wedge_findings(wedge, scan.readings.density, placed, where="")
        said += scan.readings.findings
        told = [each.what[:60] for each in said if each.severity == "warning"]
        outcome["right" if right else "wrong, warned" if told else "WRONG"] += 1
        truth = made.density_of(scan.readings.negative_level)
        off = (scan.readings.density - truth)[truth <= UP_TO_D]
        errors.setdefault(kind, []).append(float(np.sqrt(np.mean(off**2))))
        if verbose or not right:
            print(
                place, kind, len(known), "right" if right else "WRONG",
                f"{errors[kind][-1]:.4f} D, residual {wedge.rms:.4f}",
                f"open {seen.open_ends}, unseen {seen.unseen}",
                "" if right else told,
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
    parser.add_argument("--spoilt", action="store_true")
    parser.add_argument("--verbose", action="store_true")
    asked = parser.parse_args()
    run(
        asked.count,
        asked.seed,
        absent=asked.absent,
        spoil=asked.spoilt,
        verbose=asked.verbose,
    )


if __name__ == "__main__":
    main()
