import numpy as np
import pytest

from negcurve.errors import InvalidValueError
from negcurve.watch.control_chart import (
    FAST,
    control_chart,
    cusum_limit,
    cusum_run_length,
)

# Limits of the two-sided cumulative sum for a run length of 370 in control: D. M.
# Hawkins, Quality Engineering 5(3), 1993, as tabulated in D. C. Montgomery,
# Introduction to Statistical Quality Control (from memory).
HAWKINS = [(0.25, 8.01), (0.5, 4.77), (0.75, 3.34), (1.0, 2.52), (1.25, 1.99)]

# Mean run lengths, reference 0.5 and limit 4: J. M. Lucas and R. B. Crosier,
# Technometrics 24(3), 199-205 (1982), table 1, two-sided, no head start (from memory).
LUCAS_CROSIER = [
    (0.0, 168.0),
    (0.25, 74.2),
    (0.5, 26.6),
    (0.75, 13.3),
    (1.0, 8.38),
    (1.5, 4.75),
    (2.0, 3.34),
    (2.5, 2.62),
    (3.0, 2.19),
]


@pytest.mark.parametrize(("reference", "limit"), HAWKINS)
def test_limits_are_those_of_the_published_table(reference, limit):
    assert cusum_limit(reference, 370) == pytest.approx(limit, abs=0.006)


@pytest.mark.parametrize(("shift", "sessions"), LUCAS_CROSIER)
def test_run_lengths_are_those_of_the_published_table(shift, sessions):
    # The table is rounded to three digits; it joins both sides by a Markov chain of
    # its own, hence one more unit for the longest.
    unit = 10 ** (np.floor(np.log10(sessions)) - 2)
    assert cusum_run_length(0.5, 4.0, shift) == pytest.approx(sessions, abs=unit)


def sessions(rng, count, spread=1.0, mean=0.0):
    return mean + spread * rng.normal(size=count)


def test_scores_are_standard_normal_in_control():
    rng = np.random.default_rng(2)
    scores = [
        control_chart(sessions(rng, 40, 0.02), provisional_spread=0.02).score[15:]
        for _ in range(150)
    ]
    values = np.concatenate(scores)
    # 3750 scores, those after false alarms among them.
    assert abs(values.mean()) < 0.06
    assert values.std() == pytest.approx(1, abs=0.08)
    assert np.mean(np.abs(values) > 1.96) == pytest.approx(0.05, abs=0.02)


def test_limits_do_not_depend_on_the_unit():
    value = sessions(np.random.default_rng(3), 30)
    one = control_chart(value, provisional_spread=1.0)
    other = control_chart(1000 * value, provisional_spread=1000.0)
    np.testing.assert_allclose(one.score, other.score, atol=1e-9)
    np.testing.assert_array_equal(one.alarm, other.alarm)


def test_a_step_is_found_dated_and_measured():
    rng = np.random.default_rng(4)
    value = np.concatenate([sessions(rng, 25), sessions(rng, 8, mean=3.0)])
    change = control_chart(value, provisional_spread=1.0).change
    assert change is not None
    assert 24 <= change.first <= 26
    assert change.amount == pytest.approx(3.0, abs=3 * change.error)
    assert not change.slow


def test_a_slow_drift_is_found():
    rng = np.random.default_rng(5)
    value = sessions(rng, 60)
    value[25:] += 0.07 * np.arange(35)
    chart = control_chart(value, provisional_spread=1.0)
    assert chart.change is not None
    assert chart.change.amount > 0


def test_an_alarm_ends_when_sessions_are_back():
    rng = np.random.default_rng(6)
    value = np.concatenate(
        [sessions(rng, 20), sessions(rng, 6, mean=4.0), sessions(rng, 6)]
    )
    chart = control_chart(value, provisional_spread=1.0)
    assert chart.alarm[22:26].all()
    assert not chart.alarm[-1]
    assert chart.change is None


def test_a_shift_does_not_move_the_limits_that_find_it():
    rng = np.random.default_rng(7)
    value = np.concatenate([sessions(rng, 20), sessions(rng, 10, mean=4.0)])
    chart = control_chart(value, provisional_spread=1.0)
    before = chart.centre[19]
    np.testing.assert_allclose(chart.centre[23:], before, atol=0.35)


def test_before_ten_sessions_limits_are_provisional_and_centred_on_nothing_changed():
    chart = control_chart([0.01, -0.02, 0.0], provisional_spread=0.03)
    assert chart.provisional.all()
    np.testing.assert_array_equal(chart.centre, 0)
    np.testing.assert_array_equal(chart.spread, 0.03)
    assert not chart.alarm.any()


def test_one_session_beyond_the_reach_is_an_alarm_at_once():
    for sign in (1, -1):
        small = control_chart([0.0], provisional_spread=1.0)
        value = sign * (small.reach + 0.01)
        assert control_chart([0.0, value], provisional_spread=1.0).alarm[1]
        value = sign * (small.reach - 0.01)
        assert not control_chart([0.0, value], provisional_spread=1.0).alarm[1]
    assert small.reach > FAST


def test_sessions_that_do_not_show_it_are_passed_over():
    value = sessions(np.random.default_rng(8), 20)
    with_gap = np.insert(value, 12, np.nan)
    one = control_chart(value, provisional_spread=1.0)
    other = control_chart(with_gap, provisional_spread=1.0)
    np.testing.assert_allclose(np.delete(other.score, 12), one.score)
    assert np.isnan(other.score[12])


def test_fewer_false_alarms_are_had_for_longer_limits():
    short = control_chart([0.0], provisional_spread=1, false_alarm_sessions=100)
    long = control_chart([0.0], provisional_spread=1, false_alarm_sessions=1500)
    assert short.reach < long.reach


def test_nonsense_is_refused():
    with pytest.raises(InvalidValueError):
        control_chart([0.0], provisional_spread=0.0)
