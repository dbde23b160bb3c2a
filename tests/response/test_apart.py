"""Film, paper and stops told apart, against films and papers of known formulas."""

import json

import numpy as np
import pytest

from negcurve.darkroom.curve_fitting import fit_curve
from negcurve.darkroom.matching import match_patches
from negcurve.errors import ReadingsError
from negcurve.files.solution_json import read_solution, solution_text, write_solution
from negcurve.response.film import STOP, assumed_film
from negcurve.response.solving import solve, solve_again
from negcurve.simulation.scoring import printed_error
from tests.response.tablets import TABLET, film, paper, target_print

LEVEL = np.linspace(0, 1, 101)


@pytest.fixture(scope="module")
def solution():
    return solve([target_print()])


def test_printing_density_is_found_with_an_honest_error(solution):
    data = solution.film
    off = data.density(LEVEL) - film(LEVEL)
    middle = (LEVEL > 0.15) & (LEVEL < 1)
    assert np.sqrt(np.mean(off[middle] ** 2)) < 0.015
    assert np.mean(np.abs(off) <= 3 * data.standard_error(LEVEL) + 1e-9) > 0.95
    assert data.density(1.0) == 0
    assert (np.diff(data.density_nodes) <= 0).all()
    assert not data.assumed


def test_paper_is_found(solution):
    x = np.linspace(-2.5, 0, 60)
    off = solution.paper.density(x) - paper(x)
    # Half of what one hand-coated print differs from the next.
    assert np.sqrt(np.mean(off**2)) < 0.015
    assert (np.abs(off) < 3 * solution.paper.standard_error(x)).all()
    assert solution.paper.measured == (-TABLET[-1], 0.0)


def test_least_ink_is_the_level_that_prints_white_within_a_hundredth(solution):
    level = np.linspace(0, 1, 4001)
    white = level[paper(-film(level)) <= 0.08 + 0.01]
    assert len(white) == 0
    assert np.isnan(solution.film.least_ink_level)
    strong = solve([target_print(curve=lambda x: paper(x, contrast=7.0))]).film
    printed = paper(-film(level), contrast=7.0)
    wanted = level[printed <= 0.08 + 0.01][-1]
    np.testing.assert_allclose(strong.least_ink_level, wanted, atol=0.04)


def test_agrees_with_matching_by_the_tablet_alone():
    """The darkroom's own way: patch by patch on the tablet's curve."""
    readings = target_print(places=False)
    steps = readings.chosen(readings.on_tablet)
    patches = readings.chosen(~readings.on_tablet)
    curve = fit_curve(-steps.tablet_density, steps.density)
    matches = match_patches(
        curve,
        patch=[f"{level:.2f}" for level in patches.negative_level],
        density=patches.density,
    )
    data = solve([readings]).film
    pairs = [
        (float(each.patch), each.printing_density.value)
        for each in matches
        if each.limit == "within"
    ]
    level, matched = np.array(pairs).T
    assert len(level) > 20
    off = matched - data.density(level)
    assert np.sqrt(np.mean(off**2)) < 0.02


def test_tablet_rows_do_not_enter_the_response():
    readings = target_print()
    with_steps = solve([readings])
    without = solve([readings.chosen(~readings.on_tablet)])
    np.testing.assert_array_equal(
        with_steps.response.density_nodes, without.response.density_nodes
    )
    assert with_steps.table.identity == without.table.identity
    assert len(with_steps.weights) == len(readings)
    np.testing.assert_array_equal(with_steps.weights[readings.on_tablet], 0)


def test_without_tablet_or_film_nothing_is_said_of_stops():
    sheets = [
        target_print(tablet=False),
        target_print(tablet=False, sheet="2", shift=0.3 * STOP, seed=2),
    ]
    found = solve(sheets)
    assert found.film is None
    assert found.paper is None
    assert found.exposures == ()
    said = " ".join(str(each) for each in found.findings)
    assert "stop" not in said


@pytest.mark.parametrize("stops", [-0.3, 0.0, 0.5])
def test_exposure_of_a_second_print_is_found_in_stops(stops):
    sheets = [
        target_print(),
        target_print(tablet=False, sheet="2", shift=stops * STOP, seed=2),
    ]
    found = solve(sheets).exposures
    assert [(each.sheet, each.against) for each in found] == [("2", "1")]
    assert abs(found[0].stops - stops) < 0.04
    assert abs(found[0].stops - stops) < 3 * found[0].standard_error


def test_the_tablet_may_lie_on_the_second_print():
    sheets = [
        target_print(tablet=False),
        target_print(sheet="2", shift=0.3 * STOP, seed=2),
    ]
    found = solve(sheets).exposures
    assert [(each.sheet, each.against) for each in found] == [("1", "2")]
    assert abs(found[0].stops + 0.3) < 0.04


def test_base_is_found_where_no_film_lay_over_the_tablet():
    data = solve([target_print(over_film=False, base=0.16)]).film
    assert abs(data.base - 0.16) < 3 * data.base_error
    assert data.base_error < 0.05
    off = data.density(LEVEL[20:]) - film(LEVEL[20:])
    assert np.sqrt(np.mean(off**2)) < 0.03


def test_base_is_not_claimed_where_film_lay_over_the_tablet(solution):
    assert np.isnan(solution.film.base)


def test_a_longer_exposure_is_predicted(solution):
    longer = solve([target_print()], stops=0.3)

    def true(level):
        return paper(0.3 * STOP - film(level))

    score = printed_error(true, longer.table.negative_level, black_share=0.98)
    old = printed_error(true, solution.table.negative_level, black_share=0.98)
    assert score.rms < 0.6
    assert old.rms > 3
    assert any("predicted for +0.30 stop" in each.what for each in longer.findings)


def test_stops_from_grey_patches_alone_are_refused():
    with pytest.raises(ReadingsError, match="from grey patches alone"):
        solve([target_print(tablet=False)], stops=0.3)


def test_known_film_gives_stops_without_a_tablet(solution):
    sheets = [
        target_print(tablet=False, seed=5),
        target_print(tablet=False, sheet="2", shift=0.3 * STOP, seed=6),
    ]
    found = solve(sheets, film=solution.film)
    assert abs(found.exposures[0].stops - 0.3) < 0.05
    assert not found.exposures[0].assumed


def test_a_typed_range_marks_stops_as_assumed():
    sheets = [
        target_print(tablet=False),
        target_print(tablet=False, sheet="2", shift=0.3 * STOP, seed=2),
    ]
    found = solve(sheets, film=assumed_film(1.9))
    assert found.exposures[0].assumed
    assert found.film.assumed
    assert any("typed" in each.what for each in found.findings)


def test_a_solution_with_film_is_read_back_equal_and_repeats(solution, tmp_path):
    write_solution(solution, tmp_path / "t.json")
    back = read_solution(tmp_path / "t.json")
    assert back == solution
    assert solve_again(back) == solution


def test_a_solution_from_before_film_data_is_readable(tmp_path):
    plain = solve([target_print(tablet=False)])
    text = solution_text(plain)
    document = json.loads(text)
    for name in ("film", "paper", "exposures"):
        del document[name]
    for each in document["readings"]:
        del each["tablet_density"], each["tablet_over_film"]
    for name in ("film", "stops"):
        del document["options"][name]
    (tmp_path / "old.json").write_text(json.dumps(document))
    old = read_solution(tmp_path / "old.json")
    assert old.film is None
    assert solve_again(old).table.identity == plain.table.identity


def test_few_steps_are_no_tablet():
    readings = target_print()
    kept = ~readings.on_tablet | (readings.tablet_density < 0.5)
    assert solve([readings.chosen(kept)]).film is None


def test_over_exposure_is_told_in_stops_where_film_is_known():
    later = 2.0 * STOP
    readings = target_print(shift=later)
    found = solve([readings])
    x = np.linspace(-2, 0, 4001)
    black = paper(later) - 0.02
    spare = -x[np.argmax(paper(x + later) >= black)] / STOP
    said = [each.what for each in found.findings if "more than clear film" in each.what]
    assert len(said) == 1
    assert abs(float(said[0].split(" got ")[1].split(" stop")[0]) - spare) < 0.4


def test_the_field_of_exposure_is_given_in_stops_where_film_is_known(solution):
    (field,) = solution.unevenness
    light = 0.05 * (field.x_mm - 95) / 75 - 0.04 * (field.y_mm - 108) / 88
    wanted = (light - light.mean()) / STOP
    found = solution.exposure_stops(field)
    found = found - found.mean()
    assert np.polyfit(wanted, found, 1)[0] == pytest.approx(1, abs=0.15)
    assert np.sqrt(np.mean((found - wanted) ** 2)) < 0.05
    plain = solve([target_print(tablet=False)])
    assert plain.exposure_stops(plain.unevenness[0]) is None
