"""The command line: each command parses, calls one task, prints."""

import sys
import traceback
from copy import copy
from typing import Annotated, Any

import typer

from negcurve import __version__
from negcurve.cli.apply import apply_command
from negcurve.cli.bath import bath_command
from negcurve.cli.check import check_command
from negcurve.cli.demo import demo_command
from negcurve.cli.evenness import evenness_command
from negcurve.cli.export import export_command
from negcurve.cli.expose import expose_command
from negcurve.cli.film import film_command
from negcurve.cli.mix import mix_command
from negcurve.cli.output import is_verbose, print_error
from negcurve.cli.plain_command import PlainCommand, PlainGroup
from negcurve.cli.read import read_command
from negcurve.cli.record import record_app
from negcurve.cli.report import report_command
from negcurve.cli.solve import solve_command
from negcurve.cli.tablet import tablet_command
from negcurve.cli.target import target_command
from negcurve.errors import NegcurveError

INTERRUPTED = 130


def _print_version(wanted: bool) -> None:
    if wanted:
        sys.stdout.write(f"negcurve {__version__}\n")
        raise typer.Exit


app = typer.Typer(
    name="negcurve",
    cls=PlainGroup,
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)

app.command("demo", cls=PlainCommand)(demo_command)
app.command("target", cls=PlainCommand)(target_command)
app.command("apply", cls=PlainCommand)(apply_command)
app.command("read", cls=PlainCommand)(read_command)
app.command("solve", cls=PlainCommand)(solve_command)
app.command("check", cls=PlainCommand)(check_command)
app.command("film", cls=PlainCommand)(film_command)
app.command("export", cls=PlainCommand)(export_command)
app.command("tablet", cls=PlainCommand)(tablet_command)
app.command("expose", cls=PlainCommand)(expose_command)
app.command("mix", cls=PlainCommand)(mix_command)
app.command("bath", cls=PlainCommand)(bath_command)

app.add_typer(record_app, name="record")
app.command("evenness", cls=PlainCommand)(evenness_command)
app.command("report", cls=PlainCommand)(report_command)


@app.callback()
def _common(
    version: Annotated[
        bool,
        typer.Option(
            "--version", callback=_print_version, is_eager=True, help="Print it, stop."
        ),
    ] = False,
) -> None:
    """Digital negatives for hand-coated contact printing.

    Begin with `negcurve demo DIR`: the whole job on simulated film, paper and
    scanner. `negcurve COMMAND --help` shows examples first.
    """


def _option_names(words: list[str]) -> dict[str, str]:
    """Return the typed command's options, by the names of their values."""
    command: Any = typer.main.get_command(app)
    for word in words:
        command = getattr(command, "commands", {}).get(word, command)
    long = ((each.name, max(each.opts, key=len)) for each in command.params)
    return {name: option for name, option in long if option.startswith("--")}


def _asked_for(words: list[str]) -> typer.Typer:
    """Return the program with no other command than the one that is typed.

    typer builds the options of every command before it reads what is typed: time that
    each start would wait for.
    """
    typed = [each for each in app.registered_commands if each.name in words[:1]]
    if not typed:
        return app
    program = copy(app)
    program.registered_commands, program.registered_groups = typed, []
    return program


def main() -> None:
    """Run the command line; the only place that turns errors into exit codes."""
    try:
        _asked_for(sys.argv[1:])()
    except NegcurveError as error:
        if is_verbose():
            traceback.print_exc(file=sys.stderr)
        print_error(error, _option_names(sys.argv[1:]))
        sys.exit(error.exit_code)
    except SystemExit as stop:
        if stop.code == INTERRUPTED:
            sys.stderr.write("negcurve: interrupted; no incomplete file was left\n")
        raise
