import numpy as np
import pytest
from numpy.testing import assert_allclose

from negcurve.density import lightness_from_density
from negcurve.errors import ReadingsError
from negcurve.response.checking import check
from negcurve.response.solving import solve
from tests.response.prints import placed, readings_of, true_density

TONE = np.linspace(0, 1, 51)


@pytest.fixture(scope="module")
def solution():
    return solve([readings_of(count=102)])


def second(solution, *, offset=0.0, seed=7, noise=0.01, **more):
    """A print through the table, off by `offset` in density."""
    return readings_of(
        negative_level=solution.table.negative_level(TONE),
        image_tone=TONE,
        offset=offset,
        noise=noise,
        seed=seed,
        sheet="second",
        table=solution.table.identity,
        **more,
    )


def causes(result):
    return [each.what for each in result.findings if each.where == "print"]


def test_a_true_print_is_accepted(solution):
    result = check([second(solution)], solution)
    assert result.verdict == "accept"
    assert not result.real
    assert result.rms < 1.0
    assert "common practice, unverified" in result.advice
    assert_allclose(result.image_tone, TONE, atol=1e-6)


def test_figures_follow_from_the_tones(solution):
    result = check([second(solution, offset=0.05)], solution)
    error = lightness_from_density(result.printed_density) - lightness_from_density(
        result.aim_density
    )
    assert_allclose(result.lightness_error, error)
    assert result.rms == pytest.approx(np.sqrt(np.mean(error**2)))
    assert result.percentile_95 == pytest.approx(np.percentile(np.abs(error), 95))
    assert abs(result.worst) == pytest.approx(np.abs(error).max())
    assert result.worst < 0
    assert result.offset == pytest.approx(0.05, abs=0.01)
    assert result.density_rms == pytest.approx(0.05, abs=0.01)


def test_an_offset_within_a_new_sheets_noise_is_not_real(solution):
    assert not check([second(solution, offset=0.03)], solution).real


def test_an_offset_is_real_where_prints_repeat_well(solution):
    result = check([second(solution, offset=0.03)], solution, sheet_error=0.005)
    assert result.real
    assert result.verdict == "refine"
    assert result.sheet_error_verified
    assert "unverified" not in result.advice


def test_a_small_real_error_is_accepted(solution):
    result = check([second(solution, offset=0.012)], solution, sheet_error=0.003)
    assert result.real
    assert result.rms < 1.5
    assert result.verdict == "accept"
    assert "real but small" in result.advice


def test_another_paper_asks_for_a_cause(solution):
    level = solution.table.negative_level(TONE)
    readings = second(solution)
    other = readings.replaced(density=true_density(level, shift=1.5))
    result = check([other], solution)
    assert result.verdict == "look for a cause"
    assert causes(result)
    assert "copy" not in result.advice
    assert "would build it in" in result.advice


def test_noise_of_a_new_sheet_is_called_real_in_one_of_twenty(solution):
    """Sheets whose density differs by normal offsets of the spread assumed."""
    random = np.random.default_rng(1)
    called = [
        check([second(solution, offset=0.03 * each, seed=k)], solution).real
        for k, each in enumerate(random.normal(0, 1, 40))
    ]
    assert np.mean(called) <= 0.125


def test_an_uneven_print_asks_for_a_cause(solution):
    readings = placed(second(solution))
    tilt = (readings.x_mm - readings.x_mm.mean()) / np.ptp(readings.x_mm)
    level = readings.negative_level
    added = true_density(level, shift=1.2 * tilt) - true_density(level)
    result = check([readings.replaced(density=readings.density + added)], solution)
    assert result.verdict == "look for a cause"
    assert any("uneven by" in each for each in causes(result))
    field = result.unevenness
    assert np.corrcoef(field.at_mid_tone, tilt)[0, 1] > 0.95


def test_strays_are_listed_by_patch(solution):
    readings = second(solution)
    density = readings.density.copy()
    density[[4, 17, 30, 41, 47]] += [0.3, -0.25, 0.3, 0.4, 0.3]
    result = check([readings.replaced(density=density)], solution)
    strays = [each.where for each in result.findings if "is stray" in each.what]
    assert strays == [f"patch {k}" for k in (5, 18, 31, 42, 48)]
    assert any("readings are stray" in each for each in causes(result))


def test_a_print_through_another_table_is_said(solution):
    result = check([second(solution).replaced(table="0badc0de")], solution)
    texts = [each.what for each in result.findings]
    assert any("was printed through table 0badc0de, not" in each for each in texts)


def test_a_first_target_is_checked_at_its_own_levels(solution):
    result = check([readings_of(seed=5)], solution)
    assert len(result.image_tone) > 20
    assert result.verdict == "accept"


def test_two_prints_are_refused(solution):
    with pytest.raises(ReadingsError, match=r"readings of 2 prints \(second, 1\)"):
        check([second(solution), readings_of()], solution)


def test_another_kind_of_density_is_refused(solution):
    with pytest.raises(ReadingsError, match="visual densities cannot be compared"):
        check([second(solution, density_kind="visual")], solution)


def test_levels_that_the_table_does_not_use_are_refused():
    few = solve([readings_of(count=102)], black_share=0.5)
    beyond = readings_of(negative_level=np.linspace(0.6, 1.0, 15))
    with pytest.raises(ReadingsError, match="of the levels lie within"):
        check([beyond], few)


def test_a_table_is_no_check_of_its_own_readings(solution):
    def warned(readings):
        found = check([readings], solution).findings
        return any("solved from these very readings" in each.what for each in found)

    assert warned(solution.readings[0])
    assert not warned(second(solution))
