"""How often targets are found, and how well they are placed, in random hard scans.

Run from the repository:

    python -m tests.benchmarks.reading --kind hard --count 40 --seed 1

Kinds: `ordinary` (16 bits, 300 ppi, skew, uneven coating), `hard` (8 bits, JPEG, 150
ppi, weak, streaked, one mark lost), `very-hard` (cropped, dark lid, wrong or no
resolution, stains over marks and numbers, keystone and bow together), `wrong` (targets
whose layout is not given, cut off or covered on one side, blank, noisy and inverted
scans: nothing may be read). Uses the synthetic prints of `tests/reading/prints.py`.
"""

import argparse
import io
import time
from collections import Counter

import numpy as np
from PIL import Image

from negcurve.errors import ReadingsError
from negcurve.reading.scan import read_target
from negcurve.target.composition import Design, compose
from tests.reading.prints import ArraySource, GammaEncoding, Print, SetUp

SHEETS = ("8x10in", "A4", "4x5in", "5x7in")


def layouts():
    """Several layouts of every sheet; any may be on the glass."""
    made = []
    for sheet in SHEETS:
        levels = 21 if sheet in ("4x5in", "5x7in") else 51
        made += [
            compose(Design(sheet=sheet, levels=levels, seed=seed)) for seed in (1, 2)
        ]
    return made


def random_set_up(rng, kind, layout):
    """Draw a set-up of a kind."""
    common = {
        "seed": int(rng.integers(1 << 30)),
        "turn": int(rng.integers(4)),
        "d_max": rng.uniform(1.1, 1.6),
        "gamma": rng.uniform(0.7, 2.5),
        "blur_mm": rng.uniform(0.02, 0.12),
        "lid": rng.uniform(0.03, 0.95),
        "coated_mm": rng.uniform(2.0, 15.0),
        "noise": 0.002,
        "dust": int(rng.integers(0, 80)),
        "hairs": int(rng.integers(0, 6)),
        "stretch": (rng.uniform(0.998, 1.002), 1.0),
        "grain": rng.uniform(0.01, 0.03),
    }
    if kind == "ordinary":
        return SetUp(
            **common,
            ppi=300,
            tilt_degrees=rng.uniform(-4, 4),
            uneven=rng.uniform(0, 0.1),
        )
    common.update(
        ppi=float(rng.choice([150, 150, 200, 300])),
        tilt_degrees=rng.uniform(-10, 10),
        keystone=rng.uniform(-0.01, 0.01),
        stretch=(rng.uniform(0.995, 1.005), rng.uniform(0.995, 1.005)),
        uneven=rng.uniform(0, 0.3),
        d_max=rng.uniform(0.9, 1.3),
        grain=rng.uniform(0.02, 0.08),
        noise=0.004,
        mirrored=bool(rng.random() < 0.2),
        bits=8,
        scan_gamma=2.2,
    )
    glass = float(rng.uniform(0, 80))
    size = layout.width_mm + 20 + glass, layout.height_mm + 20 + glass
    if common["turn"] % 2:
        size = size[::-1]
    common.update(glass_mm=size, place=(rng.random(), rng.random()))
    common.update(litter(rng, kind, layout))
    if kind == "very-hard":
        common.update(bow_mm=rng.uniform(-0.8, 0.8), d_max=rng.uniform(0.8, 1.2))
    return SetUp(**common)


def litter(rng, kind, layout):
    """Stains and brush-outs; one mark may be lost, in very hard ones strips as well."""
    width, height = layout.width_mm, layout.height_mm
    stains = [
        (rng.uniform(0, width), rng.uniform(0, height), rng.uniform(4, 15), 0.25)
        for _ in range(4)
    ]
    brush_outs = [
        (rng.uniform(0, width), rng.uniform(0, height), rng.uniform(1, 4))
        for _ in range(4)
    ]
    if rng.random() < 0.5:
        x, y = layout.marks_mm[int(rng.integers(4))]
        brush_outs.append((x + rng.normal(0, 3), y + rng.normal(0, 3), 7.0))
    if kind == "very-hard":
        box = layout.identity_boxes[int(rng.integers(2))]
        stains.append((box.left_mm + rng.uniform(0, 62), box.top_mm, 12.0, 0.5))
        for x, y in layout.marks_mm:
            stains.append((x + rng.normal(0, 5), y + rng.normal(0, 5), 6.0, 0.3))
    return {"stains": stains, "brush_outs": brush_outs}


def source_of(made, rng, kind):
    """Turn a print into a source; 8-bit ones may pass through JPEG."""
    codes = made.codes()
    if kind != "ordinary" and rng.random() < 0.6:
        held = io.BytesIO()
        quality = int(rng.integers(40, 90))
        Image.fromarray(codes[:, :, 0]).save(held, "jpeg", quality=quality)
        codes = np.asarray(Image.open(held))[:, :, None]
    ppi = (made.setup.ppi, made.setup.ppi)
    if kind == "very-hard":
        ppi = [None, ppi, (72.0, 72.0)][int(rng.integers(3))]
    return ArraySource(codes, resolution_ppi=ppi)


def run_one(rng, kind, known):
    """Read one scan; return what came of it and the largest centre error. [mm]"""
    layout = known[int(rng.integers(len(known)))]
    made = Print(layout, random_set_up(rng, kind, layout))
    source = source_of(made, rng, kind)
    encoding = GammaEncoding(made.setup.scan_gamma)
    start = time.perf_counter()
    try:
        found = read_target(source, encoding, known)
    except ReadingsError as error:
        return f"not read: {error.what}", np.nan, made
    used = time.perf_counter() - start
    if found.layout is not layout:
        return "WRONG TARGET", np.nan, made
    centres = np.array([patch.box.center for patch in layout.patches])
    truth = np.column_stack(made.to_scan(*centres.T))
    error = np.hypot(*(found.geometry.to_scan(centres) - truth).T) / made.px_per_mm
    verdict = "read" if error.max() < 2 else "WRONG PLACE"
    return verdict, (float(error.max()), float(np.percentile(error, 95)), used), made


def run_wrong(rng, known):
    """Scans from which nothing may be read."""
    layout = known[int(rng.integers(len(known)))]
    kinds = ("another", "half", "covered", "blank", "noise", "inverted")
    what = kinds[int(rng.integers(len(kinds)))]
    set_up = random_set_up(rng, "hard", layout)
    made = Print(layout, set_up)
    codes = made.codes()
    given, lost = known, None
    if what == "another":
        given = [each for each in known if each is not layout]
    elif what in ("half", "covered"):
        codes, lost = without_a_side(made, codes, rng, covered=what == "covered")
    elif what == "blank":
        codes = np.clip(rng.normal(230, 3, codes.shape), 0, 255).astype(np.uint8)
    elif what == "noise":
        codes = rng.integers(0, 256, codes.shape).astype(np.uint8)
    elif what == "inverted":
        codes = 255 - codes
    source = ArraySource(codes, resolution_ppi=(set_up.ppi, set_up.ppi))
    try:
        found = read_target(source, GammaEncoding(2.2), given)
    except ReadingsError as error:
        return f"{what}: {error.what[:60]}"
    if what == "covered" and told(found.readings, made, lost):
        return "covered: read, what is covered is flagged or reads as it should"
    return f"READ ALTHOUGH {what}"


def without_a_side(made, codes, rng, *, covered):
    """Cut a side off, or lay something dark, light or like the lid over it.

    Goes through the patches: 10 to 60 % of their centres are lost, the given ones.
    """
    centres = np.array([patch.box.center for patch in made.layout.patches])
    axis, far = int(rng.integers(2)), bool(rng.integers(2))
    places = made.to_scan(*centres.T)[1 - axis]
    share = rng.uniform(0.1, 0.6)
    cut = int(np.quantile(places, 1 - share if far else share))
    lost = places > cut if far else places < cut
    gone = slice(cut, None) if far else slice(None, max(cut, 0))
    if not covered:
        kept = slice(None, cut) if far else slice(cut, None)
        return (codes[kept] if axis == 0 else codes[:, kept]), lost
    lid = round(255 * made.setup.lid ** (1 / made.setup.scan_gamma))
    value = int(rng.choice([3, lid, 250]))
    over = np.clip(rng.normal(value, 1.5, codes.shape), 0, 255).astype(codes.dtype)
    codes = codes.copy()
    part = (gone,) if axis == 0 else (slice(None), gone)
    codes[part] = over[part]
    return codes, lost


def told(readings, made, lost):
    """Whether all that was lost is flagged, or reads what it would have read."""
    flagged = np.array([bool(flags) for flags in readings.flags])
    wrong = np.abs(readings.density - made.density_of(readings.negative_level)) > 0.1
    return not (lost & wrong & ~flagged).any()


def main():
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--kind", default="hard")
    asked.add_argument("--count", type=int, default=40)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    known = layouts()
    verdicts, errors = Counter(), []
    for place in range(given.count):
        rng = np.random.default_rng([given.seed, place])
        if given.kind == "wrong":
            verdict = run_wrong(rng, known)
            verdicts[verdict] += 1
            if "READ" in verdict:
                print(place, verdict, flush=True)
            continue
        verdict, error, made = run_one(rng, given.kind, known)
        verdicts[verdict] += 1
        if verdict != "read":
            print(place, made.layout.sheet, verdict, made.setup)
        else:
            errors.append(error)
            if error[0] > 0.3:
                print(place, made.layout.sheet, "centre", error, made.setup)
    for verdict, count in verdicts.most_common():
        print(f"{count:4d}  {verdict}")
    if errors:
        worst, most, used = np.array(errors).T
        middle = np.median(worst)
        print(f"largest centre error {worst.max():.3f} mm, median {middle:.3f}")
        print(f"95 % of centres within {most.max():.3f} mm in every scan")
        middle = np.median(used)
        print(f"time for one scan: median {middle:.2f} s, most {used.max():.2f}")


if __name__ == "__main__":
    main()
