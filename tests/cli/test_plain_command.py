"""Plain values: converted as typer does, without what it loads for that."""

import subprocess
import sys
from pathlib import Path
from typing import Annotated

import pytest
import typer
from typer.testing import CliRunner

from negcurve.cli.plain_command import PlainCommand, PlainGroup

LOADED = """
import sys
from negcurve.cli import main
try:
    main()
except SystemExit as stop:
    print(stop.code, "pydantic" in sys.modules)
"""


def app(cls: type[typer.core.TyperCommand] | None) -> typer.Typer:
    """A program with one value of each kind, that prints what it was given."""
    program = typer.Typer(cls=PlainGroup if cls else None, add_completion=False)

    @program.command("show", cls=cls)
    def show(
        place: Path,
        word: str = "12mm",
        share: float | None = None,
        count: int = 3,
        bounded: Annotated[float, typer.Option(min=0, max=5)] = 1.0,
        many: Annotated[list[float] | None, typer.Option()] = None,
        where: Annotated[Path | None, typer.Option(envvar="NEGCURVE_TEST")] = None,
        there: bool = False,
    ) -> None:
        typer.echo(repr((place, word, share, count, bounded, many, where, there)))

    @program.callback()
    def common(loud: bool = False) -> None:
        typer.echo(loud)

    return program


@pytest.mark.parametrize(
    "words",
    [
        ["a.tif"],
        ["a.tif", "--word", "", "--share", " 0.5", "--count", "-7", "--there"],
        ["a.tif", "--share", "1e-3", "--many", "1", "--many", "2.5"],
        ["a.tif", "--share", "half"],
        ["a.tif", "--count", "2.5"],
        ["a.tif", "--bounded", "7"],
        ["a.tif", "--many", "x"],
        ["a.tif", "--share"],
        ["a.tif", "--none"],
        [],
        ["--help"],
    ],
)
def test_values_and_messages_are_those_of_typer(
    words: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("NEGCURVE_TEST", "folder")
    found, wanted = (
        CliRunner().invoke(app(cls), ["--loud", "show", *words])
        for cls in (PlainCommand, None)
    )
    assert (found.exit_code, found.output) == (wanted.exit_code, wanted.output)


def test_apply_starts_without_the_checking_library(tmp_path: Path) -> None:
    given = ["apply", "a.tif", "-o", "b.tif", "--table", "t.json", "--ppi", "360"]
    outcome = subprocess.run(
        [sys.executable, "-c", LOADED, *given],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=True,
    )
    assert outcome.stdout.split() == ["3", "False"], outcome.stderr
