"""A command as a user types it, within the process."""

from collections.abc import Callable

from typer.testing import CliRunner, Result

from negcurve.cli import app


def runner(command: str) -> Callable[..., Result]:
    """Return what runs a command; errors that it raises are raised."""

    def run(*arguments: str) -> Result:
        result = CliRunner().invoke(app, [command, *arguments])
        if result.exception and not isinstance(result.exception, SystemExit):
            raise result.exception
        return result

    return run
