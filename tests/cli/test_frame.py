"""What every command has in common: help, exit codes, where things are printed."""

import json
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from negcurve import cli
from negcurve.cli import output
from negcurve.errors import (
    FileError,
    InvalidValueError,
    NegcurveError,
    ReadingsError,
    SolveError,
)
from negcurve.values import Finding


def run(*arguments: str, **environment: str) -> subprocess.CompletedProcess[str]:
    inherited = {k: v for k, v in os.environ.items() if k != "FORCE_COLOR"}
    return subprocess.run(
        [sys.executable, "-c", "from negcurve.cli import main; main()", *arguments],
        capture_output=True,
        text=True,
        check=False,
        env={**inherited, **environment},
    )


def raising(monkeypatch: pytest.MonkeyPatch, error: BaseException) -> None:
    def app() -> None:
        raise error

    monkeypatch.setattr(cli, "_asked_for", lambda words: app)


@pytest.mark.parametrize(
    ("kind", "code"),
    [(InvalidValueError, 2), (FileError, 3), (ReadingsError, 4), (SolveError, 5)],
)
def test_errors_print_a_sentence_and_exit_with_their_code(
    kind: type[NegcurveError],
    code: int,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    raising(monkeypatch, kind("is not there", where="a.tif", fix="Look elsewhere."))
    with pytest.raises(SystemExit) as stop:
        cli.main()
    assert stop.value.code == code
    assert capsys.readouterr() == (
        "",
        "negcurve: a.tif: is not there\nLook elsewhere.\n",
    )


@pytest.mark.parametrize(
    ("words", "where", "shown"),
    [
        (["solve", "r.csv"], "black_share", "--black-share"),
        (["tablet"], "film density", "--film-density"),
        (["record", "add"], "remark", "--remark"),
        (["solve", "r.csv"], "something else", "something else"),
        (["mix"], "size", "size"),  # an argument, typed without its name
    ],
)
def test_a_value_is_named_by_its_option(
    words: list[str],
    where: str,
    shown: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    raising(monkeypatch, InvalidValueError("cannot be", where=where))
    monkeypatch.setattr(sys, "argv", ["negcurve", *words])
    with pytest.raises(SystemExit):
        cli.main()
    assert capsys.readouterr().err == f"negcurve: {shown}: cannot be\n"


def test_verbose_adds_the_traceback(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    output.set_voice(quiet=False, verbose=True)
    raising(monkeypatch, FileError("is not there"))
    with pytest.raises(SystemExit):
        cli.main()
    output.set_voice(quiet=False, verbose=False)
    assert "Traceback" in capsys.readouterr().err


def test_anything_else_that_escapes_is_a_bug(monkeypatch: pytest.MonkeyPatch) -> None:
    raising(monkeypatch, RuntimeError("a bug"))
    with pytest.raises(RuntimeError, match="a bug"):
        cli.main()


def test_interruption_says_so(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    raising(monkeypatch, SystemExit(130))
    with pytest.raises(SystemExit) as stop:
        cli.main()
    assert stop.value.code == 130
    assert "interrupted" in capsys.readouterr().err


def test_unknown_command_is_a_usage_error() -> None:
    outcome = run("develop")
    assert outcome.returncode == 2
    assert "develop" in outcome.stderr
    assert outcome.stdout == ""


def test_help_loads_no_numeric_library() -> None:
    code = (
        "import sys; import negcurve.cli; "
        "heavy = ('numpy', 'scipy', 'matplotlib', 'PIL'); "
        "print([name for name in heavy if name in sys.modules])"
    )
    outcome = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert outcome.stdout.strip() == "[]"


def test_no_colour_when_asked() -> None:
    assert "\x1b[" not in run("--help", NO_COLOR="1").stdout


def test_json_holds_schema_version_result_and_findings(
    capsys: pytest.CaptureFixture[str],
) -> None:
    output.print_result(
        "check",
        text="not shown",
        result={"a": np.array([1.0, np.nan]), "b": Path("x"), "c": (1, "d", None)},
        findings=[Finding(severity="note", where="a", what="b", fix="c")],
        as_json=True,
    )
    document = json.loads(capsys.readouterr().out)
    assert document["schema"] == "negcurve/check/1"
    assert document["result"] == {"a": [1.0, None], "b": "x", "c": [1, "d", None]}
    assert document["findings"] == [
        {"severity": "note", "where": "a", "what": "b", "fix": "c"}
    ]


def test_quiet_keeps_warnings(capsys: pytest.CaptureFixture[str]) -> None:
    output.set_voice(quiet=True, verbose=False)
    output.print_result(
        "check",
        text="the result",
        result={},
        findings=[
            Finding(severity="note", what="left out"),
            Finding(severity="warning", where="w", what="kept", fix="Mend it."),
        ],
    )
    output.set_voice(quiet=False, verbose=False)
    assert capsys.readouterr() == ("the result\n", "warning: w: kept. Mend it.\n")
