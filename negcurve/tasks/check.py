"""Check a print against the aim of the table it was made through."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from negcurve.files.readings_csv import read_readings
from negcurve.files.safe import check_outputs, write_text
from negcurve.files.solution_json import read_solution
from negcurve.plots.check_plot import check_figure
from negcurve.plots.style import save_figure
from negcurve.response.checking import check as check_readings
from negcurve.response.solution import Solution
from negcurve.response.verdict import Check
from negcurve.values import Finding, Progress, no_progress

COLUMNS = (
    "image_tone",
    "printed_lightness",
    "aim_lightness",
    "lightness_error",
    "printed_density",
    "aim_density",
    "density_error",
    "standard_error",
)
"""Columns of the CSV, each an attribute of `Check`."""


@dataclass(frozen=True, eq=False, kw_only=True)
class CheckOptions:
    """What `check` takes.

    Attributes
    ----------
    readings : sequence of path
        Readings files of one print.
    table : path or Solution
        The solution whose table it was printed through.
    sheet_error : float, optional
        Spread from print to print, standard deviation; the solution's if not given.
        [D]
    output : path, optional
        CSV of the errors, tone by tone.
    plot : path, optional
        PNG or SVG.
    overwrite : bool
        Replace output files that exist.
    """

    readings: Sequence[Path | str]
    table: Path | str | Solution
    sheet_error: float | None = None
    output: Path | str | None = None
    plot: Path | str | None = None
    overwrite: bool = False


@dataclass(frozen=True, eq=False, kw_only=True)
class CheckResult:
    """What came of it.

    Attributes
    ----------
    check : Check
    solution : Solution
    output, plot : path or None
        Files that were written.
    findings : tuple of Finding
    """

    check: Check
    solution: Solution
    output: Path | None
    plot: Path | None
    findings: tuple[Finding, ...]


def check(options: CheckOptions, *, progress: Progress = no_progress) -> CheckResult:
    """Check readings files against a table and write plot and CSV.

    Parameters
    ----------
    options : CheckOptions
    progress : Progress

    Returns
    -------
    CheckResult

    Raises
    ------
    NegcurveError
        If inputs cannot be used or outputs cannot be written.
    """
    outputs = [each for each in (options.output, options.plot) if each is not None]
    inputs = [*options.readings]
    if not isinstance(options.table, Solution):
        inputs.append(options.table)
    found = check_outputs(outputs, overwrite=options.overwrite, inputs=inputs)
    progress("reading", 0.0)
    solution = options.table
    if not isinstance(solution, Solution):
        solution = read_solution(solution)
    readings = [read_readings(path) for path in options.readings]
    progress("checking", 0.2)
    result = check_readings(readings, solution, sheet_error=options.sheet_error)
    progress("writing", 0.8)
    if options.plot is not None:
        figure = check_figure(result, solution)
        save_figure(figure, options.plot, overwrite=options.overwrite)
    if options.output is not None:
        write_text(options.output, _csv(result), overwrite=options.overwrite)
    return CheckResult(
        check=result,
        solution=solution,
        output=None if options.output is None else Path(options.output),
        plot=None if options.plot is None else Path(options.plot),
        findings=(*found, *result.findings),
    )


def _csv(result: Check) -> str:
    columns = [getattr(result, name) for name in COLUMNS]
    rows = [
        ",".join(f"{value:.4f}" for value in row) for row in np.column_stack(columns)
    ]
    return "\n".join([",".join(COLUMNS), *rows]) + "\n"
