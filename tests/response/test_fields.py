import numpy as np
import pytest
from numpy.testing import assert_allclose

from negcurve.response.fields import place_effects
from negcurve.response.solution import Unevenness
from negcurve.response.solving import solve
from tests.response.prints import D_MIN, placed, readings_of, true_density


def effects_of(readings):
    chosen = place_effects(readings, np.arange(len(readings)), len(readings))
    return chosen, {each.name.removesuffix(" 1"): each for each in chosen.effects}


def test_no_term_takes_part_in_the_response():
    _, effects = effects_of(placed(readings_of(count=102)))
    assert set(effects) == {
        "exposure",
        "shift",
        "coating",
        "row streaks",
        "column streaks",
    }
    for each in effects.values():
        assert_allclose(each.columns.mean(axis=0), 0, atol=1e-12)


def test_other_sheets_are_left_alone():
    readings = placed(readings_of(count=30))
    chosen = place_effects(readings, np.arange(10, 40), 60)
    for each in chosen.effects:
        assert not each.columns[:10].any()
        assert not each.columns[40:].any()


@pytest.mark.parametrize(
    ("readings", "what"),
    [
        (readings_of(), "the readings have no places"),
        (placed(readings_of(count=10)), "10 readings are too few"),
        (placed(readings_of()).replaced(y_mm=np.zeros(51)), "lie in one line"),
    ],
)
def test_where_nothing_can_be_told_it_is_said(readings, what):
    chosen, effects = effects_of(readings)
    assert not effects
    assert what in chosen.findings[0].what


def test_order_is_seen_in_either_direction():
    down = placed(readings_of(count=100), scattered=False)
    across = down.replaced(x_mm=down.y_mm, y_mm=down.x_mm)
    assert effects_of(down)[0].confounded == ("down",)
    assert effects_of(across)[0].confounded == ("across",)
    assert effects_of(placed(readings_of(count=100)))[0].confounded == ()


def test_thin_coating_is_told_from_weak_light():
    """Coating scales the height over D-min at every tone; light moves the mid-tones."""
    readings = placed(readings_of(count=102, noise=0.004))
    across = (readings.x_mm - readings.x_mm.mean()) / np.ptp(readings.x_mm)
    height = true_density(readings.negative_level) - D_MIN
    thin = solve([readings.replaced(density=readings.density + 0.1 * across * height)])
    (field,) = thin.unevenness
    assert np.polyfit(across, field.coating, 1)[0] == pytest.approx(0.1, abs=0.025)
    assert np.abs(np.polyfit(across, field.exposure_level, 1)[0]) < 0.006


def test_streaks_are_taken_off():
    readings = placed(readings_of(count=102, noise=0.006))
    random = np.random.default_rng(3)
    _, row = np.unique(readings.y_mm, return_inverse=True)
    height = true_density(readings.negative_level) - D_MIN
    streaks = random.normal(0, 0.03, row.max() + 1)[row] * height
    solution = solve([readings.replaced(density=readings.density + streaks)])
    assert solution.noise < 0.011
    off = solution.response.density_nodes - true_density(solution.response.level_nodes)
    assert np.abs(off).max() < 0.02


def test_unevenness_is_said_in_density_and_level():
    readings = placed(readings_of(count=102, noise=0.006))
    down = (readings.y_mm - readings.y_mm.mean()) / np.ptp(readings.y_mm)
    level = readings.negative_level
    added = true_density(level, shift=0.5 * down) - true_density(level)
    solution = solve([readings.replaced(density=readings.density + added)])
    (what,) = [each.what for each in solution.findings if "uneven by" in each.what]
    # 0.5 in eta is 0.5 * 1.4 / 4 = 0.175 D at mid-tone and 0.5 / 9 = 0.056 in level.
    assert what.startswith(("uneven by 0.17", "uneven by 0.18", "uneven by 0.19"))
    (field,) = solution.unevenness
    assert np.ptp(field.exposure_level) == pytest.approx(0.5 / 9, rel=0.2)


def test_ninths_are_means_over_thirds_from_the_top_left():
    field = Unevenness(
        sheet="1",
        x_mm=[0, 1, 30, 0],
        y_mm=[0, 1, 30, 30],
        exposure_level=np.zeros(4),
        coating=np.zeros(4),
        density=np.zeros(4),
        at_mid_tone=[0.1, 0.3, 0.5, -0.2],
    )
    nan = np.nan
    assert_allclose(
        field.ninths(field.at_mid_tone),
        [[0.2, nan, nan], [nan, nan, nan], [-0.2, nan, 0.5]],
    )
    assert field.range_at_mid_tone == pytest.approx(0.7)
