"""What every command prints: results on stdout, findings and progress on stderr."""

import json
import sys
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

from negcurve import __version__
from negcurve.errors import InvalidValueError, NegcurveError

if TYPE_CHECKING:
    from negcurve.values import Finding, Progress

_state = {"quiet": False, "verbose": False}


def set_voice(*, quiet: bool, verbose: bool) -> None:
    """Say how much this command prints; called first by every command."""
    _state.update(quiet=quiet, verbose=verbose)


def is_verbose() -> bool:
    """Tell whether `--verbose` was given."""
    return _state["verbose"]


def print_error(error: NegcurveError, options: Mapping[str, str]) -> None:
    """Print an error as `negcurve: where: what`, then the remedy.

    Parameters
    ----------
    error : NegcurveError
    options : mapping of str to str
        Names of the command's values, such as `black_share`, to its options; a value
        out of range is so named as it was typed.
    """
    if isinstance(error, InvalidValueError):
        where = options.get(error.where.replace(" ", "_"), error.where)
        error = InvalidValueError(error.what, where=where, fix=error.fix)
    sys.stderr.write(f"negcurve: {error}\n")


def print_findings(findings: Iterable["Finding"]) -> None:
    """Print findings on stderr; notes are left out when quiet."""
    for finding in findings:
        if finding.severity == "warning" or not _state["quiet"]:
            sys.stderr.write(f"{finding}\n")


def print_result(
    command: str,
    *,
    text: str,
    result: Mapping[str, Any],
    findings: Iterable["Finding"] = (),
    as_json: bool = False,
) -> None:
    """Print a command's result.

    Parameters
    ----------
    command : str
        Names the schema: `negcurve/COMMAND/1`.
    text : str
        For people; printed on stdout unless `as_json`.
    result : mapping
        For machines; plain values only, NaN is written as null.
    findings : iterable of Finding
        On stderr as text, or inside the JSON.
    as_json : bool
        Which of the two to print.
    """
    kept = tuple(findings)
    if not as_json:
        sys.stdout.write(text.rstrip("\n") + "\n")
        print_findings(kept)
        return
    document = {
        "schema": f"negcurve/{command}/1",
        "version": __version__,
        "result": plain(result),
        "findings": [
            {"severity": f.severity, "where": f.where, "what": f.what, "fix": f.fix}
            for f in kept
        ],
    }
    sys.stdout.write(json.dumps(document, indent=1, allow_nan=False) + "\n")


def plain(value: Any) -> Any:
    """Turn arrays, tuples, paths and NaN into what JSON can hold."""
    if isinstance(value, Mapping):
        return {str(key): plain(each) for key, each in value.items()}
    if hasattr(value, "tolist"):
        return plain(value.tolist())
    if isinstance(value, (list, tuple, set, frozenset)):
        return [plain(each) for each in value]
    if isinstance(value, float):
        return value if abs(value) < float("inf") else None
    if value is None or isinstance(value, (str, int, bool)):
        return value
    return str(value)


def _no_progress(_what: str, _share: float) -> None:
    pass


@contextmanager
def progress_bar() -> Iterator["Progress"]:
    """Yield a `Progress` that draws on stderr, or nothing when quiet or no terminal."""
    if _state["quiet"] or not sys.stderr.isatty():
        yield _no_progress
        return
    from rich.console import Console
    from rich.progress import Progress as Bar

    with Bar(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("", total=1.0)
        yield lambda what, share: bar.update(task, description=what, completed=share)
