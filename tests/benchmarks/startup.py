"""Time of `negcurve --help` against the help of a bare typer program, same run.

Run: python -m tests.benchmarks.startup
"""

import statistics
import subprocess
import sys
import time

BARE = """
import typer
app = typer.Typer()
@app.command()
def one(name: str) -> None:
    "Do one thing."
@app.command()
def two(name: str) -> None:
    "Do another."
app()
"""
OURS = "from negcurve.cli import main; main()"
RUNS = 15
AT_MOST = 2.0


def seconds(code: str) -> float:
    """Return the wall time of one run."""
    start = time.perf_counter()
    subprocess.run(
        [sys.executable, "-c", code, "--help"], check=True, stdout=subprocess.DEVNULL
    )
    return time.perf_counter() - start


def main() -> None:
    """Run both in turn and print medians and ratio."""
    pairs = [(seconds(BARE), seconds(OURS)) for _ in range(RUNS)]
    bare, ours = (statistics.median(each) for each in zip(*pairs, strict=True))
    print(f"bare typer program {bare:.3f} s, negcurve {ours:.3f} s")
    print(f"ratio {ours / bare:.2f}, wanted {AT_MOST:g} or less")


if __name__ == "__main__":
    main()
