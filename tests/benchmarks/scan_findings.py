"""How often findings about a scan are right: honest scans, and scans made wrong.

Run from the repository:

    python -m tests.benchmarks.scan_findings
    python -m tests.benchmarks.scan_findings --count 10 --kind hard

Prints, scanners and encodings are those of the kinds `ordinary` and `hard` in
`negcurve.simulation.kinds`, without a wedge and without software that meddles. Each
print is scanned honestly, where any warning of the scanner's settings is a false alarm,
and then with one fault at a time. Bare paper and stain are compared with the truth.
"""

import argparse
import io
from collections import Counter
from dataclasses import replace

import numpy as np
from PIL import Image

from negcurve.encoding import Encoding
from negcurve.errors import ReadingsError
from negcurve.files.memory_picture import MemoryPicture
from negcurve.files.pictures import encoding_of
from negcurve.reading.scan import ScanReading, read_target
from negcurve.simulation.darkroom import SheetPrint
from negcurve.simulation.kinds import Kind, set_up_of_kind
from negcurve.simulation.setups import SetUp
from negcurve.simulation.software import ScanSoftware
from negcurve.target.composition import Design, compose
from negcurve.target.drawing import draw
from negcurve.target.layout import Layout

SIGNS = {
    "contrast": ("contrast of this scan", "D-max reads", "lightest patch reads"),
    "clipped": ("are clipped",),
    "sharpened": ("halos",),
    "JPEG": ("JPEG",),
    "8 in 16 bits": ("its codes only 8",),
    "stain": ("whites read",),
}
"""Words of the findings by fault."""

FAULTS = {
    "levels of the picture": ("contrast", "clipped"),
    "levels of each channel": ("contrast", "clipped"),
    "stretched in 8 bits": ("contrast", "clipped"),
    "sharpened": ("sharpened",),
    "JPEG quality 60": ("JPEG",),
    "8 in 16 bits": ("8 in 16 bits",),
    "another gamma": ("contrast",),
}
"""What is done to scans, and which findings count as noticing it."""


def named(findings) -> set[str]:
    """Return the faults that warnings name."""
    texts = [each.what for each in findings if each.severity == "warning"]
    return {
        sign
        for sign, words in SIGNS.items()
        if any(word in text for word in words for text in texts)
    }


def read(codes, encoding, layout: Layout, ppi: float) -> ScanReading:
    """Read a scan in memory."""
    source = MemoryPicture(name="scan", array=codes, resolution_ppi=(ppi, ppi))
    return read_target(source, encoding, [layout])


def software(fault: str, rng: np.random.Generator) -> ScanSoftware | None:
    """Return what the scanner's software does for a fault."""
    if fault == "levels of the picture":
        return ScanSoftware(auto_levels="picture")
    if fault == "levels of each channel":
        return ScanSoftware(auto_levels="channels")
    if fault == "sharpened":
        return ScanSoftware(
            sharpening=rng.uniform(0.5, 1.5), sharpening_px=rng.uniform(0.8, 2.0)
        )
    return None


def eight(codes) -> np.ndarray:
    """Return codes in eight bits."""
    return codes if codes.dtype == np.uint8 else np.rint(codes / 257).astype(np.uint8)


def spoilt(fault: str, codes):
    """Return codes with a fault that comes after the scanner."""
    if fault == "stretched in 8 bits":
        few = eight(codes).astype(float)
        low, high = np.percentile(few, [0.1, 99.9])
        wide = np.clip((few - low) / (high - low), 0, 1)
        return np.rint(255 * wide).astype(np.uint8)
    if fault == "JPEG quality 60":
        held = io.BytesIO()
        Image.fromarray(eight(codes)).save(held, "jpeg", quality=60)
        return np.asarray(Image.open(held))
    if fault == "8 in 16 bits":
        return eight(codes).astype(np.uint16) * 257
    return codes


def other_gamma(encoding: Encoding, codes, channels: int) -> Encoding:
    """Return a linear encoding for an encoded scan, sRGB for a linear one."""
    blank = MemoryPicture(name="scan", array=codes[:2, :2])
    half = encoding.luminance(np.full((1, channels), 0.5))[0]
    return encoding_of(blank, gamma=1.0)[0] if half < 0.45 else encoding_of(blank)[0]


def sheet_of(set_up: SetUp, layout: Layout, seed: int) -> SheetPrint:
    """Print a target in a set-up."""
    codes = draw(layout)
    return set_up.darkroom.print_sheet(
        codes, resolution_ppi=layout.resolution_ppi, seed=seed
    )


def scan(set_up: SetUp, sheet: SheetPrint, soft: ScanSoftware | None, seed: int):
    """Scan a print without a wedge; return codes and encoding."""
    scanner = replace(set_up.scanner, software=soft)
    plain = replace(set_up, scanner=scanner, wedge=None)
    made = plain.scan_print(sheet, seed=seed)
    blank = MemoryPicture(name="scan", array=made.codes[:2, :2])
    return made.codes, encoding_of(blank, profile=made.profile)[0]


def run_one(kind: Kind, seed: int, layout: Layout, tally: Counter) -> list[float]:
    """Scan one print in all ways; return errors of bare paper."""
    rng = np.random.default_rng([seed, 7])
    set_up = set_up_of_kind(kind, seed)
    ppi = set_up.scanner.resolution_ppi
    sheet = sheet_of(set_up, layout, seed)
    plain, encoding = scan(set_up, sheet, None, seed)
    honest = read(plain, encoding, layout, ppi)
    found = named(honest.readings.findings)
    white = float(set_up.darkroom.density(0.0))
    if white > set_up.darkroom.paper.bare_density + 0.05:
        tally["thin ink, and named"] += "stain" in found
        tally["thin ink, not named"] += "stain" not in found
        found -= {"stain"}
    if found:
        print(seed, "FALSE ALARM", [str(each) for each in honest.readings.findings])
    tally["false alarms"] += bool(found)
    for fault, wanted in FAULTS.items():
        codes, used = scan(set_up, sheet, software(fault, rng), seed)
        codes = spoilt(fault, codes)
        if fault == "another gamma":
            used = other_gamma(encoding, codes, 1 if codes.ndim == 2 else 3)
        try:
            got = named(read(codes, used, layout, ppi).readings.findings)
        except ReadingsError as error:
            got = named([]) | ({"clipped"} if "clipped" in error.what else set())
        tally[fault] += bool(got & set(wanted))
        if not got & set(wanted):
            print(seed, "missed", fault, set_up.scanner.encoding.name, f"{ppi:.0f}")
    scanner, paper = set_up.scanner, set_up.darkroom.paper
    tally["bare paper read"] += honest.whites.paper is not None
    if honest.whites.paper is None:
        return []
    true = -np.log10(scanner.gain * 10 ** (-scanner.tone_power * paper.bare_density))
    return [honest.whites.paper - float(true)]


def main() -> None:
    """Run the benchmark and print its report."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kind", default="ordinary", choices=["ordinary", "hard"])
    parser.add_argument("--count", type=int, default=20)
    parser.add_argument("--first", type=int, default=0)
    options = parser.parse_args()
    layout = compose(Design(sheet="4x5in", levels=21, seed=1))
    tally: Counter = Counter()
    errors: list[float] = []
    for seed in range(options.first, options.first + options.count):
        errors += run_one(options.kind, seed, layout, tally)
    print(f"of {options.count} prints, kind {options.kind}:")
    others = ("bare paper read", "thin ink, and named", "thin ink, not named")
    for name in ("false alarms", *FAULTS, *others):
        print(f"{tally[name]:4d}  {name}")
    if errors:
        print(
            f"bare paper: error {np.std(errors):.4f} D, most {np.abs(errors).max():.4f}"
        )


if __name__ == "__main__":
    main()
