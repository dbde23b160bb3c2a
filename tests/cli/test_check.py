import json

import numpy as np
import pytest

from negcurve.files.readings_csv import write_readings
from negcurve.files.solution_json import write_solution
from negcurve.response.solving import solve
from tests.cli.running import runner
from tests.response.prints import readings_of


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    solution = solve([readings_of(count=40)])
    write_solution(solution, "t.json")
    level = solution.table.negative_level(np.linspace(0, 1, 31))
    for name, offset in (("good", 0.0), ("far", 0.3)):
        second = readings_of(negative_level=level, sheet=name, seed=6, offset=offset)
        write_readings(second, f"{name}.csv")
    return tmp_path


run = runner("check")


def test_help_begins_with_examples():
    text = run("--help").stdout
    assert text.index("Examples") < text.index("Options")
    assert "negcurve check second.csv --table table.json" in text


def test_the_text_has_errors_tones_and_verdict(folder):
    result = run("good.csv", "--table", "t.json", "-o", "c.csv")
    assert result.exit_code == 0
    assert "L* rms, 95 % within" in result.stdout
    assert "tone   aim L*  print L*  error L*" in result.stdout
    assert "verdict: accept." in result.stdout
    assert "(common practice, unverified)" in result.stdout
    assert "wrote c.csv" in result.stdout


def test_exit_is_0_whatever_the_verdict(folder):
    result = run("far.csv", "--table", "t.json")
    assert result.exit_code == 0
    assert "verdict: look for a cause." in result.stdout
    assert "warning: print: " in result.stderr


def test_json(folder):
    document = json.loads(run("good.csv", "--table", "t.json", "--json").stdout)
    assert document["schema"] == "negcurve/check/1"
    result = document["result"]
    assert result["verdict"] == "accept"
    assert result["unevenness"] is None
    assert len(result["tones"]["image_tone"]) == 31
    error = np.subtract(
        result["tones"]["printed_lightness"], result["tones"]["aim_lightness"]
    )
    assert result["lightness"]["rms"] == pytest.approx(np.sqrt(np.mean(error**2)))


def test_the_table_is_needed(folder):
    assert run("good.csv").exit_code == 2
