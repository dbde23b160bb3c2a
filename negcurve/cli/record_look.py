"""`negcurve record list`, `find`, `show`, `compare`: what a record holds."""

from pathlib import Path
from typing import Annotated, Any

import typer

from negcurve.cli.options import Json, Quiet, RecordDir, Verbose
from negcurve.cli.output import print_result, set_voice
from negcurve.cli.record_options import Name
from negcurve.cli.record_text import (
    comparison_text,
    listing_text,
    plain_comparison,
    plain_entry,
    plain_shown,
    shown_text,
)

Process = Annotated[str, typer.Option(help="Only those of this process.")]
Paper = Annotated[str, typer.Option(help="Only those on this paper.")]
Newest = Annotated[bool, typer.Option("--newest", help="Only the newest.")]


def list_command(
    process: Process = "",
    paper: Paper = "",
    newest: Newest = False,
    everything: Annotated[
        bool, typer.Option("--all", help="Also those taken out of service.")
    ] = False,
    record_dir: RecordDir = None,
    as_json: Json = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """List calibrations, oldest first.

    Examples:

    \b
      negcurve record list --record-dir rec
      negcurve record list --all --json
    """
    set_voice(quiet=quiet, verbose=verbose)
    _list(
        "record-list",
        record_dir,
        as_json=as_json,
        process=process,
        paper=paper,
        newest=newest,
        retired=everything,
    )


def find_command(
    process: Process = "",
    paper: Paper = "",
    newest: Newest = False,
    record_dir: RecordDir = None,
    as_json: Json = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Find calibrations in service by process and paper.

    Examples:

    \b
      negcurve record find --process palladium --paper cotton --newest
    """
    set_voice(quiet=quiet, verbose=verbose)
    _list(
        "record-find",
        record_dir,
        as_json=as_json,
        process=process,
        paper=paper,
        newest=newest,
    )


def show_command(
    name: Name,
    record_dir: RecordDir = None,
    as_json: Json = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Show one calibration: circumstances, ends, strips and what they say.

    Examples:

    \b
      negcurve record show spring --record-dir rec
    """
    set_voice(quiet=quiet, verbose=verbose)
    from negcurve.tasks.record import show

    shown = show(record_dir, name)
    print_result(
        "record-show",
        text=shown_text(shown),
        result=plain_shown(shown),
        findings=shown.findings,
        as_json=as_json,
    )


def compare_command(
    one: Name,
    two: Name,
    record_dir: RecordDir = None,
    as_json: Json = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Compare two calibrations: circumstances, response, table.

    Examples:

    \b
      negcurve record compare spring autumn --record-dir rec
    """
    set_voice(quiet=quiet, verbose=verbose)
    from negcurve.tasks.record import compare_calibrations

    comparison = compare_calibrations(record_dir, one, two)
    print_result(
        "record-compare",
        text=comparison_text(comparison),
        result=plain_comparison(comparison),
        as_json=as_json,
    )


def _list(
    command: str, record_dir: Path | None, *, as_json: bool, **wanted: Any
) -> None:
    from negcurve.tasks.record import list_calibrations

    listing = list_calibrations(record_dir, **wanted)
    print_result(
        command,
        text=listing_text(listing),
        result={
            "folder": listing.folder.name,
            "calibrations": [
                {
                    **plain_entry(each),
                    "strips": listing.strips.get(each.key, 0),
                    "in_service": each.key not in listing.retired,
                }
                for each in listing.entries
            ],
        },
        findings=listing.findings,
        as_json=as_json,
    )
