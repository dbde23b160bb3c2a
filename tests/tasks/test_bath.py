"""Solutions, baths and bench cards from options."""

from dataclasses import replace
from pathlib import Path

import pytest
from numpy.testing import assert_allclose

from negcurve.darkroom.sequences import SEQUENCES
from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.tasks.bath import bath
from negcurve.tasks.bath_card import bath_card, bath_plain
from negcurve.tasks.bath_values import BathOptions


@pytest.mark.parametrize("key", SEQUENCES)
def test_every_bench_card_names_baths_and_cautions(key: str) -> None:
    found = bath(BathOptions(process=key))
    text = bath_card(found).text()
    for step in SEQUENCES[key]:
        assert step.name in text
    assert "Cautions" in text
    assert "UV light" in text
    assert "safety data sheet" in text


def test_chosen_temperatures_are_printed_and_checked(tmp_path: Path) -> None:
    page = tmp_path / "card.html"
    found = bath(
        BathOptions(process="palladium", temperatures={"4": "113F"}, page=page)
    )
    assert found.steps[3].chosen_c == pytest.approx(45)
    assert "45 C" in page.read_text(encoding="utf-8")
    assert "warm baths" in page.read_text(encoding="utf-8")
    with pytest.raises(InvalidValueError, match="70 C lies outside 20 to 60 C"):
        bath(BathOptions(process="palladium", temperatures={"4": "70"}))
    with pytest.raises(InvalidValueError, match="there is no step 9"):
        bath(BathOptions(process="palladium", temperatures={"9": "20"}))


def test_own_steps_stand_in_without_the_unverified_mark(tmp_path: Path) -> None:
    steps = tmp_path / "steps.csv"
    steps.write_text(
        "step,bath,minutes,temperature_c,end_point\n"
        "develop,potassium oxalate 25 %,2,38,image stops gaining\n"
        "clear,tetrasodium EDTA 2 %,3 x 5,,no yellow\n",
        encoding="utf-8",
    )
    found = bath(BathOptions(process="palladium", steps=steps))
    text = " ".join(bath_card(found).text().split())
    assert "image stops gaining (your own)" in text
    assert "(common practice) [unverified]" not in text.split("Cautions")[0]
    assert "oxalates" in text
    assert found.steps[1].temperature == ""
    steps.write_text(
        "step,bath,minutes,temperature_c,end_point\ndevelop,oxalate,2,warm,\n",
        encoding="utf-8",
    )
    with pytest.raises(ReadingsError, match="'warm' is no number"):
        bath(BathOptions(steps=steps))


def test_a_strong_acid_after_ferricyanide_is_refused(tmp_path: Path) -> None:
    steps = tmp_path / "steps.csv"
    steps.write_text(
        "step,bath,minutes,temperature_c,end_point\n"
        "clear,hydrochloric acid 1 %,2,20,no yellow\n",
        encoding="utf-8",
    )
    with pytest.raises(InvalidValueError, match="hydrogen cyanide"):
        bath(BathOptions(process="cyanotype", steps=steps))
    bath(BathOptions(process="palladium", steps=steps))


def test_stock_solution_in_another_form() -> None:
    # Computed: 27 % of the anhydrous salt is 0.719 mol/l; 34.77 g of hexahydrate.
    found = bath(
        BathOptions(
            weigh="ferric oxalate hexahydrate",
            counted_as="ferric oxalate anhydrous",
            strength=27,
            volume="100ml",
        )
    )
    assert found.weighing is not None
    assert_allclose(found.weighing.mass_g, 34.77, atol=5e-3)
    assert_allclose(found.weighing.mol_per_l, 0.719, atol=5e-4)
    assert any("grams in the finished volume" in each.what for each in found.findings)


def test_dilution_ratio_and_capacity() -> None:
    thin = bath(BathOptions(dilute=24, strength=12, volume="0.5l"))
    assert thin.dilution is not None
    assert_allclose(thin.dilution.stock_ml, 250)
    ratio = bath(
        BathOptions(
            solutions=(
                "ferric oxalate anhydrous:27:1",
                "potassium tetrachloroplatinate:20%:1ml",
            )
        )
    )
    assert_allclose(ratio.ratios[0].low, 2.98, atol=5e-3)
    assert "49 % over" in bath_card(ratio).text()
    clear = bath(
        BathOptions(
            clearing="tetrasodium EDTA tetrahydrate",
            strength=3,
            volume="1l",
            sheet_iron_ml=1.0,
        )
    )
    assert clear.capacity is not None
    assert_allclose(clear.capacity.capacity_mmol, 66, atol=0.5)
    assert_allclose(clear.capacity.load_mmol_per_sheet, 1.44, atol=5e-3)
    plain = bath_plain(clear)
    assert plain["capacity"]["sheets"] == (6, 11)


def test_acid_bath_and_salts() -> None:
    found = bath(
        BathOptions(
            acid="oxalic acid dihydrate",
            strength=1,
            volume="1l",
            size="8x10in",
            paper_g_per_m2=300,
            chalk_percent=5,
            palladium_chloride_g=3.0,
            salt="ammonium chloride",
            oxalate_g=300,
        )
    )
    assert found.acid_bath is not None
    assert_allclose(found.acid_bath.acid_g, 0.98, atol=0.006)
    assert_allclose(found.palladium_g[0], 1.81, atol=5e-3)
    assert_allclose(found.oxalate_g, [205, 225], atol=0.5)
    subjects = [each.subject for each in bath_card(found).cautions]
    assert subjects == ["oxalic acid", "palladium salts", "oxalates"]


def test_solutions_that_must_not_meet_are_refused() -> None:
    with pytest.raises(InvalidValueError) as caught:
        bath(BathOptions(solutions=("potassium chlorate:1:1", "ammonium chloride:5:1")))
    assert str(caught.value) == (
        "potassium chlorate: not with ammonium chloride: chlorate with ammonium salts "
        "may ignite by itself when it dries (NOAA CAMEO Chemicals 4298)\n"
        "Use a sensitizer without ammonium, or another contrast agent."
    )


def test_solutions_without_a_known_ratio_say_so() -> None:
    found = bath(BathOptions(solutions=("sodium sulfite:1:1", "sodium chloride:2:1")))
    assert found.ratios == ()
    assert "no ratio that we know" in found.findings[0].what


WEIGH = BathOptions(weigh="silver nitrate", strength=10, volume="100ml")


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (BathOptions(), "nothing to work out"),
        (BathOptions(process="tin"), "is not a process"),
        (BathOptions(temperatures={"1": "20"}), "no sequence is named"),
        (replace(WEIGH, strength=None), "--strength: is missing"),
        (replace(WEIGH, volume=None), "--volume: is missing"),
        (replace(WEIGH, volume="-100ml"), "is not a volume above 0"),
        (replace(WEIGH, strength=120), "lies outside 0..100 %"),
        (replace(WEIGH, purity_percent=101), "lies outside 0..100 %"),
        (replace(WEIGH, weigh="ferric oxalate"), "which form"),
        (replace(WEIGH, weigh="ferric oxalate dihydrate"), "is not a form"),
        (replace(WEIGH, weigh="unobtainium"), "is not a substance that we know"),
        (replace(WEIGH, counted_as="sodium chloride"), "is not a form of"),
        (BathOptions(dilute=5, strength=10, volume="1l"), "cannot be made"),
        (BathOptions(solutions=("silver nitrate:10:1",)), "has no ratio"),
        (BathOptions(solutions=("silver nitrate 10", "x:1:1")), "is not a solution"),
        (
            BathOptions(
                clearing="citric acid anhydrous",
                strength=1,
                volume="1l",
                sheet_iron_ml=1.0,
            ),
            "binds iron in no fixed amount",
        ),
    ],
)
def test_what_cannot_be_worked_out(options: BathOptions, message: str) -> None:
    with pytest.raises(InvalidValueError, match=message):
        bath(options)


@pytest.mark.parametrize(
    ("sheets", "verdict"),
    [(2, "not yet spent"), (8, "nearly spent"), (12, "spent: make a new one")],
)
def test_a_used_clearing_bath(sheets: int, verdict: str) -> None:
    # 1.44 of 66.3 mmol a sheet: 15 % after 6.9 sheets, 25 % after 11.5.
    options = BathOptions(
        clearing="tetrasodium EDTA tetrahydrate",
        strength=3,
        volume="1l",
        sheet_iron_ml=1.0,
        sheets_done=sheets,
    )
    text = " ".join(bath_card(bath(options)).text().split())
    assert f"After {sheets} sheets {100 * sheets * 1.437 / 66.34:.0f} %" in text
    assert verdict in text
    with pytest.raises(InvalidValueError, match="-1 is below 0"):
        bath_card(bath(replace(options, sheets_done=-1)))


def test_an_unnamed_stock_still_defers_to_data_sheets() -> None:
    thinned = BathOptions(dilute=24, strength=12, volume="500ml")
    text = " ".join(bath_card(bath(thinned)).text().split())
    assert "not named. Read the current safety data sheet" in text
    named = BathOptions(weigh="silver nitrate", strength=10, volume="100ml")
    assert "not named" not in bath_card(bath(named)).text()
