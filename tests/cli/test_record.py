import json
import sys

import numpy as np
import pytest
import tifffile
from typer.testing import CliRunner

from negcurve.cli import app, main
from negcurve.files.readings_csv import write_readings
from negcurve.files.solution_json import write_solution
from negcurve.files.tiff import GreyTiffWriter
from negcurve.readings import Readings
from tests.watch.samples import made_solution, made_strip

COMMANDS = (
    "add",
    "list",
    "find",
    "show",
    "compare",
    "use",
    "retire",
    "strip",
    "drydown",
)


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("NEGCURVE_RECORD", "record")
    write_solution(made_solution(notes={"exposure": "6 min"}), "t.json")
    for k in range(3):
        write_readings(made_strip(made_solution(), seed=k), f"s{k}.csv")
    return tmp_path


def run(*arguments):
    result = CliRunner().invoke(app, list(arguments))
    if result.exception and not isinstance(result.exception, SystemExit):
        raise result.exception
    assert result.exit_code == 0, result.stderr
    return result


@pytest.fixture
def spring(folder):
    run(
        "record",
        "add",
        "t.json",
        "--name",
        "Spring",
        "--process",
        "palladium",
        "--set",
        "humidity_percent=55",
    )
    return folder


@pytest.mark.parametrize("command", COMMANDS)
def test_help_begins_with_examples(command):
    text = run("record", command, "--help").stdout
    assert text.index("Examples") < text.index("Options")
    assert f"negcurve record {command}" in text


def test_the_group_shows_examples_and_where_records_are():
    text = run("record", "--help").stdout
    assert "NEGCURVE_RECORD" in text
    assert text.index("Examples") < text.index("Commands")


def test_adding_listing_showing(spring):
    text = run("record", "list").stdout
    assert "Spring" in text
    assert "palladium" in text
    text = run("record", "show", "spring").stdout
    assert "humidity_percent: 55.0" in text
    assert "exposure: 6 min" in text
    assert "no strips yet" in text
    assert "UV light" in text
    assert "Read the current safety data sheet" in text
    found = run("record", "find", "--process", "cyanotype").stdout
    assert found.strip() == "no calibration of this kind"


def test_json_of_every_reading_command(spring):
    run("record", "add", "t.json", "--name", "autumn")
    for words, schema in (
        (("list",), "record-list"),
        (("find",), "record-find"),
        (("show", "spring"), "record-show"),
        (("compare", "spring", "autumn"), "record-compare"),
        (("use", "spring"), "record-use"),
        (("strip", "s0.csv", "--record", "spring"), "record-strip"),
    ):
        document = json.loads(run("record", *words, "--json").stdout)
        assert document["schema"] == f"negcurve/{schema}/1"


def test_a_strip_prints_its_verdict_and_exits_0(spring):
    text = run("record", "strip", "s0.csv", "--record", "spring").stdout
    assert "1 session: in control (limits provisional)" in text
    assert "next: Go on printing" in text
    assert "UV light" not in text
    write_readings(made_strip(made_solution(), seed=9, shift=0.2), "far.csv")
    result = run("record", "strip", "far.csv", "--record", "spring")
    assert "2 sessions: exposure" in result.stdout
    assert "likely causes, in order:" in result.stdout
    assert "UV light" in result.stdout
    assert "palladium salts" in result.stdout
    assert "warning: strip: exposure is off" in result.stderr


def test_a_setting_that_is_none_is_refused(spring):
    result = CliRunner().invoke(
        app, ["record", "add", "t.json", "--name", "x", "--set", "humidity"]
    )
    assert result.exit_code == 2
    assert "is not KEY=VALUE" in result.stderr


def test_a_damaged_file_is_named_and_the_rest_is_listed(spring):
    run("record", "add", "t.json", "--name", "autumn")
    broken = min((spring / "record").glob("*Z-????????.json"))
    broken.write_text(broken.read_text(encoding="utf-8")[:60], encoding="utf-8")
    result = run("record", "list")
    assert "autumn" in result.stdout or "Spring" in result.stdout
    assert f"warning: {broken.name}, line " in result.stderr


def test_no_record_exits_6_with_a_sentence(folder, monkeypatch, capsys):
    monkeypatch.setattr(sys, "argv", ["negcurve", "record", "show", "spring"])
    with pytest.raises(SystemExit) as stop:
        main()
    assert stop.value.code == 6
    assert capsys.readouterr().err == (
        "negcurve: record: does not exist\n"
        "Name another folder, or start one with `negcurve record add`.\n"
    )


def test_the_option_goes_before_the_variable(spring):
    run("record", "add", "t.json", "--name", "other", "--record-dir", "second")
    assert "other" in run("record", "list", "--record-dir", "second").stdout
    assert "other" not in run("record", "list").stdout


def test_using_prints_a_path_or_copies(spring):
    path = run("record", "use", "spring").stdout.strip()
    assert path.endswith(".solution.json")
    run("record", "use", "spring", "-o", "copy.json")
    assert (spring / "copy.json").exists()


def test_retiring_takes_it_out_of_the_list(spring):
    run("record", "retire", "spring", "--because", "new paper")
    assert "no calibration" in run("record", "list").stdout
    assert "out of service" in run("record", "list", "--all").stdout
    assert "out of service: new paper" in run("record", "show", "spring").stdout


def test_apply_takes_a_calibration_of_the_record(spring):
    with GreyTiffWriter(
        "p.tif", width=40, height=30, resolution_ppi=100, description="a picture"
    ) as writer:
        writer.write(np.full((30, 40), 30000, np.uint16))
    run("apply", "p.tif", "-o", "a.tif", "--table", "t.json", "-q")
    text = run("apply", "p.tif", "-o", "b.tif", "--record", "spring", "-q").stdout
    one, other = (tifffile.imread(spring / f"{name}.tif") for name in "ab")
    np.testing.assert_array_equal(one, other)
    assert "humidity" in text
    with pytest.raises(Exception, match="name either a table or a calibration"):
        CliRunner().invoke(
            app, ["apply", "p.tif", "-o", "c.tif"], catch_exceptions=False
        )


def test_drydown_prints_densities_and_when(folder):
    level = np.linspace(0, 1, 8)
    density = np.linspace(0.1, 1.2, 8)
    write_readings(
        Readings(negative_level=level, density=density, print_state="wet"), "w.csv"
    )
    write_readings(
        Readings(negative_level=level, density=density + 0.05, hours_dry=24), "d.csv"
    )
    text = run("record", "drydown", "--wet", "w.csv", "--dry", "d.csv").stdout
    assert "8 pairs of 1 print" in text
    assert " 0.10    0.15" in text
