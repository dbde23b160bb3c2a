"""A table for a new paper from tablet strips, against the paper's own formula."""

import numpy as np
import pytest

from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.files.solution_json import read_solution, write_solution
from negcurve.response.film import STOP, FilmData, check_conditions
from negcurve.response.solving import solve
from negcurve.response.transfer import is_predicted, predict, predict_again
from negcurve.simulation.scoring import printed_error
from tests.response.tablets import film, other_paper, strip, target_print

NODES = np.linspace(0, 1, 257)
KNOWN = FilmData(
    level_nodes=NODES, density_nodes=film(NODES), error_nodes=np.zeros(257)
)


def true(level):
    return other_paper(-film(level))


def error(solution, density=true):
    return printed_error(density, solution.table.negative_level).rms


def pair(fall=0.1):
    return strip(fall=fall, seed=1), strip(fall=fall, turned=True, seed=2)


def test_two_strips_head_to_tail_tell_the_fall_of_the_light():
    one, other = pair()
    both = predict(KNOWN, [one], turned=[other], black_share=1.0)
    alone = predict(KNOWN, [one], black_share=1.0)
    assert error(both) < 0.8
    assert error(both) < error(alone)
    said = [each.what for each in both.findings if "light falls by" in each.what]
    assert len(said) == 1
    share = float(said[0].split("falls by ")[1].split("%")[0])
    assert abs(share - 10) < 5


def test_a_stated_fall_is_taken_off():
    one = strip(fall=0.15, noise=0.004)
    stated = predict(KNOWN, [one], fall=0.15, black_share=1.0)
    assert error(stated) < 0.5
    assert not any("head to tail" in each.fix for each in stated.findings)


def test_one_strip_alone_is_warned_about_and_less_sure():
    one, other = pair()
    alone = predict(KNOWN, [one])
    both = predict(KNOWN, [one], turned=[other])
    warned = [each for each in alone.findings if "--turned" in each.fix]
    assert [each.severity for each in warned] == ["warning"]
    level = np.linspace(0.3, 0.9, 7)
    assert (
        alone.response.standard_error(level) > both.response.standard_error(level)
    ).all()


def test_measured_film_carries_its_error_into_the_prediction():
    measured = solve([target_print()]).film
    one, other = pair()
    known = predict(KNOWN, [one], turned=[other], black_share=1.0)
    found = predict(measured, [one], turned=[other], black_share=1.0)
    assert error(found) < 1.0
    level = np.linspace(0.2, 0.9, 8)
    assert (
        found.response.standard_error(level) > known.response.standard_error(level)
    ).all()
    off = np.abs(found.response.density(level) - true(level))
    assert (off < 3 * found.response.standard_error(level)).all()
    assert found.printer_path == {"mode": "grey", "bits": "16"}


def test_a_longer_exposure_of_the_new_paper():
    one, other = pair()
    longer = predict(KNOWN, [one], turned=[other], stops=0.3, black_share=1.0)

    def more(level):
        return other_paper(0.3 * STOP - film(level))

    assert error(longer, more) < 0.8


def test_bare_strips_need_the_base_of_the_film():
    one = strip(curve=lambda x: other_paper(x + 0.15))
    bare = one.replaced(tablet_over_film=False)
    based = FilmData(
        level_nodes=NODES,
        density_nodes=film(NODES),
        error_nodes=np.zeros(257),
        base=0.15,
        base_error=0.01,
    )
    assert error(predict(based, [bare], fall=0.0, black_share=1.0)) < 0.8
    guessed = predict(KNOWN, [bare], fall=0.0)
    assert any("is assumed" in each.what for each in guessed.findings)
    with pytest.raises(ReadingsError, match="some had not"):
        predict(based, [bare], turned=[strip(turned=True)])


def test_a_prediction_says_that_nothing_was_printed():
    found = predict(KNOWN, list(pair()[:1]))
    assert is_predicted(found)
    assert any("nothing was printed" in each.what for each in found.findings)
    assert not is_predicted(solve([target_print()]))


def test_a_prediction_is_read_back_equal_and_repeats(tmp_path):
    one, other = pair()
    found = predict(KNOWN, [one], turned=[other], stops=0.1, notes={"paper": "new"})
    write_solution(found, tmp_path / "t.json")
    back = read_solution(tmp_path / "t.json")
    assert back == found
    assert predict_again(back) == found
    assert predict_again(back, stops=0.3).table.identity != found.table.identity


def test_strips_of_few_steps_and_impossible_falls_are_refused():
    few = strip().chosen(np.arange(5))
    with pytest.raises(ReadingsError, match="5 usable tablet steps"):
        predict(KNOWN, [few])
    with pytest.raises(InvalidValueError, match="beyond use"):
        predict(KNOWN, [strip()], fall=10)
    with pytest.raises(ReadingsError, match="read wet"):
        predict(KNOWN, [strip().replaced(print_state="wet")])


def with_notes(**notes):
    return FilmData(
        level_nodes=NODES,
        density_nodes=film(NODES),
        error_nodes=np.zeros(257),
        notes=notes,
        source="film.json",
    )


@pytest.mark.parametrize("key", ["lamp", "sensitizer"])
def test_another_lamp_or_sensitizer_is_refused_unless_forced(key):
    data = with_notes(**{key: "one"})
    with pytest.raises(ReadingsError, match=f"hold for {key} 'one'.*for 'two'"):
        check_conditions(data, {key: "two"})
    found = check_conditions(data, {key: "two"}, force=True)
    assert [each.severity for each in found] == ["warning"]
    assert check_conditions(data, {key: "ONE"}) == ()


def test_another_glass_is_a_warning_and_what_is_not_said_a_note():
    data = with_notes(glass="4 mm", lamp="tubes")
    found = check_conditions(data, {"glass": "6 mm"})
    assert [each.severity for each in found] == ["warning", "note"]
    assert "lamp tubes" in found[1].what


def unsure_film(error):
    return FilmData(
        level_nodes=NODES, density_nodes=film(NODES), error_nodes=np.full(257, error)
    )


def test_a_prediction_says_how_wide_its_band_is():
    one, other = pair()
    for data in (KNOWN, unsure_film(0.02)):
        solution = predict(data, [one], turned=[other])
        (said,) = [each for each in solution.findings if each.where == "prediction"]
        level = solution.response.level_nodes
        error = solution.response.standard_error(level)
        # CIE L*: its slope by density is -ln 10 (L* + 16) / 3 above L* 8.
        lightness = 116 * 10 ** (-solution.response.density(level) / 3) - 16
        band = 1.645 * error * np.log(10) * (lightness + 16) / 3
        even = np.linspace(lightness[-1], lightness[0], 101)
        median = np.median(np.interp(even, lightness[::-1], band[::-1]))
        assert f"90 % band on printed L* +-{median:.1f}" in said.what


@pytest.mark.parametrize(
    ("data", "strip_noise", "cause"),
    [
        (unsure_film(0.06), 0.005, "what is unsure of the film"),
        (KNOWN, 0.15, "mostly by the strips"),
    ],
)
def test_a_wide_band_is_warned_of_with_its_cause(data, strip_noise, cause):
    strips = [strip(seed=1, noise=strip_noise)]
    turned = [strip(turned=True, seed=2, noise=strip_noise)]
    found = predict(data, strips, turned=turned).findings
    (said,) = [each for each in found if "the prediction is a first guess" in each.what]
    assert said.severity == "warning"
    assert cause in said.what
    sure = predict(KNOWN, [strip(seed=1)], turned=[strip(turned=True, seed=2)])
    assert not any("first guess" in each.what for each in sure.findings)
