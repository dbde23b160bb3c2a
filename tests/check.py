"""The one command: format, lint, types, tests. `--fix` lets ruff mend what it can."""

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parent.parent


def steps(fix: bool) -> list[list[str]]:
    """Return the commands, in order."""
    python = sys.executable
    ruff = [python, "-m", "ruff"]
    return [
        [*ruff, "format", "."] if fix else [*ruff, "format", "--check", "."],
        [*ruff, "check", "--fix", "."] if fix else [*ruff, "check", "."],
        [python, "-m", "mypy"],
        [python, "-m", "pytest", "-q", "-n", "auto"],
    ]


def main() -> int:
    """Run each step; stop at the first that fails."""
    # The tests run on every core already.
    environment = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", **os.environ}
    for step in steps("--fix" in sys.argv[1:]):
        print("+", *step[1:], flush=True)
        outcome = subprocess.run(step, cwd=ROOT, env=environment, check=False)
        if outcome.returncode:
            return outcome.returncode
    return 0


if __name__ == "__main__":
    sys.exit(main())
