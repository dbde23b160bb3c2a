"""`negcurve demo`: the whole job on a simulated darkroom."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from negcurve.cli.options import Json, Overwrite, Quiet, Verbose
from negcurve.cli.output import print_result, progress_bar, set_voice

if TYPE_CHECKING:
    from negcurve.simulation.scoring import PrintedError
    from negcurve.tasks.demo import DemoResult


def demo_command(
    folder: Annotated[
        Path, typer.Argument(help="Where the files go; made where it is missing.")
    ],
    seed: Annotated[
        int,
        typer.Option(help="Another number: other coating, grain, dust, noise.", min=0),
    ] = 1,
    quick: Annotated[
        bool, typer.Option("--quick", help="A smaller sheet and picture.")
    ] = False,
    overwrite: Overwrite = False,
    as_json: Json = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Do the whole job once, on simulated film, paper and scanner.

    Examples:

    \b
      negcurve demo demo
      negcurve demo demo --seed 7 --overwrite
      negcurve demo demo --quick --json

    Prints, scans and reads a target, solves, makes the negative of an invented
    picture, prints a second target through the table and checks it. The folder
    then holds every file that a user would have, a plot, and the picture's print
    before and after.
    """
    set_voice(quiet=quiet, verbose=verbose)
    from negcurve.tasks.demo import DemoOptions, demo

    options = DemoOptions(folder=folder, seed=seed, quick=quick, overwrite=overwrite)
    with progress_bar() as progress:
        result = demo(options, progress=progress)
    print_result(
        "demo",
        text=f"{result.account}\n{len(result.files)} files in {result.folder}",
        result=_plain(result),
        findings=result.findings,
        as_json=as_json,
    )


def _plain(result: "DemoResult") -> dict[str, Any]:
    return {
        "folder": result.folder,
        "files": [each.name for each in result.files],
        "simulated": True,
        "straight_line": _error(result.before),
        "through_table": _error(result.after),
        "check": {
            "rms": result.check.rms,
            "percentile_95": result.check.percentile_95,
            "worst": result.check.worst,
            "verdict": result.check.verdict,
        },
    }


def _error(error: "PrintedError") -> dict[str, float]:
    return {
        "rms": error.rms,
        "worst": error.worst,
        "range_kept": error.range_kept,
    }
