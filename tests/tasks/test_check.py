import csv

import numpy as np
import pytest

from negcurve.errors import FileError
from negcurve.files.readings_csv import write_readings
from negcurve.files.solution_json import write_solution
from negcurve.response.solving import solve
from negcurve.tasks.check import COLUMNS, CheckOptions, check
from tests.response.prints import readings_of


@pytest.fixture
def folder(tmp_path):
    solution = solve([readings_of(count=40)])
    write_solution(solution, tmp_path / "t.json")
    tone = np.linspace(0, 1, 31)
    level = solution.table.negative_level(tone)
    second = readings_of(negative_level=level, image_tone=tone, sheet="2", seed=6)
    write_readings(
        second.replaced(table=solution.table.identity), tmp_path / "second.csv"
    )
    return tmp_path


def test_it_writes_csv_and_plot(folder):
    result = check(
        CheckOptions(
            readings=[folder / "second.csv"],
            table=folder / "t.json",
            output=folder / "c.csv",
            plot=folder / "c.svg",
        )
    )
    with (folder / "c.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert tuple(rows[0]) == COLUMNS
    error = np.array([float(row["lightness_error"]) for row in rows])
    np.testing.assert_allclose(error, result.check.lightness_error, atol=5e-5)
    assert "<svg" in (folder / "c.svg").read_text()[:600]


def test_the_table_may_be_a_solution(folder):
    from_file = check(
        CheckOptions(readings=[folder / "second.csv"], table=folder / "t.json")
    )
    given = check(
        CheckOptions(readings=[folder / "second.csv"], table=from_file.solution)
    )
    assert given.check.rms == from_file.check.rms
    assert given.output is None


def test_inputs_are_never_outputs(folder):
    for name in ("second.csv", "t.json"):
        with pytest.raises(FileError):
            check(
                CheckOptions(
                    readings=[folder / "second.csv"],
                    table=folder / "t.json",
                    output=folder / name,
                    overwrite=True,
                )
            )
