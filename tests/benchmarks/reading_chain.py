"""From scans of three kinds to tables: what is found, how well it is read and printed.

Run from the repository:

    python -m tests.benchmarks.reading_chain
    python -m tests.benchmarks.reading_chain --kind hard --count 100 --without-wedge
    python -m tests.benchmarks.reading_chain --count 100 --only-find --quiet

Papers, colours, sheets, scanners and wedges are drawn by seed in
`negcurve.simulation.kinds`; nothing was tuned to them. Files are real: targets and
scans (TIFF, of half the hard ones JPEG), the wedge's list of densities. Among other
targets the right one is to be found by its printed number.

Centres are compared with the simulation's geometry; densities, with those of the sheet
itself within the part of each patch that is read, up to D 1.5, on neutral prints.
Printed error is that of `setups.py` (256 tones, `black_share=1`). *Perfect* is what the
same solver makes of the same print's true densities at the patches: what it leaves is
the print's own unevenness, not the reading. Without the wedge only tagged 16-bit scans
are read to tables: others cannot be trusted and are not promised.
"""

import argparse
import io
import sys
import tempfile
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from PIL import Image

import negcurve
from negcurve.errors import NegcurveError, ReadingsError
from negcurve.files.layout_json import layouts_known
from negcurve.files.pictures import open_picture
from negcurve.reading.patches import trimmed
from negcurve.reading.placing import Placed, place_target
from negcurve.reading.scan import ScanReading
from negcurve.readings import Readings
from negcurve.simulation.darkroom import SheetPrint
from negcurve.simulation.fields import MM_PER_INCH
from negcurve.simulation.kinds import Kind, set_up_of_kind
from negcurve.simulation.scoring import PrintedError, printed_error
from negcurve.simulation.setups import SetUp
from negcurve.tasks.read import read
from negcurve.tasks.read_options import ReadOptions
from negcurve.tasks.simulated import print_file, scan_to_file
from negcurve.values import FloatArray

KINDS: tuple[Kind, ...] = ("ordinary", "hard", "very hard")

SHEETS = (("8x10in", 51), ("A4", 51), ("4x5in", 21), ("5x7in", 31))

FOUND = {"ordinary": (100, 100), "hard": (98, 100), "very hard": (90, 98)}
"""Wanted of 100: at least, and as the aim."""

PRINTED = {"ordinary": (0.8, 0.5), "hard": (1.2, 0.8), "very hard": (2.0, 1.2)}
"""Wanted printed error with a wedge in the scan, mean of the set-ups. [L* rms]"""

UNTAUGHT = (1.2, 0.8)
"""The same without a wedge, tagged 16-bit scans."""

DEEPEST = 1.5
"""Densities above are not judged. [D]"""

NEUTRAL = "neutral black"


@dataclass(kw_only=True)
class Case:
    """One print and its scan, with what came of them."""

    kind: Kind
    seed: int
    set_up: SetUp
    sheet: SheetPrint
    target: Path
    scan: Path
    wedge: Path
    failures: list[str] = field(default_factory=list)
    found: Placed | ScanReading | None = None
    readings: dict[str, Readings] = field(default_factory=dict)
    centres: FloatArray | None = None
    density_error: dict[str, FloatArray] = field(default_factory=dict)
    table: dict[str, PrintedError] = field(default_factory=dict)

    @property
    def name(self) -> str:
        """Say what it is."""
        scanner = self.set_up.scanner
        return (
            f"{self.kind} {self.seed}: {self.target.stem}, "
            f"{self.set_up.darkroom.paper.colour.name}, {scanner.encoding.name}, "
            f"{scanner.resolution_ppi:.0f} ppi, {self.scan.suffix[1:]}"
        )


def make_targets(folder: Path) -> None:
    """Write two targets of every sheet."""
    for sheet, levels in SHEETS:
        for seed in (1, 2):
            name = folder / f"{sheet}-{seed}.tif"
            negcurve.make_target(name, sheet=sheet, levels=levels, seed=seed, ppi=300)


def make_case(kind: Kind, seed: int, folder: Path) -> Case:
    """Print and scan a target in a set-up of a kind."""
    set_up = set_up_of_kind(kind, seed)
    rng = np.random.default_rng([seed, 60 + KINDS.index(kind)])
    targets = [folder / f"{sheet}-{copy}.tif" for sheet, _ in SHEETS for copy in (1, 2)]
    target = targets[int(rng.integers(len(targets)))]
    sheet = print_file(set_up, target, seed=int(rng.integers(1 << 30)))
    scan = folder / f"{kind}-{seed}.tif"
    scan_seed = int(rng.integers(1 << 30))
    if kind == "hard" and rng.random() < 0.5:
        scan = scan.with_suffix(".jpg")
        save_jpeg(set_up, sheet, scan, seed=scan_seed, rng=rng)
    else:
        scan_to_file(set_up, sheet, scan, seed=scan_seed)
    wedge = scan.with_suffix(".csv")
    steps = enumerate(set_up.wedge.wedge.density, start=1)
    wedge.write_text(
        "step,density\n" + "".join(f"{step},{each}\n" for step, each in steps)
    )
    return Case(
        kind=kind,
        seed=seed,
        set_up=set_up,
        sheet=sheet,
        target=target,
        scan=scan,
        wedge=wedge,
    )


def save_jpeg(set_up, sheet, path, *, seed, rng) -> None:
    """Scan to a JPEG of quality 60 to 92, its colours halved or not."""
    scan = set_up.scan_print(sheet, seed=seed)
    held = io.BytesIO()
    Image.fromarray(scan.codes).save(
        held,
        "jpeg",
        quality=int(rng.integers(60, 93)),
        subsampling=int(rng.choice([0, 2])),
        dpi=(scan.resolution_ppi, scan.resolution_ppi),
        **({"icc_profile": scan.profile} if scan.profile else {}),
    )
    path.write_bytes(held.getvalue())


def border_mm(case: Case) -> float:
    """Paper around the film, which is whole pixels of the sheet. [mm]"""
    mm = MM_PER_INCH / case.sheet.resolution_ppi
    return round(case.set_up.darkroom.paper_border_mm / mm) * mm


def true_places(case: Case, places_mm: FloatArray) -> FloatArray:
    """Where places of the layout lie in the scan, shape (n, 2). [px]"""
    scanner, laid = case.set_up.scanner, case.set_up.wedge
    rows, columns = case.sheet.reflectance.shape
    mm = MM_PER_INCH / case.sheet.resolution_ppi
    size = columns * mm, rows * mm
    wanted = places_mm + border_mm(case)
    left, top, right, bottom = scanner.margins_mm(size, laid)
    glass = wanted + np.array([left, top])
    for _ in range(25):
        found = scanner.print_place(*glass.T, size_mm=size, wedge=laid)
        glass = glass + wanted - np.column_stack(found)
    per_mm = scanner.resolution_ppi / MM_PER_INCH
    x, y = glass.T * per_mm
    width = round((size[0] + left + right) * per_mm)
    height = round((size[1] + top + bottom) * per_mm)
    for _ in range(scanner.quarter_turns):
        x, y, width, height = y, width - x, height, width
    return np.column_stack([x, y])


def true_density(case: Case) -> FloatArray:
    """Density of the sheet itself at each patch, absolute."""
    per_mm = case.sheet.resolution_ppi / MM_PER_INCH
    border = border_mm(case)
    means = []
    for patch in case.found.layout.patches:
        box = trimmed(patch.box)
        edges = np.array([box.left_mm, box.right_mm, box.top_mm, box.bottom_mm])
        left, right, top, bottom = np.rint((edges + border) * per_mm).astype(int)
        means.append(case.sheet.reflectance[top:bottom, left:right].mean())
    return -np.log10(np.array(means, dtype=np.float64))


def find(case: Case, **options) -> bool:
    """Find the target among all and read it."""
    try:
        found = read_all(case, **options)
    except ReadingsError as error:
        case.failures.append(str(error))
        found = place(case)
    return check_place(case, found)


def check_place(case: Case, found: Placed | ScanReading | None) -> bool:
    """Compare what was found with the truth."""
    if found is None:
        return False
    (right,) = layouts_known(case.target, beside=case.target)
    if found.layout.identity != right.identity:
        case.failures.append(f"WRONG TARGET {found.layout.identity_text}")
        return False
    centres = np.array([patch.box.center for patch in found.layout.patches])
    off = found.geometry.to_scan(centres) - true_places(case, centres)
    case.found = found
    case.centres = np.hypot(*off.T) / found.geometry.px_per_mm
    if case.centres.max() > 2:
        case.failures.append(f"WRONG PLACE, by {case.centres.max():.1f} mm")
        return False
    return True


def read_all(case: Case, **options) -> ScanReading | None:
    """Read the scan with the targets beside it as the known ones."""
    result = read(ReadOptions(inputs=(case.scan,), **options))
    name = "wedge" if "wedge" in options else "no wedge"
    case.readings[name] = result.readings
    return result.scans[0]


def place(case: Case) -> Placed | None:
    """Find the target of a scan that cannot be read."""
    known = layouts_known(None, beside=case.target)
    try:
        with closing(open_picture(case.scan)) as source:
            return place_target(source, known)
    except ReadingsError as error:
        case.failures.append(f"NOT FOUND: {error.what}")
        return None


def score(case: Case, name: str, readings: Readings) -> None:
    """Solve readings and score the table that they give."""
    try:
        solution = negcurve.solve([readings], black_share=1.0)
    except NegcurveError as error:
        case.failures.append(f"{name}, not solved: {error}")
        return
    density = case.set_up.darkroom.density
    case.table[name] = printed_error(density, solution.table.negative_level)


def judge(case: Case) -> None:
    """Compare densities with the sheet's and score the tables that they give."""
    truth = true_density(case)
    for name, readings in case.readings.items():
        case.density_error[name] = (readings.density - truth)[truth < DEEPEST]
        score(case, name, readings)
    if case.readings:
        readings = next(iter(case.readings.values()))
        score(case, "perfect", readings.replaced(density=truth))


def run_finding(kind: Kind, seed: int, folder: Path) -> Case:
    """Make and find one case, without reading it."""
    case = make_case(kind, seed, folder)
    check_place(case, place(case))
    case.scan.unlink()
    return case


def run(kind: Kind, seed: int, folder: Path, *, with_wedge: bool) -> Case:
    """Make, find, read and score one case."""
    case = make_case(kind, seed, folder)
    encoding = case.set_up.scanner.encoding
    trusted = encoding.tagged and encoding.bits == 16
    found = find(case, **({"wedge": case.wedge} if with_wedge else {}))
    if found and with_wedge and trusted:
        read_all(case)
    if found:
        if not (with_wedge or trusted):
            case.readings.clear()
        judge(case)
    case.scan.unlink()
    return case


def lines(case: Case) -> Iterator[str]:
    """Yield what one case came to."""
    if case.centres is None:
        yield f"{case.name}: {'; '.join(case.failures)}"
        return
    said = [f"centre {case.centres.max():.3f} mm"]
    for name, off in case.density_error.items():
        said.append(f"{name} D rms {np.sqrt(np.mean(off**2)):.3f}")
    for name, error in case.table.items():
        said.append(f"{name} L* {error.rms:.2f}")
    yield f"{case.name}: {', '.join(said)}"
    for failure in case.failures:
        yield f"    {failure}"


def report(kind: Kind, cases: list[Case]) -> None:
    """Print the figures of one kind beside what is wanted."""
    found = [case for case in cases if case.found is not None]
    wrong = sum("WRONG" in text for case in cases for text in case.failures)
    least, aim = FOUND[kind]
    print(f"\n{kind}: {len(cases)} set-ups")
    print(f"  found and identified  {len(found)} (of 100: {least}, aim {aim})")
    print(f"  wrong target or place {wrong} (0)")
    if not found:
        return
    centres = np.concatenate([case.centres for case in found])
    inside = np.percentile(centres, 95)
    print(
        f"  patch centres         all within {centres.max():.3f} mm (0.3), "
        f"95 % within {inside:.3f} (0.15, aim 0.1)"
    )
    for name in ("wedge", "no wedge"):
        report_density(name, found)
    for name, wanted in (
        ("wedge", PRINTED[kind]),
        ("no wedge", UNTAUGHT),
        ("perfect", None),
    ):
        report_printed(name, wanted, found)


def report_density(name: str, cases: list[Case]) -> None:
    """Print density errors of neutral prints, and of all."""
    chosen = [case for case in cases if name in case.density_error]
    for who, some in (
        (
            "neutral",
            [c for c in chosen if c.set_up.darkroom.paper.colour.name == NEUTRAL],
        ),
        ("all", chosen),
    ):
        if not some:
            continue
        rms = [np.sqrt(np.mean(case.density_error[name] ** 2)) for case in some]
        whole = np.concatenate([case.density_error[name] for case in some])
        print(
            f"  density, {name:8}     {who}: {np.sqrt(np.mean(whole**2)):.4f} D rms "
            f"(0.02, aim 0.012), worst scan {max(rms):.4f}, of {len(some)}"
        )


def report_printed(
    name: str, wanted: tuple[float, float] | None, cases: list[Case]
) -> None:
    """Print the printed error of tables from one way of reading."""
    errors = [case.table[name] for case in cases if name in case.table]
    if not errors:
        return
    rms = np.array([each.rms for each in errors])
    kept = min(each.range_kept for each in errors)
    asked = "" if wanted is None else f" ({wanted[0]}, aim {wanted[1]})"
    print(
        f"  printed, {name:8}     mean {rms.mean():.2f} L* rms{asked}, worst "
        f"{rms.max():.2f}, range kept {kept:.3f} or more, of {len(errors)}"
    )


def main() -> int:
    """Run the benchmark."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--kind", choices=KINDS, default=None)
    asked.add_argument("--count", type=int, default=10)
    asked.add_argument("--first", type=int, default=0)
    asked.add_argument("--without-wedge", action="store_true")
    asked.add_argument("--only-find", action="store_true")
    asked.add_argument("--quiet", action="store_true", help="no line for each set-up")
    given = asked.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        make_targets(folder)
        for kind in KINDS if given.kind is None else (given.kind,):
            cases = []
            for seed in range(given.first, given.first + given.count):
                if given.only_find:
                    case = run_finding(kind, seed, folder)
                else:
                    case = run(kind, seed, folder, with_wedge=not given.without_wedge)
                if not given.quiet or case.failures:
                    print("\n".join(lines(case)), flush=True)
                case.sheet = None  # a hundred sheets are too many to keep
                cases.append(case)
            report(kind, cases)
    return 0


if __name__ == "__main__":
    sys.exit(main())
