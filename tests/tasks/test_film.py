"""`negcurve film` and `solve --film`, from files to files."""

import json

import numpy as np
import pytest

from negcurve import cli
from negcurve.errors import InvalidValueError, NegcurveError, ReadingsError
from negcurve.files.film_json import read_film
from negcurve.files.readings_csv import write_readings
from negcurve.plots.film_plot import film_figure
from negcurve.tasks.film import FilmOptions, film
from negcurve.tasks.solve import SolveOptions, solve
from tests.response.tablets import strip, target_print


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    path = tmp_path_factory.mktemp("film")
    write_readings(target_print(), path / "r.csv")
    write_readings(target_print(tablet=False), path / "plain.csv")
    write_readings(strip(fall=0.1), path / "s.csv")
    write_readings(strip(fall=0.1, turned=True, seed=2), path / "t.csv")
    film(
        FilmOptions(
            readings=[path / "r.csv"],
            output=path / "film.json",
            plot=path / "film.png",
            notes={"lamp": "tubes"},
        )
    )
    return path


def test_film_data_are_written_with_their_conditions(folder):
    data = read_film(folder / "film.json")
    assert data.notes == {"lamp": "tubes"}
    assert data.printer_path == {"mode": "grey", "bits": "16"}
    np.testing.assert_allclose(data.density_range, 1.9, atol=0.15)
    assert (folder / "film.png").stat().st_size > 10_000


def test_the_figure_names_its_axes(folder):
    text = [
        each.get_text()
        for each in film_figure(read_film(folder / "film.json"), None).findobj(
            lambda part: hasattr(part, "get_text")
        )
    ]
    assert "printing density, D" in text
    assert "negative level" in text


def test_readings_without_a_tablet_are_refused(folder):
    with pytest.raises(ReadingsError, match="no print carries a step tablet"):
        film(FilmOptions(readings=[folder / "plain.csv"]))


def run(monkeypatch, capsys, *words):
    monkeypatch.setattr("sys.argv", ["negcurve", *map(str, words)])
    with pytest.raises(SystemExit) as stopped:
        cli.main()
    return stopped.value.code, *capsys.readouterr()


def test_command_film_shows_levels_and_next_step(folder, monkeypatch, capsys):
    code, out, _ = run(monkeypatch, capsys, "film", folder / "r.csv", "-q")
    assert code == 0
    assert " 0.50 " in out
    assert "negcurve solve --film" in out


def test_a_table_for_a_new_paper_is_predicted_by_command(folder, monkeypatch, capsys):
    words = ["solve", "--film", folder / "film.json", "--tablet", folder / "s.csv"]
    words += ["--turned", folder / "t.csv", "-o", folder / "new.json", "--json"]
    code, out, _ = run(monkeypatch, capsys, *words)
    assert code == 0
    document = json.loads(out)
    assert document["result"]["film"]["notes"] == {"lamp": "tubes"}
    assert any("predicted" in each["what"] for each in document["findings"])
    again = solve(SolveOptions(readings=[folder / "new.json"]))
    assert again.solution.table.identity == document["result"]["table"]["identity"]


def test_a_strip_by_itself_is_listed_by_its_tablet(folder, tmp_path):
    for name, made in (("s", strip(fall=0.1)), ("t", strip(fall=0.1, turned=True))):
        rows = zip(made.tablet_density, made.density, strict=True)
        lines = [f"{tablet:.6f},{density:.6f}" for tablet, density in rows]
        text = "\n".join(["tablet_density,density", *lines])
        (tmp_path / f"{name}.csv").write_text(text)
        write_readings(made, tmp_path / f"{name}-readings.csv")
    of_lists, of_readings = (
        solve(
            SolveOptions(
                readings=[],
                film=folder / "film.json",
                tablet=[tmp_path / f"s{ending}"],
                turned=[tmp_path / f"t{ending}"],
            )
        ).solution.table.negative_level(np.linspace(0, 1, 11))
        for ending in (".csv", "-readings.csv")
    )
    np.testing.assert_allclose(of_lists, of_readings, atol=1e-4)


@pytest.mark.parametrize(
    ("name", "text", "message"),
    [
        ("a.csv", "step,density\n1,1.4\n", "no column tablet_density"),
        ("a.tif", "", "is a scan"),
        (
            "a.csv",
            "# print_state: wet\ntablet_density,density\n0.05,1.4\n",
            "was read wet",
        ),
    ],
)
def test_what_is_no_strip_is_refused(folder, tmp_path, name, text, message):
    (tmp_path / name).write_text(text)
    options = SolveOptions(
        readings=[], film=folder / "film.json", tablet=[tmp_path / name]
    )
    with pytest.raises(NegcurveError, match=message) as caught:
        solve(options)
    assert caught.value.fix


def test_another_lamp_needs_force(folder):
    options = {"readings": [], "film": folder / "film.json", "notes": {"lamp": "LED"}}
    with pytest.raises(ReadingsError, match="lamp 'tubes'"):
        solve(SolveOptions(**options, tablet=[folder / "s.csv"]))
    forced = solve(SolveOptions(**options, tablet=[folder / "s.csv"], force=True))
    assert any("lamp" in each.what for each in forced.findings)


def test_print_out_processes_carry_one_stop_at_most(folder):
    options = SolveOptions(readings=[folder / "r.csv"], stops=-1.5, process="salt")
    with pytest.raises(ReadingsError, match="prints out"):
        solve(options)
    unnamed = solve(SolveOptions(readings=[folder / "r.csv"], stops=-1.1))
    assert any("developed-out process only" in each.what for each in unnamed.findings)
    with pytest.raises(ReadingsError, match="beyond what the test shows"):
        solve(SolveOptions(readings=[folder / "r.csv"], stops=2.0))


def test_contradicting_options_are_refused(folder):
    with pytest.raises(InvalidValueError, match="both given"):
        solve(
            SolveOptions(
                readings=[folder / "plain.csv"],
                film=folder / "film.json",
                film_range=2.0,
            )
        )
    with pytest.raises(InvalidValueError, match="without film data"):
        solve(SolveOptions(readings=[], tablet=[folder / "s.csv"]))
    with pytest.raises(InvalidValueError, match="measured film"):
        solve(SolveOptions(readings=[], tablet=[folder / "s.csv"], film_range=2.0))
    with pytest.raises(InvalidValueError, match="none is named"):
        solve(SolveOptions(readings=[folder / "r.csv"], fall=0.1))
