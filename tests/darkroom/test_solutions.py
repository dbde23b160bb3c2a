"""Stock solutions and checks of amounts against published recipes."""

import pytest
from numpy.testing import assert_allclose

from negcurve.darkroom.capacity import (
    acid_bath_sheets,
    clearing_capacity,
    paper_chalk_mmol,
)
from negcurve.darkroom.coating import coated_area_cm2
from negcurve.darkroom.ratios import (
    mixture_ratios,
    oxalate_from_acid,
    salt_for_palladium,
)
from negcurve.darkroom.solutions import dilute, mol_per_l, portion, total_mmol, weigh
from negcurve.darkroom.substances import substance
from negcurve.errors import InvalidValueError

# Strength in % w/v, form, mol/l: computed outside the project from molar masses, to the
# digits given. Strengths from the sources named; the rest is common practice.
CONCENTRATIONS = (
    (27, "ferric oxalate anhydrous", 0.719),  # Mathias
    (27, "ferric oxalate hexahydrate", 0.558),
    (24.8, "ferric oxalate pentahydrate", 0.532),  # Gottlieb 1995
    (20, "ferric oxalate anhydrous", 0.532),  # variant in Clerc
    (9, "palladium chloride anhydrous", 0.508),
    (15, "sodium tetrachloropalladate", 0.510),
    (9.5, "palladium chloride dihydrate", 0.445),  # Gottlieb 1995
    (20, "potassium tetrachloroplatinate", 0.482),
    (25, "ammonium tetrachloroplatinate", 0.670),  # Ware, 5 g; volume C
    (12, "palladium chloride anhydrous", 0.68),  # Ware, 3.0 g in 25 ml; volume C
    (5, "sodium hexachloroplatinate anhydrous", 0.110),
    (5, "sodium hexachloroplatinate hexahydrate", 0.089),
    (10, "potassium ferricyanide", 0.304),  # Ware
    (30, "ammonium ferric oxalate trihydrate", 0.701),  # Ware
    (10, "silver nitrate", 0.589),
    (3.8, "silver nitrate", 0.224),
    (30, "potassium oxalate monohydrate", 1.63),
    (20, "triammonium citrate", 0.82),
    (3, "tetrasodium EDTA tetrahydrate", 0.066),
    (1, "citric acid anhydrous", 0.052),
    (2, "citric acid anhydrous", 0.104),
    (1, "oxalic acid dihydrate", 0.079),
    (5, "sodium thiosulfate pentahydrate", 0.20),
    (15, "sodium thiosulfate pentahydrate", 0.60),
    (1, "sodium sulfite", 0.079),
    (0.46, "potassium chlorate", 0.038),  # Gottlieb 1995
)


@pytest.mark.parametrize(("percent", "name", "expected"), CONCENTRATIONS)
def test_concentrations(percent: float, name: str, expected: float) -> None:
    digits = len(str(expected).split(".")[1])
    found = mol_per_l(percent, substance(name))
    assert_allclose(found, expected, rtol=0, atol=0.51 * 10**-digits)


def test_iron_of_the_green_citrate() -> None:
    # Ware: 25 % of 14 to 18 % iron is 0.63 to 0.80 mol/l; 0.806 is rounded down there.
    green = portion("ferric ammonium citrate green", percent=25, volume_ml=1000)
    found = total_mmol([green], "Fe")
    assert_allclose([found[0] / 1000, found[1] / 1000], [0.63, 0.80], atol=0.0062)


def test_seven_percent_silver_oxide() -> None:
    # Computed: 7 g in 100 ml of Ag2O are 0.604 mol/l of silver.
    found = total_mmol([portion("silver oxide", percent=7, volume_ml=1000)], "Ag")
    assert_allclose(found[0] / 1000, 0.604, atol=5e-4)


def test_the_same_palladium_bottle_under_two_names() -> None:
    # Computed: 9 % counted as PdCl2 is 14.9 % counted as Na2PdCl4.
    strength = mol_per_l(9, substance("PdCl2"))
    found = strength * substance("Na2PdCl4").molar_mass_g_per_mol / 10
    assert_allclose(found, 14.9, atol=0.05)


def test_the_hexahydrate_holds_a_fifth_less_iron() -> None:
    # Computed: 22 % less.
    dry, wet = (substance(f"ferric oxalate {f}") for f in ("anhydrous", "hexahydrate"))
    assert_allclose(1 - mol_per_l(27, wet) / mol_per_l(27, dry), 0.22, atol=0.005)
    found = weigh(wet, percent=27, volume_ml=100, counted_as=dry)
    assert_allclose(found.mass_g, 34.77, atol=0.005)
    assert_allclose(found.mol_per_l, mol_per_l(27, dry))


def test_purity_and_strength_as_weighed() -> None:
    found = weigh(substance("AgNO3"), percent=10, volume_ml=250, purity_percent=98)
    assert_allclose(found.mass_g, 25 / 0.98)
    assert_allclose(found.percent_as_weighed, 10)


def test_a_substance_without_fixed_composition_has_no_concentration() -> None:
    green = substance("ferric ammonium citrate green")
    assert weigh(green, percent=25, volume_ml=100).mol_per_l is None
    with pytest.raises(InvalidValueError, match="has no fixed composition"):
        mol_per_l(25, green)


def test_dilution() -> None:
    # Replenisher of double strength to working strength: Decisive Momentum, 24 to 12 %.
    found = dilute(from_percent=24, to_percent=12, volume_ml=500)
    assert_allclose([found.stock_ml, found.water_ml], [250, 250])


# Bases of PdCl2, chloride to add, mass of it and of product per g: computed.
@pytest.mark.parametrize(
    ("salt", "grams"),
    [
        ("NaCl", 0.659),
        ("LiCl", 0.478),
        ("NH4Cl", 0.603),
        ("KCl", 0.841),
        ("CsCl", 1.899),
    ],
)
def test_chloride_for_palladium(salt: str, grams: float) -> None:
    found, _ = salt_for_palladium(substance("PdCl2"), substance(salt), mass_g=1)
    assert_allclose(found, grams, atol=5e-4)


def test_palladium_recipes() -> None:
    _, product = salt_for_palladium(substance("PdCl2"), substance("NaCl"), mass_g=1)
    assert_allclose(product, 1.659, atol=5e-4)
    # Ware: 3.0 g of palladium chloride with 1.8 g of ammonium chloride is exact.
    needed, _ = salt_for_palladium(substance("PdCl2"), substance("NH4Cl"), mass_g=3.0)
    assert_allclose(needed, 1.81, atol=0.005)
    # Gottlieb 1995: 9.5 g of dihydrate with 8.3 g of salt, 60 % more than it needs.
    needed, _ = salt_for_palladium(
        substance("PdCl2.2H2O"), substance("NaCl"), mass_g=9.5
    )
    assert_allclose(needed, 5.20, atol=0.005)
    assert_allclose(8.3 / round(needed, 2) - 1, 0.60, atol=0.005)  # as 5.20 is printed
    # Common practice, no source: 5.9 to 6.3 g of salt to 9 g of palladium chloride.
    needed, _ = salt_for_palladium(substance("PdCl2"), substance("NaCl"), mass_g=9)
    assert 5.9 <= needed <= 6.3


def test_mass_is_kept_when_palladium_chloride_is_dissolved() -> None:
    salt, product = salt_for_palladium(substance("PdCl2"), substance("NaCl"), mass_g=2)
    assert_allclose(salt + 2, product, rtol=1e-9)


def test_potassium_oxalate_from_its_acid() -> None:
    # Computed: 300 g from 205 g of the dihydrate and 225 g of carbonate.
    assert_allclose(oxalate_from_acid(300), [205, 225], atol=0.5)


# Two solutions as name, percent, ml; what is compared; expected from and to.
RATIOS = (
    (  # Gottlieb 1995 states 2.4: the pentahydrate; anhydrous it would be 2.96.
        [("ferric oxalate pentahydrate", 24.8, 1), ("PdCl2.2H2O", 9.5, 1)],
        "iron to platinum and palladium",
        (2.39, 2.39),
    ),
    (
        [("ferric oxalate anhydrous", 24.8, 1), ("PdCl2.2H2O", 9.5, 1)],
        "iron to platinum and palladium",
        (2.96, 2.96),
    ),
    (
        [("ferric oxalate anhydrous", 27, 1), ("K2PtCl4", 20, 1)],
        "iron to platinum and palladium",
        (2.98, 2.98),
    ),
    (
        [("ferric oxalate hexahydrate", 27, 1), ("K2PtCl4", 20, 1)],
        "iron to platinum and palladium",
        (2.32, 2.32),
    ),
    (  # Ware: 25 % citrate of 14-18 % iron, 10 % ferricyanide
        [("ferric ammonium citrate green", 25, 1), ("potassium ferricyanide", 10, 1)],
        "iron to ferricyanide",
        (2.06, 2.65),
    ),
    (  # Ware: new cyanotype
        [("ammonium ferric oxalate trihydrate", 30, 1), ("K3Fe(CN)6", 10, 1)],
        "iron to ferricyanide",
        (2.31, 2.31),
    ),
    (
        [("ferric oxalate anhydrous", 20, 1), ("silver nitrate", 10, 1)],
        "iron to silver",
        (1.81, 1.81),
    ),
    (  # common practice: 12 % silver on 2 % salt, equal volumes
        [("silver nitrate", 12, 1), ("sodium chloride", 2, 1)],
        "silver to chloride",
        (2.06, 2.06),
    ),
    (  # common practice, after Ware: 7 g of each, acid 19 % over
        [("sulfamic acid", 7, 1), ("silver oxide", 7, 1)],
        "sulfamic acid to silver",
        (1.19, 1.19),
    ),
    (  # common practice: about 1.04
        [("ferric ammonium citrate green", 22, 1), ("silver oxide", 7, 1)],
        "iron to silver",
        (0.91, 1.17),
    ),
    (  # common practice: about 1.15 at 16 % iron
        [("ferric ammonium citrate green", 9, 1), ("silver nitrate", 3.8, 1)],
        "iron to silver",
        (1.01, 1.30),
    ),
    (
        [("PdCl2", 3.0, 100), ("NH4Cl", 1.8, 100)],
        "added chloride to palladium chloride",
        (1.99, 1.99),
    ),
)


@pytest.mark.parametrize(("solutions", "what", "expected"), RATIOS)
def test_ratios_of_recipes(solutions, what, expected) -> None:
    portions = [portion(n, percent=p, volume_ml=v) for n, p, v in solutions]
    found = {ratio.what: ratio for ratio in mixture_ratios(portions)}
    assert_allclose([found[what].low, found[what].high], expected, atol=0.0051)


@pytest.mark.parametrize(
    ("iron_ml", "verdict"),
    [
        (0.5, "25 % short of what the reaction needs"),
        (0.671, "as the reaction needs"),
        (1.0, "49 % over what the reaction needs"),
        (1.5, "124 % over what the reaction needs, more than recipes use"),
    ],
)
def test_verdict_on_a_ratio(iron_ml: float, verdict: str) -> None:
    portions = [
        portion("ferric oxalate anhydrous", percent=27, volume_ml=iron_ml),
        portion("K2PtCl4", percent=20, volume_ml=1),
    ]
    assert mixture_ratios(portions)[0].verdict == verdict


def test_clearing_bath() -> None:
    # Computed: 1 l of 3 % holds 66 mmol, 1 ml of 27 % ferric oxalate brings 1.44.
    iron = portion("ferric oxalate anhydrous", percent=27, volume_ml=1)
    load = total_mmol([iron], "Fe")[0]
    assert_allclose(load, 1.44, atol=0.005)
    found = clearing_capacity(
        substance("tetrasodium EDTA tetrahydrate"),
        percent=3,
        volume_ml=1000,
        iron_mmol_per_sheet=load,
    )
    assert_allclose(found.capacity_mmol, 66, atol=0.5)
    assert found.sheets == (6, 11)
    disodium = substance("disodium EDTA dihydrate")
    assert_allclose(mol_per_l(3, disodium), 0.081, atol=5e-4)  # common practice table


def test_acid_bath_for_chalky_paper() -> None:
    # Computed: 8x10 in of 300 g/m2 with 2 to 5 % chalk: 3 to 8 mmol, 0.39 to 0.98 g.
    area = coated_area_cm2(8 * 25.4, 10 * 25.4, border_mm=0)
    acid = substance("oxalic acid dihydrate")
    for chalk, mmol, grams in ((2, 3.1, 0.39), (5, 7.7, 0.98)):
        found = paper_chalk_mmol(area, paper_g_per_m2=300, chalk_percent=chalk)
        assert_allclose(found, mmol, atol=0.05)
        assert_allclose(found * acid.molar_mass_g_per_mol / 1000, grams, atol=0.0051)
    # Computed: 1 l of 1 % holds 79 mmol.
    assert_allclose(mol_per_l(1, acid) * 1000, 79, atol=0.5)
    assert (
        acid_bath_sheets(acid, percent=1, volume_ml=1000, chalk_mmol_per_sheet=7.7)
        == 10
    )


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: weigh(substance("NaCl"), percent=101, volume_ml=100),
        lambda: weigh(substance("NaCl"), percent=0, volume_ml=100),
        lambda: weigh(substance("NaCl"), percent=10, volume_ml=-100),
        lambda: weigh(substance("NaCl"), percent=10, volume_ml=100, purity_percent=0),
        lambda: weigh(
            substance("NaCl"), percent=9, volume_ml=100, counted_as=substance("KCl")
        ),
        lambda: dilute(from_percent=5, to_percent=10, volume_ml=100),
        lambda: dilute(from_percent=10, to_percent=5, volume_ml=0),
        lambda: portion("silver nitrate", percent=10, volume_ml=-1),
        lambda: portion("silver nitrate", percent=110, volume_ml=1),
        lambda: salt_for_palladium(substance("NaCl"), substance("NaCl"), mass_g=1),
        lambda: salt_for_palladium(substance("PdCl2"), substance("NaCl"), mass_g=-1),
        lambda: oxalate_from_acid(0),
        lambda: clearing_capacity(
            substance("NaCl"), percent=3, volume_ml=1, iron_mmol_per_sheet=1
        ),
        lambda: clearing_capacity(
            substance("tetrasodium EDTA dihydrate"),
            percent=3,
            volume_ml=1,
            iron_mmol_per_sheet=0,
        ),
        lambda: paper_chalk_mmol(500, paper_g_per_m2=300, chalk_percent=120),
        lambda: acid_bath_sheets(
            substance("citric acid anhydrous"),
            percent=1,
            volume_ml=1,
            chalk_mmol_per_sheet=1,
        ),
    ],
)
def test_impossible_solutions_are_refused(wrong) -> None:
    with pytest.raises(InvalidValueError):
        wrong()


def test_the_sentence_for_a_percentage_over_100() -> None:
    with pytest.raises(InvalidValueError) as caught:
        weigh(substance("NaCl"), percent=101, volume_ml=100)
    assert str(caught.value) == (
        "strength: 101 % lies outside 0..100 %\nGive a number above 0 and up to 100."
    )
