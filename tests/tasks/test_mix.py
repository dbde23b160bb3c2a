"""Drops per bottle from a sheet's size."""

from dataclasses import replace
from pathlib import Path

import pytest
from numpy.testing import assert_allclose

from negcurve.darkroom.processes import PROCESSES
from negcurve.errors import FileError, InvalidValueError
from negcurve.tasks.mix import mix
from negcurve.tasks.mix_card import mix_card, mix_plain
from negcurve.tasks.mix_values import MixOptions


def test_a_bare_8x10_with_a_brush() -> None:
    # Common practice, no source: 20 drops of iron, 20 of metal, 1 to 2 of agent.
    found = mix(MixOptions(size="8x10in"))
    assert all(abs(pour.drops - 20) <= 1 for pour in found.pours)
    assert_allclose(found.area_cm2, 80 * 6.4516)
    text = mix_card(found).text()
    assert "deposit, hold-up, waste [unverified]" in text


def test_own_figures_are_not_marked_unverified() -> None:
    found = mix(
        MixOptions(
            size="8x10in",
            deposit_ml_per_in2=0.02,
            holdup_ml=0.2,
            waste_percent=3,
            drops_per_ml=24,
            strengths={"palladium": 14.0},
        )
    )
    assert found.unverified == ()
    assert "[unverified]" not in mix_card(found).text()
    assert_allclose(found.volume_ml, 80 * 0.02 * 1.03 + 0.2)


@pytest.mark.parametrize("key", PROCESSES)
def test_every_process_has_a_mix_with_its_cautions(key: str) -> None:
    found = mix(MixOptions(size="8x10in", process=key, border="0.5in"))
    assert sum(pour.drops for pour in found.pours) > 10
    assert "safety data sheet" in mix_card(found).text()


def test_agent_asks_for_its_form() -> None:
    options = MixOptions(size="8x10in", agent="hexachloroplatinate", agent_drops=2)
    asked = mix(options)
    assert any("does its strength count" in each.what for each in asked.findings)
    low, high = asked.agent_per_metal
    assert_allclose(high / low, 561.85 / 453.76, rtol=1e-3)
    told = mix(replace(options, agent_form="hexahydrate", agent_percent=5.0))
    assert told.agent_per_metal is not None
    assert_allclose(told.agent_per_metal, [low, low])
    assert not any("does its strength" in each.what for each in told.findings)


def test_agent_in_a_mix_rich_in_platinum_is_questioned() -> None:
    found = mix(
        MixOptions(
            size="8x10in",
            process="platinum-palladium",
            platinum_share=0.8,
            agent="hexachloroplatinate",
            agent_drops=1,
        )
    )
    assert any("rich in palladium only" in each.what for each in found.findings)


@pytest.mark.parametrize("key", ["new-cyanotype", "cyanotype", "palladium-print-out"])
def test_chlorate_with_ammonium_is_refused(key: str) -> None:
    with pytest.raises(InvalidValueError, match="may ignite by itself"):
        mix(MixOptions(size="8x10in", process=key, agent="chlorate", agent_drops=1))


def test_form_of_the_iron_changes_its_amount() -> None:
    dry = mix(MixOptions(size="8x10in"))
    wet = mix(MixOptions(size="8x10in", forms={"ferric oxalate": "hexahydrate"}))
    assert_allclose(wet.pours[0].mmol / dry.pours[0].mmol, 375.74 / 483.83, rtol=1e-4)
    assert any("holds 22 % less" in each.what for each in dry.findings)
    assert wet.iron_ratio is not None
    assert_allclose(wet.iron_ratio.low, 2.19, atol=5e-3)


def test_cost_per_sheet_and_session() -> None:
    found = mix(
        MixOptions(
            size="8x10in",
            prices={"ferric oxalate": 0.5, "palladium": 4.0},
            paper_price=2.0,
            failed_share=0.5,
            sheets=3,
        )
    )
    assert found.cost is not None
    ml = found.pours[0].volume_ml
    assert_allclose(found.cost.per_sheet, 4.5 * ml + 2.0)
    assert_allclose(found.cost.per_good_sheet, 2 * found.cost.per_sheet)
    assert_allclose(found.cost.session, 3 * found.cost.per_sheet)


def test_few_drops_are_pointed_out() -> None:
    found = mix(MixOptions(size="3x3in", tool="rod"))
    assert any("one left in the cup" in each.what for each in found.findings)


def test_page_and_plain_values(tmp_path: Path) -> None:
    page = tmp_path / "mix.html"
    found = mix(MixOptions(size="8x10in", page=page))
    assert "ferric oxalate" in page.read_text(encoding="utf-8")
    plain = mix_plain(found)
    assert plain["bottles"][0]["name"] == "ferric oxalate"
    assert plain["bottles"][1]["verified"] is False
    with pytest.raises(FileError):
        mix(MixOptions(size="8x10in", page=page))


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"size": "big"}, "is not a sheet size"),
        ({"process": "tin"}, "is not a process that we know"),
        ({"border": "1"}, "is not a length with a unit"),
        ({"tool": "sponge"}, "is not a tool that we know"),
        ({"deposit_ml_per_in2": -1}, "deposit: -1 is not above 0"),
        ({"waste_percent": 120}, "lies outside 0..100 %"),
        ({"drops_per_ml": 500}, "lies outside 5..100"),
        ({"strengths": {"gold": 1}}, "is not a bottle of palladium"),
        ({"strengths": {"palladium": 120}}, "cannot be used"),
        ({"forms": {"palladium": "hexahydrate"}}, "is not a form of"),
        ({"agent": "salt", "agent_drops": 1}, "is not an agent that we know"),
        ({"agent": "chlorate"}, "0 drops of the agent are none"),
        ({"agent_drops": 2}, "drops of which agent"),
        ({"prices": {"palladium": 4.0}}, "no price for ferric oxalate"),
        ({"prices": {"gold": 4.0}}, "is not a bottle of this mix"),
        ({"platinum_share": 2.0}, "lies outside 0..1"),
    ],
)
def test_what_cannot_be_mixed(changes: dict, message: str) -> None:
    with pytest.raises(InvalidValueError, match=message):
        mix(replace(MixOptions(size="8x10in"), **changes))


def test_own_parts() -> None:
    found = mix(MixOptions(size="8x10in", parts={"ferric oxalate": 3.0}))
    assert_allclose(found.pours[0].exact_ml, 3 * found.pours[1].exact_ml)
    with pytest.raises(InvalidValueError, match="ferric oxalate parts: -1"):
        mix(MixOptions(size="8x10in", parts={"ferric oxalate": -1.0}))
