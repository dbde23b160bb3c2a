import json

import numpy as np
import pytest
from typer.testing import CliRunner

from negcurve.cli import app
from negcurve.errors import FileError
from negcurve.simulation.scoring import PrintedError
from negcurve.tasks import demo as task
from negcurve.values import Finding


def error(rms):
    tones = np.linspace(0, 1, 3)
    return PrintedError(
        image_tone=tones, lightness=tones, aim=tones, rms=rms, worst=2 * rms,
        range_kept=0.99,
    )  # fmt: skip


class Checked:
    rms, percentile_95, worst, verdict = 0.7, 1.2, -1.4, "accept"


@pytest.fixture
def asked(monkeypatch, tmp_path):
    """Stand in for the task, which has its own tests; return what it was asked."""
    kept = []

    def stand_in(options, *, progress):
        kept.append(options)
        return task.DemoResult(
            folder=tmp_path,
            files=(tmp_path / "01-picture.tif", tmp_path / "account.txt"),
            before=error(7.5),
            after=error(0.5),
            check=Checked(),
            account="all of it in words\n",
            findings=(Finding(severity="warning", what="something to know"),),
        )

    monkeypatch.setattr(task, "demo", stand_in)
    return kept


def test_help_begins_with_examples():
    result = CliRunner().invoke(app, ["demo", "--help"])
    assert result.exit_code == 0
    assert "negcurve demo demo --seed 7 --overwrite" in result.output


def test_account_is_printed(asked, tmp_path):
    result = CliRunner().invoke(app, ["demo", str(tmp_path)])
    assert result.exit_code == 0
    assert result.stdout == f"all of it in words\n\n2 files in {tmp_path}\n"
    assert result.stderr == "warning: something to know\n"
    assert (asked[0].seed, asked[0].quick, asked[0].overwrite) == (1, False, False)


def test_json_has_the_figures(asked, tmp_path):
    result = CliRunner().invoke(
        app, ["demo", str(tmp_path), "--json", "--quick", "--seed", "7", "--overwrite"]
    )
    document = json.loads(result.stdout)
    assert document["schema"] == "negcurve/demo/1"
    assert document["result"]["straight_line"]["rms"] == 7.5
    assert document["result"]["through_table"] == {
        "rms": 0.5,
        "worst": 1.0,
        "range_kept": 0.99,
    }
    assert document["result"]["check"]["verdict"] == "accept"
    assert document["result"]["simulated"] is True
    assert document["result"]["files"] == ["01-picture.tif", "account.txt"]
    assert document["findings"][0]["what"] == "something to know"
    assert (asked[0].seed, asked[0].quick, asked[0].overwrite) == (7, True, True)


def test_errors_keep_their_class(monkeypatch, tmp_path):
    def refuse(options, *, progress):
        raise FileError("is there already", where="01-picture.tif")

    monkeypatch.setattr(task, "demo", refuse)
    result = CliRunner().invoke(app, ["demo", str(tmp_path)])
    assert isinstance(result.exception, FileError)


def test_seed_below_zero_is_refused(tmp_path):
    result = CliRunner().invoke(app, ["demo", str(tmp_path), "--seed", "-1"])
    assert result.exit_code == 2
