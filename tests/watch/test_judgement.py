import numpy as np
import pytest

from negcurve.errors import InvalidValueError
from negcurve.watch.deviation import assumed_curve, split_deviation
from negcurve.watch.judgement import judge

D_MIN, D_MAX, SCALE = 0.06, 1.42, 1.6
CURVE = assumed_curve(D_MIN, D_MAX, exposure_scale=SCALE)
EXPECTED = np.linspace(0.07, 1.39, 12)
MIDDLE = float(CURVE.position((D_MIN + D_MAX) / 2))


def strip(rng, *, log_exposure=0.0, contrast=0.0, d_max=0.0, white=0.0, scatter=0.02):
    place = MIDDLE + (CURVE.position(EXPECTED) - MIDDLE) * (1 + contrast)
    density = CURVE.at(place + log_exposure + rng.normal(0, scatter))
    share = (density - D_MIN) / (D_MAX - D_MIN)
    density = density + d_max * share + white * (1 - share)
    noisy = density + rng.normal(0, 0.01, len(EXPECTED))
    return split_deviation(EXPECTED, noisy, CURVE)


def after(change, *, seed=1, base=20, later=8):
    rng = np.random.default_rng(seed)
    past = [strip(rng) for _ in range(base)]
    return judge(past + [strip(rng, **change) for _ in range(later)])


CASES = [
    ({}, "in control", ""),
    ({"log_exposure": 0.08}, "exposure", "exposure"),
    ({"log_exposure": -0.08}, "exposure", "exposure"),
    ({"contrast": -0.1}, "shape", "contrast"),
    ({"d_max": -0.1}, "shape", "d_max"),
    ({"white": 0.05}, "white", "white"),
]


@pytest.mark.parametrize(("change", "kind", "part"), CASES)
def test_each_change_is_named(change, kind, part):
    said = after(change)
    assert said.kind == kind
    assert said.part == part


def test_exposure_is_measured_and_the_time_follows():
    said = after({"log_exposure": 0.08})
    assert said.log_exposure == pytest.approx(0.08, abs=3 * said.log_exposure_error)
    assert said.time_factor == pytest.approx(10**-said.log_exposure)
    assert said.time_factor < 1
    assert "Check the lamp and the dose first" in said.advice
    assert said.since is not None
    assert 18 <= said.since <= 22


def test_causes_go_with_the_direction():
    darker = after({"log_exposure": 0.08})
    lighter = after({"log_exposure": -0.08})
    assert "rows of lamps out or worked loose; an ageing lamp" in lighter.causes
    assert not set(darker.causes) & set(lighter.causes)


def test_limits_are_provisional_until_ten_sessions():
    rng = np.random.default_rng(3)
    assert judge([strip(rng) for _ in range(6)]).provisional
    assert not judge([strip(rng) for _ in range(24)]).provisional


def test_a_gross_change_is_told_even_from_the_first_strip():
    rng = np.random.default_rng(4)
    said = judge([strip(rng, log_exposure=0.3)])
    assert said.kind == "exposure"
    assert said.provisional


def test_without_log_exposure_no_time_is_given():
    curve = assumed_curve(D_MIN, D_MAX)
    moved = CURVE.at(CURVE.position(EXPECTED) + 0.3)
    said = judge([split_deviation(EXPECTED, moved, curve)])
    assert said.kind == "exposure"
    assert said.time_factor is None
    assert "by how much is not known without film density" in said.advice


def test_an_unreadable_strip_changes_nothing_else():
    rng = np.random.default_rng(5)
    wrong = split_deviation(EXPECTED, EXPECTED[::-1], CURVE)
    past = [strip(rng) for _ in range(12)]
    assert judge([*past, wrong]).kind == "unreadable"
    after = judge([*past, wrong, strip(rng)])
    assert after.kind == "in control"
    without = judge([*past, strip(rng)]).charts["exposure"]
    np.testing.assert_allclose(after.charts["exposure"].centre[-1], without.centre[-1])


def test_findings_say_what_how_sure_and_what_to_do():
    said = after({"white": 0.05})
    finding = next(each for each in said.findings if each.severity == "warning")
    assert "standard error" in finding.what
    assert "clearing bath" in finding.fix


def test_no_session_is_refused():
    with pytest.raises(InvalidValueError):
        judge([])
