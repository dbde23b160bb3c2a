"""Test strips and corrected times from options."""

from pathlib import Path

import pytest
from numpy.testing import assert_allclose

from negcurve.darkroom.tablet import nominal_tablet
from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.tasks.expose import expose
from negcurve.tasks.expose_card import expose_card, expose_plain
from negcurve.tasks.expose_values import ExposeOptions
from tests.darkroom.strips import place, printed


def test_a_strip_with_its_page(tmp_path: Path) -> None:
    page = tmp_path / "strip.html"
    found = expose(ExposeOptions(time="60s", patches=7, page=page))
    assert found.plan is not None
    assert found.plan.times_s[-1] == 480
    text = page.read_text(encoding="utf-8")
    for part in ("covering card", "5 min 39 s", "2 min 21 s", "UV light"):
        assert part in text


def test_corrections_multiply() -> None:
    found = expose(
        ExposeOptions(
            time="8m",
            lamp=0.85,
            density=0.3,
            stops="-1/2",
            from_distance="50cm",
            to_distance="70cm",
            source="2cm",
        )
    )
    expected = 480 / 0.85 * 10**0.3 * 2**-0.5 * 1.96
    assert_allclose(found.time_s, expected, rtol=1e-3)
    assert len(found.corrections) == 4
    assert found.findings == ()


def test_integrator_units() -> None:
    # Computed: 300 units at 1 unit/s with the lamp at 0.9: 333.3 s.
    found = expose(ExposeOptions(units=300, units_per_s=1, lamp=0.9))
    assert_allclose(found.time_s, 333.3, atol=0.05)


def test_change_on_a_known_curve(tmp_path: Path) -> None:
    strip = tmp_path / "strip.csv"
    density = printed(-nominal_tablet("31").density)
    rows = [f"{n},{d:.5f}" for n, d in enumerate(density, start=1)]
    strip.write_text("step,density\n" + "\n".join(rows), encoding="utf-8")
    found = expose(ExposeOptions(time="100", curve=strip, has=0.41, wants=0.76))
    exact = place(0.5, scale=1.8) - place(0.25, scale=1.8)
    assert_allclose(found.time_s, 100 * 10**exact, rtol=2e-3)
    far = ExposeOptions(time="100", curve=strip, has=0.2, wants=1.2, process="salt")
    with pytest.raises(ReadingsError, match="prints out"):
        expose(far)


def test_distance_without_geometry_warns() -> None:
    found = expose(ExposeOptions(time="4m", from_distance="50cm", to_distance="70cm"))
    (finding,) = found.findings
    assert finding.severity == "warning"
    assert "5 source diameters" in finding.what
    near = expose(
        ExposeOptions(
            time="4m", from_distance="10cm", to_distance="12cm", source="30cm"
        )
    )
    assert "this is a guide" in near.findings[0].what
    bank = expose(
        ExposeOptions(
            time="4m", from_distance="10cm", to_distance="12cm", bank_width="60cm"
        )
    )
    assert 1.0 < bank.corrections[0].factor < 1.1


def test_a_spent_lamp_is_told() -> None:
    found = expose(ExposeOptions(time="4m", lamp=0.6))
    assert "called spent" in found.findings[0].what


def test_bank_geometry_and_eyes() -> None:
    found = expose(
        ExposeOptions(tube_height="105mm", tube_spacing="70mm", overhang="105mm", uva=5)
    )
    plain = expose_plain(found)
    assert_allclose(plain["bank"]["dead_tube_loss"], 0.212, atol=5e-4)
    assert_allclose(plain["bank"]["edge"], 0.75)
    assert_allclose(plain["uva_limit_s"], 200)
    text = expose_card(found).text()
    assert "210 mm wide" in text
    assert "fixed to the lamp" in text


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (ExposeOptions(), "nothing to work out"),
        (ExposeOptions(time="8m"), "nothing to work out"),
        (ExposeOptions(time="8m", units=3, units_per_s=1), "both a time and"),
        (ExposeOptions(units=3), "units alone give no time"),
        (ExposeOptions(time="8m", lamp=-1), "-1 lies outside 0..3"),
        (
            ExposeOptions(time="8m", from_distance="50cm"),
            "one distance alone changes nothing",
        ),
        (ExposeOptions(time="8m", has=0.5), "needs the curve"),
        (ExposeOptions(tube_spacing="7cm"), "says nothing without the height"),
        (ExposeOptions(patches=5), "needs its first time"),
        (ExposeOptions(time="8m", stops="lots"), "is not a number of stops"),
        (ExposeOptions(time="8m", lamp=0.9, process="tin"), "is not a process"),
    ],
)
def test_what_cannot_be_worked_out(options: ExposeOptions, message: str) -> None:
    with pytest.raises(InvalidValueError, match=message):
        expose(options)


def test_stops_between_two_times() -> None:
    found = expose(ExposeOptions(time="8m", other_time="16m"))
    assert found.between is not None
    assert_allclose(found.between.stops, 1.0)
    assert "x 2, +1.00 stop, log exposure +0.301." in expose_card(found).text()
    with pytest.raises(InvalidValueError, match="needs a time to compare with"):
        expose(ExposeOptions(other_time="16m"))
