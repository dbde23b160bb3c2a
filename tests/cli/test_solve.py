import json

import pytest

from negcurve.errors import ReadingsError
from negcurve.files.readings_csv import write_readings
from negcurve.files.solution_json import read_solution
from tests.cli.running import runner
from tests.response.prints import placed, readings_of


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    write_readings(placed(readings_of(count=40, sheet="one")), "r.csv")
    return tmp_path


run = runner("solve")


def test_help_begins_with_examples():
    text = run("--help").stdout
    assert text.index("Examples") < text.index("Options")
    assert "negcurve solve readings.csv -o table.json" in text


def test_the_text_tells_ends_domain_noise_band_and_next_step(folder):
    result = run("r.csv", "-o", "t.json", "--note", "exposure=6 min")
    assert result.exit_code == 0
    ends = read_solution("t.json").ends
    for part in (
        f"black  D {ends.black_density:.2f}  L* {ends.black_lightness:4.1f}",
        f"white  D {ends.white_density:.2f}  L* {ends.white_lightness:4.1f}",
        "rising from level 0.000 to 1.000",
        "noise of one reading 0.0",
        "D of the next print",
        "exposure: 6 min",
        "wrote t.json",
        "next: negcurve target second.tif --table t.json",
    ):
        assert part in result.stdout
    assert "note: band: 90 % band on printed L*" in result.stderr


def test_json_holds_the_table(folder):
    result = run("r.csv", "--json")
    document = json.loads(result.stdout)
    assert document["schema"] == "negcurve/solve/1"
    table = document["result"]["table"]
    assert table["image_tone"][0] == 0
    assert table["negative_level"][0] > table["negative_level"][-1]
    assert document["result"]["ends"]["black_reached"] is True
    assert any(each["where"] == "band" for each in document["findings"])


def test_without_output_the_next_step_is_to_keep_it(folder):
    assert "next: keep the table with -o table.json" in run("r.csv").stdout
    assert [each.name for each in folder.iterdir()] == ["r.csv"]


def test_several_prints_are_listed(folder):
    write_readings(readings_of(count=40, sheet="two", seed=5), "s.csv")
    text = run("r.csv", "s.csv").stdout
    assert "80 readings of 2 prints" in text
    assert "print one: offset " in text
    assert "print two: offset " in text


def test_a_note_needs_a_key_and_a_value(folder):
    result = run("r.csv", "--note", "six minutes")
    assert result.exit_code == 2
    assert "is not key=value" in result.stderr


def test_bad_readings_raise_what_main_prints(folder):
    write_readings(readings_of(count=6), "few.csv")
    with pytest.raises(ReadingsError) as caught:
        run("few.csv")
    assert caught.value.exit_code == 4
