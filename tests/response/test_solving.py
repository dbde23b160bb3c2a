import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from negcurve.density import density_from_lightness, lightness_from_density
from negcurve.errors import InvalidValueError, SolveError
from negcurve.readings import Readings
from negcurve.response.aim import Aim
from negcurve.response.solution import measured_aim
from negcurve.response.solving import solve, solve_again
from tests.response.prints import (
    D_MAX,
    D_MIN,
    placed,
    readings_of,
    true_density,
    true_level,
)

TONE = np.linspace(0, 1, 256)


@pytest.fixture(scope="module")
def solution():
    return solve([placed(readings_of(count=102))])


def texts(solution):
    return [str(each) for each in solution.findings]


def said(solution, words):
    return [each for each in texts(solution) if words in each]


def test_the_table_prints_even_lightness(solution):
    printed = lightness_from_density(true_density(solution.table.negative_level(TONE)))
    ends = solution.ends
    white, darkest = true_density([0.0, 1.0])
    black = white + 0.98 * (darkest - white)
    assert ends.black_density == pytest.approx(black, abs=0.01)
    wanted = lightness_from_density(ends.black_density) + TONE * (
        lightness_from_density(ends.white_density)
        - lightness_from_density(ends.black_density)
    )
    assert np.sqrt(np.mean((printed - wanted) ** 2)) < 0.4


def test_the_table_is_the_response_inverse_after_aim(solution):
    wanted = density_from_lightness(
        lightness_from_density(solution.ends.black_density)
        + 0.5
        * (
            lightness_from_density(solution.ends.white_density)
            - lightness_from_density(solution.ends.black_density)
        )
    )
    by_hand = true_level(wanted)
    assert solution.table.negative_level(0.5) == pytest.approx(by_hand, abs=0.004)


@pytest.mark.parametrize("aim", ["lightness", "density", "luminance"])
def test_each_aim_runs_straight_in_its_scale(aim):
    solution = solve([readings_of(noise=0.003)], aim=aim)
    wanted = solution.aim.density(TONE)
    scaled = {
        "lightness": lightness_from_density(wanted),
        "density": wanted,
        "luminance": 10.0**-wanted,
    }[aim]
    assert_allclose(scaled, np.linspace(scaled[0], scaled[-1], 256), atol=1e-9)
    printed = true_density(solution.table.negative_level(TONE))
    assert np.abs(printed - wanted)[5:-5].max() < 0.02


def test_levels_fall_strictly_between_neighbours(solution):
    assert (np.diff(solution.table.level_nodes) < 0).all()


@settings(max_examples=6, deadline=None)
@given(
    st.integers(21, 60), st.floats(0.0005, 0.05), st.integers(0, 99), st.floats(0.8, 1)
)
def test_any_print_gives_a_falling_table_within_its_domain(count, noise, seed, share):
    solution = solve(
        [readings_of(count=count, noise=noise, seed=seed)], black_share=share
    )
    low, high = solution.response.domain
    levels = solution.table.level_nodes
    assert (np.diff(levels) < 0).all()
    assert low <= levels[-1] < levels[0] <= high


def test_black_share_moves_black_alone():
    whole, most = (
        solve([readings_of()], black_share=share).ends for share in (1.0, 0.9)
    )
    assert whole.black_density == pytest.approx(whole.d_max)
    assert most.black_density == pytest.approx(
        most.d_min + 0.9 * (most.d_max - most.d_min)
    )
    assert most.white_density == whole.white_density
    with pytest.raises(InvalidValueError, match=r"black_share: 1\.2 lies outside"):
        solve([readings_of()], black_share=1.2)


def test_a_single_stray_is_named_and_the_result_stands(solution):
    readings = placed(readings_of(count=102, source="r.csv"))
    density = readings.density.copy()
    density[40] += 0.4
    struck = solve([readings.replaced(density=density)])
    (text,) = said(struck, "is stray")
    assert text.startswith("warning: r.csv, patch 41: D 0.")
    assert struck.weights[40] < 0.1
    off = np.abs(struck.response.density_nodes - solution.response.density_nodes)
    assert off.max() < 0.01


def test_a_reversal_is_cut_and_said():
    level = np.linspace(0, 1, 51)
    readings = readings_of()
    fallen = readings.density - 1.2 * np.maximum(level - 0.88, 0)
    solution = solve([readings.replaced(density=fallen)])
    assert solution.response.domain[1] < 0.93
    assert said(solution, "density falls again by more than 3 standard errors")
    assert (solution.weights[level > solution.response.domain[1]] == 0).all()
    assert np.isnan(solution.response.density(1.0))


def test_nothing_left_after_a_turn_is_refused():
    level = np.linspace(0, 1, 21)
    hill = np.interp(level, [0, 0.35, 0.65, 1], [0.5, 0.3, 1.2, 0.9])
    readings = readings_of(count=21).replaced(density=hill)
    with pytest.raises(SolveError, match="too few to invert"):
        solve([readings])


def test_noise_alone_is_refused():
    with pytest.raises(SolveError, match="scatter"):
        solve([readings_of(noise=0.4, count=60, seed=5, offset=1.0)])


def test_unevenness_is_told_from_tone_when_patches_are_scattered():
    readings = placed(readings_of(count=102, noise=0.008))
    tilt = 0.5 * (readings.x_mm - readings.x_mm.mean()) / np.ptp(readings.x_mm)
    added = true_density(readings.negative_level, shift=2 * tilt) - true_density(
        readings.negative_level
    )
    uneven = readings.replaced(density=readings.density + added)
    solution = solve([uneven])
    off = solution.response.density_nodes - true_density(solution.response.level_nodes)
    assert np.abs(off).max() < 0.03
    (field,) = solution.unevenness
    assert np.corrcoef(field.at_mid_tone, tilt)[0, 1] > 0.98
    slope = np.polyfit(tilt, field.at_mid_tone, 1)[0]
    # At mid-tone of a logistic, one unit of eta is a quarter of the span in density.
    assert slope == pytest.approx(2 * (D_MAX - D_MIN) / 4, rel=0.15)
    assert_allclose(field.density, added, atol=0.04)


def test_patches_in_order_give_no_map_and_say_so():
    solution = solve([placed(readings_of(count=102), scattered=False)])
    assert solution.unevenness == ()
    (text,) = said(solution, "levels run in order")
    assert "down the sheet" in text
    assert "Use a target with scattered patches." in text


def test_readings_without_places_say_so():
    assert said(solve([readings_of()]), "the readings have no places")


def test_no_word_of_stops_without_film_data(solution):
    text = " ".join(texts(solution))
    assert "stop" not in text.lower()


def test_the_band_of_the_next_print_is_wider(solution):
    response = solution.response
    level = np.linspace(0, 1, 11)
    within, following = response.standard_error(level), response.next_print_error(level)
    # One sheet: its own spread and that of the next, 0.03 D each.
    assert_allclose(following**2 - within**2, 2 * 0.03**2, rtol=1e-9)
    assert said(solution, "common practice, unverified")
    assert said(solve([readings_of()], sheet_error=0.02), "0.020 D, from the record")


def test_two_prints_are_pooled_with_an_offset_each():
    first = readings_of(sheet="one", offset=0.03)
    second = readings_of(sheet="two", offset=-0.03, seed=9)
    solution = solve([first, second])
    one, two = solution.sheet_effects
    assert one.offset - two.offset == pytest.approx(0.06, abs=0.012)
    off = solution.response.density_nodes - true_density(solution.response.level_nodes)
    assert np.abs(off).max() < 0.02
    assert solution.response.sheets == 2


def test_a_change_of_exposure_is_estimated_and_said():
    first = readings_of(sheet="one")
    second = readings_of(sheet="two", shift=0.6, seed=9)
    solution = solve([first, second])
    one, two = solution.sheet_effects
    # Shift of eta by 0.6 is a shift of the level by 0.6 / 9 (see `true_density`).
    assert two.exposure_level - one.exposure_level == pytest.approx(0.6 / 9, abs=0.01)
    assert said(solution, "sheet two: got more exposure than sheet one")


def test_the_table_can_follow_the_newest_sheet():
    first = readings_of(count=102, sheet="one")
    second = readings_of(count=21, sheet="two", shift=0.8, seed=9)
    solution = solve([first, second], follow_newest=True)
    truth = true_density(solution.response.level_nodes, shift=0.8)
    assert np.abs(solution.response.density_nodes - truth).max() < 0.025
    alone = solve([second])
    assert solution.response.error_nodes.mean() < alone.response.error_nodes.mean()


def test_a_second_round_through_the_table_sharpens_the_first():
    first = readings_of(count=21, noise=0.02)
    solution = solve([first])
    level = solution.table.negative_level(np.linspace(0, 1, 51))
    second = readings_of(negative_level=level, noise=0.02, sheet="2", seed=4)
    again = solve_again(solution, [second])
    assert len(again.readings) == 2
    truth = true_density(again.response.level_nodes)
    before = np.abs(
        solution.response.density(again.response.level_nodes) - truth
    ).mean()
    assert np.abs(again.response.density_nodes - truth).mean() < before


def test_solving_again_repeats_to_the_last_digit(solution):
    assert solve_again(solution) == solution


def test_solving_again_keeps_and_changes_options():
    first = solve(
        [readings_of()], aim="density", black_share=0.95, notes={"lamp": "tubes"}
    )
    again = solve_again(first, black_share=0.9, notes={"paper": "rag"})
    assert again.options == {**first.options, "black_share": 0.9}
    assert again.notes == {"lamp": "tubes", "paper": "rag"}
    assert again.aim.name == "density"


def test_an_aim_beyond_reach_is_cut_and_said():
    aim = Aim(
        name="wish.csv", tone_nodes=[0, 1], density_nodes=[2.0, 0.05], scale="density"
    )
    solution = solve([readings_of()], aim=aim)
    darker, lighter = said(solution, "aim wish.csv")
    assert "asks for D 2.00, darker than this print reaches" in darker
    assert "asks for D 0.05, lighter than this print reaches" in lighter
    assert solution.aim.density(0.0) == pytest.approx(solution.ends.d_max, abs=1e-6)
    middle = solution.aim.density(0.5)
    assert middle == pytest.approx(aim.density(0.5))
    assert solve_again(solution) == solution


def test_an_aim_wholly_beyond_reach_is_refused():
    aim = Aim(name="a", tone_nodes=[0, 1], density_nodes=[3.0, 2.5])
    with pytest.raises(SolveError, match="all beyond what the print reaches"):
        solve([readings_of()], aim=aim)


def test_one_paper_matches_another():
    weak = readings_of(noise=0.004)
    weak = weak.replaced(density=0.05 + 0.8 * weak.density)
    paper_a, alone = solve([weak]), measured_aim(solve([weak]), name="a")
    assert paper_a.response.domain == (0, 1)
    matched = solve([readings_of(noise=0.004)], aim=alone)
    printed = true_density(matched.table.negative_level(TONE))
    assert_allclose(printed, np.maximum(alone.density(TONE), D_MIN), atol=0.025)
    scaled = solve([readings_of(noise=0.004)], aim=alone, scale_aim=True)
    ends = scaled.aim.density([0.0, 1.0])
    assert_allclose(ends, [scaled.ends.black_density, scaled.ends.white_density])


def test_printer_path_and_notes_are_kept():
    path = {"mode": "grey", "bits": "16"}
    solution = solve([readings_of(printer_path=path)], notes={"exposure": "6 min"})
    assert solution.printer_path == path
    assert solution.notes == {"exposure": "6 min"}


def test_slight_strays_are_noted_together_not_warned_about():
    level = np.linspace(0, 1, 51).repeat(2)
    density = 0.1 + 1.3 * level
    density[20] += 0.015
    density[60] += 0.3
    readings = Readings(negative_level=level, density=density)
    findings = solve([readings]).findings
    slight = [f for f in findings if "stray by less than 0.02 D" in f.what]
    assert [f.severity for f in slight] == ["note"]
    assert "reading 21" in slight[0].what
    stray = [f for f in findings if f.severity == "warning" and "is stray" in f.what]
    assert [f.where for f in stray] == ["reading 61"]
