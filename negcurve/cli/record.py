"""`negcurve record`: keep calibrations, watch them with strips, learn dry-down."""

import typer

from negcurve.cli.record_keep import add_command, retire_command, use_command
from negcurve.cli.record_look import (
    compare_command,
    find_command,
    list_command,
    show_command,
)
from negcurve.cli.record_watch import drydown_command, strip_command

record_app = typer.Typer(
    no_args_is_help=True,
    context_settings={"help_option_names": ["-h", "--help"]},
    help="""Keep calibrations with their circumstances, and watch them with strips.

Examples:

\b
  negcurve record add table.json --name "matt, spring" --set paper=cotton
  negcurve record list --process palladium
  negcurve record strip strip.csv --record "matt, spring" --plot history.png
  negcurve apply picture.tif -o negative.tif --record "matt, spring"

The record is a folder: --record-dir DIR, or the variable NEGCURVE_RECORD. There
is no other, hidden place. Entries are only added, never changed.
""",
)

record_app.command("add")(add_command)
record_app.command("list")(list_command)
record_app.command("find")(find_command)
record_app.command("show")(show_command)
record_app.command("compare")(compare_command)
record_app.command("use")(use_command)
record_app.command("retire")(retire_command)
record_app.command("strip")(strip_command)
record_app.command("drydown")(drydown_command)
