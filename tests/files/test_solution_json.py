import json
from dataclasses import replace

import numpy as np
import pytest

from negcurve.errors import FileError
from negcurve.files.solution_json import read_solution, solution_text, write_solution
from negcurve.response.aim import Aim
from negcurve.response.solving import solve, solve_again
from tests.response.prints import placed, readings_of


@pytest.fixture(scope="module")
def solution():
    """One with every part: two prints, a field, flags, gaps, findings, notes."""
    first = placed(readings_of(count=60, source="a.csv", hours_dry=24.0))
    flags = [frozenset({"uneven"})] + [frozenset()] * 59
    first = first.replaced(flags=flags, printer_path={"mode": "grey"})
    aim = Aim(name="w.csv", tone_nodes=[0, 0.3, 1], density_nodes=[2, 0.9, 0.1])
    return solve(
        [first, readings_of(sheet="2", seed=4)], aim=aim, notes={"lamp": "tübes"}
    )


def test_a_solution_reads_back_equal(solution, tmp_path):
    path = tmp_path / "t.json"
    write_solution(solution, path)
    again = read_solution(path)
    assert again == solution
    assert again.unevenness
    assert again.sheet_effects
    assert again.table.identity == solution.table.identity
    assert np.isnan(again.readings[1].x_mm).all()
    assert again.readings[0].flags[0] == {"uneven"}


def test_equality_sees_any_change(solution):
    assert solution != replace(solution, noise=solution.noise + 1e-9)
    assert solution != replace(solution, notes={"lamp": "sun"})
    first = solution.readings[0]
    density = first.density.copy()
    density[3] += 1e-12
    changed = (first.replaced(density=density), *solution.readings[1:])
    assert solution != replace(solution, readings=changed)


def test_solving_what_was_read_gives_the_same(solution, tmp_path):
    write_solution(solution, tmp_path / "t.json")
    assert solve_again(read_solution(tmp_path / "t.json")) == solution


def test_the_file_is_plain_and_names_itself(solution):
    document = json.loads(solution_text(solution))
    assert document["schema"] == "negcurve/solution/1"
    assert document["identity"] == solution.table.identity
    assert document["notes"] == {"lamp": "tübes"}
    assert document["readings"][1]["x_mm"][0] is None


def test_an_existing_file_is_kept(solution, tmp_path):
    path = tmp_path / "t.json"
    path.write_text("mine")
    with pytest.raises(FileError):
        write_solution(solution, path)
    assert path.read_text() == "mine"
    write_solution(solution, path, overwrite=True)
    assert read_solution(path) == solution


def damaged(solution, change):
    document = json.loads(solution_text(solution))
    change(document)
    return json.dumps(document)


def test_what_is_no_solution_is_refused_in_a_sentence(solution, tmp_path):
    def newer(document):
        document["schema"] = "negcurve/solution/9"

    def other(document):
        document["schema"] = "negcurve/film/1"

    def short(document):
        del document["ends"]["d_max"]

    def rising(document):
        document["table"]["level_nodes"].reverse()

    def gone(document):
        del document["response"]

    def edited(document):
        document["table"]["level_nodes"][200] += 1e-7

    cases = {
        "{]": "is not JSON (line 1",
        "[1]": "holds no solution",
        damaged(solution, newer): "negcurve/solution/9",
        damaged(solution, other): "negcurve/film/1",
        damaged(solution, short): "is damaged: ",
        damaged(solution, rising): "is damaged: level_nodes: must fall within 1..0",
        damaged(solution, gone): "is damaged: 'response' is missing",
        damaged(solution, edited): "it was written with",
    }
    path = tmp_path / "bad.json"
    for text, sentence in cases.items():
        path.write_text(text)
        with pytest.raises(FileError) as caught:
            read_solution(path)
        assert str(caught.value).startswith("bad.json: ")
        assert sentence in str(caught.value)


def test_a_missing_file_is_a_file_error(tmp_path):
    with pytest.raises(FileError):
        read_solution(tmp_path / "none.json")
