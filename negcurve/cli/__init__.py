"""The command line: each command parses, calls one task, prints."""

import sys
import traceback

import typer

from negcurve.cli.apply import apply_command
from negcurve.cli.output import is_verbose, print_error
from negcurve.cli.read import read_command
from negcurve.cli.target import target_command
from negcurve.errors import NegcurveError

INTERRUPTED = 130

app = typer.Typer(
    name="negcurve",
    help="Digital negatives for hand-coated contact printing.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)

app.command("target")(target_command)
app.command("apply")(apply_command)
app.command("read")(read_command)


def main() -> None:
    """Run the command line; the only place that turns errors into exit codes."""
    try:
        app()
    except NegcurveError as error:
        if is_verbose():
            traceback.print_exc(file=sys.stderr)
        print_error(error)
        sys.exit(error.exit_code)
    except SystemExit as stop:
        if stop.code == INTERRUPTED:
            sys.stderr.write("negcurve: interrupted; no incomplete file was left\n")
        raise
