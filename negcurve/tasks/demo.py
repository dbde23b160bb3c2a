"""The whole job on a simulated darkroom, with every file that a user would have.

The commands' own tasks do the work; the simulation only stands in for printer, film,
lamp, paper and scanner, and knows the truth that the result is measured against.
"""

from dataclasses import dataclass
from pathlib import Path

from negcurve.errors import FileError
from negcurve.files.safe import check_outputs, file_errors, write_text
from negcurve.negative.tones import STRAIGHT
from negcurve.response.solution import Solution
from negcurve.response.verdict import Check
from negcurve.simulation.scoring import PrintedError, printed_error
from negcurve.simulation.setups import demo_set_up
from negcurve.tasks.demo_steps import (
    BLACK_SHARE,
    first_round,
    second_round,
    write_before_after,
    write_negatives,
    write_picture,
)
from negcurve.tasks.demo_work import FILES, QUICK, Sizes, Work
from negcurve.values import Finding, Progress, no_progress

CAUTION = (
    "Printing for real means UV light and toxic metal salts: follow the safety data "
    "sheets, shield eyes and skin, keep to local rules on waste."
)


@dataclass(frozen=True, kw_only=True)
class DemoOptions:
    """What `demo` takes.

    Attributes
    ----------
    folder : path
        Where the files go; made where it is missing.
    seed : int
        Of everything that is left to chance: coating, grain, dust, noise.
    quick : bool
        A smaller sheet and picture.
    overwrite : bool
        Replace files that exist.
    """

    folder: Path | str
    seed: int = 1
    quick: bool = False
    overwrite: bool = False


@dataclass(frozen=True, eq=False, kw_only=True)
class DemoResult:
    """What the demo measured.

    Attributes
    ----------
    folder : Path
    files : tuple of Path
        Written, in the order of the work.
    before, after : PrintedError
        Of the straight line and of the table, from the simulation's true response.
    check : Check
        What the user sees of it: the scan of the second print against its aim.
    account : str
        All of it in words.
    findings : tuple of Finding
        What the tasks brought up, as they would to a user.
    """

    folder: Path
    files: tuple[Path, ...]
    before: PrintedError
    after: PrintedError
    check: Check
    account: str
    findings: tuple[Finding, ...] = ()


def demo(options: DemoOptions, *, progress: Progress = no_progress) -> DemoResult:
    """Do the whole job once: target, print, scan, table, negative, print, check.

    Parameters
    ----------
    options : DemoOptions
    progress : Progress
        Told what is being done and how far it is.

    Returns
    -------
    DemoResult

    Raises
    ------
    FileError
        If the folder cannot be written to, or holds files of an earlier run and
        `overwrite` is not set.
    """
    folder = Path(options.folder)
    _make_folder(folder)
    files = tuple(folder / name for name in FILES)
    found = check_outputs(files, overwrite=options.overwrite)
    work = Work(
        folder=folder,
        set_up=demo_set_up(),
        sizes=QUICK if options.quick else Sizes(),
        chance=options.seed,
        overwrite=options.overwrite,
        progress=progress,
    )
    write_picture(work)
    solution = first_round(work)
    write_negatives(work, solution)
    checked = second_round(work, solution)
    density = work.set_up.darkroom.density
    before, after = (
        printed_error(density, table.negative_level, black_share=BLACK_SHARE)
        for table in (STRAIGHT, solution.table)
    )
    write_before_after(work, before, after)
    account = _account(work, solution, checked, before, after)
    write_text(folder / "account.txt", account, overwrite=options.overwrite)
    work.tell("done", 1.0)
    return DemoResult(
        folder=folder,
        files=files,
        before=before,
        after=after,
        check=checked,
        account=account,
        findings=(*found, *work.findings),
    )


def _make_folder(folder: Path) -> None:
    if folder.exists() and not folder.is_dir():
        raise FileError(
            "is a file; the demo writes into a folder",
            where=str(folder),
            fix="Name a folder; it is made where it is missing.",
        )
    with file_errors(folder):
        folder.mkdir(parents=True, exist_ok=True)


def _account(
    work: Work,
    solution: Solution,
    checked: Check,
    before: PrintedError,
    after: PrintedError,
) -> str:
    set_up, ends = work.set_up, solution.ends
    lines = [
        "negcurve demo: everything below is simulated, the work is not.",
        f"  {set_up.darkroom.film.name}, {set_up.darkroom.paper.name}, "
        f"{set_up.darkroom.lamp.name}, {set_up.scanner.name}.",
        "",
        f"1  A target of {work.sizes.levels} levels x 2 on {work.sizes.sheet}, printed "
        "and scanned.",
        f"2  Its table {solution.table.identity}: black D {ends.black_density:.2f}, "
        f"white D {ends.white_density:.2f}, read to "
        f"D {solution.noise:.3f} a patch.",
        "3  The negative of a picture through the table.",
        "4  A second target, printed through the table, scanned and checked: "
        f"{checked.rms:.1f} L* rms, worst {checked.worst:+z.1f}, "
        f"verdict: {checked.verdict}.",
        "",
        "Printed error against the aim, from the simulation's true response (L*):",
        "                          rms   worst   range kept",
        _row("straight-line negative", before),
        _row("through the table", after),
        "",
        f"Look first at {FILES[-2]}, 04-overlay.png and 05-plot.png.",
        CAUTION,
    ]
    return "\n".join(lines) + "\n"


def _row(name: str, error: PrintedError) -> str:
    return (
        f"  {name:<22}  {error.rms:5.2f}   {error.worst:5.2f}        "
        f"{error.range_kept:.3f}"
    )
