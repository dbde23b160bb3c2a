import json

import numpy as np
import pytest

from negcurve.errors import FileError, InvalidValueError, ReadingsError
from negcurve.files.readings_csv import write_readings
from negcurve.files.solution_json import read_solution
from negcurve.tasks.solve import SolveOptions, solve
from tests.response.prints import placed, readings_of


@pytest.fixture
def folder(tmp_path):
    write_readings(placed(readings_of(count=40, sheet="one")), tmp_path / "one.csv")
    second = readings_of(count=40, sheet="two", seed=8, offset=0.02)
    write_readings(second, tmp_path / "two.csv")
    return tmp_path


def test_it_writes_solution_and_plot(folder):
    result = solve(
        SolveOptions(
            readings=[folder / "one.csv"],
            output=folder / "t.json",
            plot=folder / "t.png",
            notes={"exposure": "6 min"},
        )
    )
    assert read_solution(folder / "t.json") == result.solution
    assert (folder / "t.png").read_bytes().startswith(b"\x89PNG")
    assert result.solution.notes == {"exposure": "6 min"}
    assert sorted(each.name for each in folder.iterdir()) == [
        "one.csv",
        "t.json",
        "t.png",
        "two.csv",
    ]


def test_an_old_solution_is_repeated(folder):
    options = SolveOptions(
        readings=[folder / "one.csv"], output=folder / "t.json", aim="density"
    )
    first = solve(options).solution
    again = solve(
        SolveOptions(readings=[folder / "t.json"], output=folder / "again.json")
    )
    assert again.solution == first
    assert (folder / "t.json").read_text() == (folder / "again.json").read_text()


def test_an_old_solution_takes_new_readings_and_options(folder):
    solve(SolveOptions(readings=[folder / "one.csv"], output=folder / "t.json"))
    result = solve(
        SolveOptions(
            readings=[folder / "t.json", folder / "two.csv"],
            black_share=0.9,
            follow_newest=True,
        )
    )
    assert [each.sheet for each in result.solution.readings] == ["one", "two"]
    assert result.solution.ends.black_share == 0.9
    assert result.solution.options["follow_newest"]
    assert result.output is None


def test_an_aim_from_a_file_survives_the_file(folder):
    aim = folder / "aim.csv"
    aim.write_text("image_tone,lightness\n0,25\n0.5,60\n1,88\n")
    options = SolveOptions(
        readings=[folder / "one.csv"], aim=str(aim), output=folder / "t.json"
    )
    first = solve(options).solution
    np.testing.assert_allclose(first.aim.lightness([0, 0.5, 1]), [25, 60, 88])
    aim.unlink()
    assert solve(SolveOptions(readings=[folder / "t.json"])).solution == first


def test_one_solution_matches_another(folder):
    solve(SolveOptions(readings=[folder / "one.csv"], output=folder / "a.json"))
    result = solve(SolveOptions(readings=[folder / "two.csv"], match=folder / "a.json"))
    assert result.solution.aim.name == "match a.json"
    with pytest.raises(InvalidValueError, match="both given"):
        solve(
            SolveOptions(
                readings=[folder / "two.csv"], match=folder / "a.json", aim="density"
            )
        )


def test_outputs_are_checked_before_any_work(folder):
    (folder / "t.json").write_text("mine")
    calls = []
    options = SolveOptions(readings=[folder / "one.csv"], output=folder / "t.json")
    with pytest.raises(FileError):
        solve(options, progress=lambda what, share: calls.append(what))
    assert calls == []
    assert (folder / "t.json").read_text() == "mine"


def test_an_input_is_never_the_output(folder):
    solve(SolveOptions(readings=[folder / "one.csv"], output=folder / "t.json"))
    kept = (folder / "t.json").read_text()
    with pytest.raises(FileError):
        solve(
            SolveOptions(
                readings=[folder / "t.json"], output=folder / "t.json", overwrite=True
            )
        )
    assert json.loads((folder / "t.json").read_text()) == json.loads(kept)


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"readings": []}, "no readings named"),
        ({"aim": "contrast"}, "'contrast' is neither an aim that is known nor a file"),
    ],
)
def test_slips_are_refused(folder, options, message):
    given = {"readings": [folder / "one.csv"], **options}
    with pytest.raises(InvalidValueError, match=message):
        solve(SolveOptions(**given))


def test_prints_of_different_kinds_do_not_match(folder):
    solve(SolveOptions(readings=[folder / "one.csv"], output=folder / "t.json"))
    for changes, said in (
        ({"density_kind": "visual"}, "the readings are of visual density"),
        ({"density_zero": "paper"}, "are of luminance density above paper"),
    ):
        other = readings_of(count=40, sheet="two").replaced(**changes)
        write_readings(other, folder / "other.csv", overwrite=True)
        with pytest.raises(ReadingsError, match=said):
            solve(
                SolveOptions(readings=[folder / "other.csv"], match=folder / "t.json")
            )
    solve(SolveOptions(readings=[folder / "two.csv"], match=folder / "t.json"))


def test_two_old_solutions_are_refused(folder):
    for name in ("a.json", "b.json"):
        solve(SolveOptions(readings=[folder / "one.csv"], output=folder / name))
    with pytest.raises(InvalidValueError, match="2 old solutions named"):
        solve(SolveOptions(readings=[folder / "a.json", folder / "b.json"]))


def test_a_name_of_another_kind_is_refused(tmp_path):
    with pytest.raises(FileError, match=r"ends in \.json"):
        solve(SolveOptions(readings=[tmp_path / "r.csv"], output=tmp_path / "t.csv"))
