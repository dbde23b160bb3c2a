"""Records: listing a thousand, being killed while writing; the size of a page.

Run: python tests/benchmarks/recording.py [--quick]
Times stand beside that of a plain loop over the same files in the same run: reading
and parsing their JSON, nothing else.
"""

import json
import os
import random
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent.parent))

from negcurve.readings import Readings
from negcurve.record import open_record
from negcurve.report.sections import Story, report_html
from negcurve.response.solving import solve
from negcurve.tasks.record import list_calibrations

WRITER = """
import pickle, sys
from negcurve.record import open_record
record = open_record(sys.argv[1], create=True)
solution = pickle.load(open(sys.argv[2], "rb"))
sys.stdout.write("ready\\n"); sys.stdout.flush()
for k in range(10_000):
    entry, _ = record.add(solution, name=f"{sys.argv[3]}-{k}")
    sys.stdout.write(entry.key + "\\n"); sys.stdout.flush()
"""


def invented_readings(seed: int = 1) -> Readings:
    rng = np.random.default_rng(seed)
    level = np.tile(np.linspace(0, 1, 51), 2)
    density = 0.06 + 1.35 / (1 + np.exp(-(level - 0.55) * 9))
    x, y = np.meshgrid(np.linspace(12, 190, 9), np.linspace(12, 240, 12))
    return Readings(
        negative_level=level,
        density=density + rng.normal(0, 0.012, 102),
        x_mm=x.ravel()[:102],
        y_mm=y.ravel()[:102],
        source="scan.tif",
    )


def listing(count: int) -> None:
    solution = solve([invented_readings()])
    with tempfile.TemporaryDirectory() as folder:
        record = open_record(Path(folder) / "record", create=True)
        first, _ = record.add(solution, name="first")
        for k in range(count - 1):
            document = {**first.stored.document, "name": f"name {k}"}
            record.folder.add(document, {})
        ours, plain = [], []
        for _ in range(5):
            start = time.perf_counter()
            listed = list_calibrations(record.folder.path)
            ours.append(time.perf_counter() - start)
            start = time.perf_counter()
            for path in record.folder.path.glob("*Z-????????.json"):
                json.loads(path.read_text(encoding="utf-8"))
            plain.append(time.perf_counter() - start)
        assert len(listed.entries) == count
    median = statistics.median(ours)
    print(
        f"list of {count} records: {median:.3f} s, "
        f"{median / statistics.median(plain):.2f} times a plain loop over the files"
    )


def killing(times: int) -> None:
    """Kill a writer at random moments; every entry that it told must be whole."""
    import pickle  # noqa: PLC0415  only the child needs it

    random.seed(1)
    told: list[str] = []
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "record"
        pickled = Path(folder) / "solution.pickle"
        pickled.write_bytes(pickle.dumps(solve([invented_readings()])))
        for k in range(times):
            child = subprocess.Popen(
                [sys.executable, "-c", WRITER, str(path), str(pickled), str(k)],
                stdout=subprocess.PIPE,
                text=True,
                env={**os.environ, "OMP_NUM_THREADS": "1"},
            )
            assert child.stdout is not None
            assert child.stdout.readline() == "ready\n"
            time.sleep(random.uniform(0.0, 0.06))
            child.kill()
            # A last line may have been cut by the kill; only whole ones were told.
            lines = child.stdout.read().split("\n")[:-1]
            told += lines
            child.wait()
        record = open_record(path)
        entries, found = record.entries()
        keys = {each.key for each in entries}
        lost = [key for key in told if key not in keys]
        for each in entries:
            record.solution(each)
    print(
        f"killed {times} times while writing: {len(entries)} records stand and read "
        f"whole, {len(lost)} of {len(told)} told were lost, {len(found)} damaged"
    )


def page() -> None:
    solution = solve([invented_readings()])
    html = report_html(Story(name="page", solution=solution))
    print(f"report page without pictures: {len(html.encode()) / 1e6:.3f} MB")


def main() -> None:
    quick = "--quick" in sys.argv[1:]
    listing(200 if quick else 1000)
    killing(10 if quick else 100)
    page()


if __name__ == "__main__":
    main()
