import json

import numpy as np
import pytest

from negcurve.files.readings_csv import write_readings
from negcurve.readings import Readings
from tests.cli.running import runner


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    x, y = (
        each.ravel()
        for each in np.meshgrid(np.linspace(10, 190, 9), np.linspace(10, 240, 10))
    )
    noise = np.random.default_rng(1).normal(0, 0.01, len(x))
    write_readings(
        Readings(
            negative_level=np.full(len(x), 0.5),
            density=0.7 + 0.1 * (x / 200 - 0.5) + noise,
            x_mm=x,
            y_mm=y,
        ),
        "grey.csv",
    )
    return tmp_path


run = runner("evenness")


def test_help_begins_with_examples():
    text = run("--help").stdout
    assert text.index("Examples") < text.index("Options")
    assert "negcurve evenness grey.tif --plot map.png" in text


def test_the_text_has_numbers_and_what_to_do(folder):
    result = run("grey.csv", "--plot", "map.svg")
    assert result.exit_code == 0
    assert "1 sheet of 200 x 250 mm" in result.stdout
    assert "wrote map.svg" in result.stdout
    assert "darker towards the right" in result.stderr
    assert "second sheet turned by 180 degrees" in result.stderr


def test_json(folder):
    document = json.loads(run("grey.csv", "--json").stdout)
    assert document["schema"] == "negcurve/evenness/1"
    assert document["result"]["tilt"][0] == pytest.approx(0.1, abs=0.03)
    assert document["result"]["causes"][0]["mark"] == "tilt"
