"""Atomic masses against a reference package, molar masses against a table."""

import periodictable
import pytest
from numpy.testing import assert_allclose

from negcurve.darkroom.atoms import ATOMIC_MASS_G_PER_MOL, atoms, mass_share, molar_mass
from negcurve.darkroom.substances import SUBSTANCES, substance
from negcurve.errors import InvalidValueError

# Name here, formula, molar mass: computed outside the project from conventional atomic
# weights of IUPAC, to two decimals.
MOLAR_MASSES = (
    ("ferric oxalate anhydrous", "Fe2(C2O4)3", 375.74),
    ("ferric oxalate pentahydrate", "Fe2(C2O4)3.5H2O", 465.82),
    ("ferric oxalate hexahydrate", "Fe2(C2O4)3.6H2O", 483.83),
    ("ammonium ferric oxalate trihydrate", "(NH4)3Fe(C2O4)3.3H2O", 428.06),
    ("potassium ferrioxalate trihydrate", "K3Fe(C2O4)3.3H2O", 491.24),
    ("palladium chloride anhydrous", "PdCl2", 177.32),
    ("palladium chloride dihydrate", "PdCl2.2H2O", 213.35),
    ("sodium tetrachloropalladate", "Na2PdCl4", 294.20),
    ("ammonium tetrachloropalladate", "(NH4)2PdCl4", 284.30),
    ("lithium tetrachloropalladate", "Li2PdCl4", 262.10),
    ("cesium tetrachloropalladate", "Cs2PdCl4", 514.03),
    ("potassium tetrachloropalladate", "K2PdCl4", 326.42),
    ("potassium tetrachloroplatinate", "K2PtCl4", 415.08),
    ("ammonium tetrachloroplatinate", "(NH4)2PtCl4", 372.96),
    ("sodium hexachloroplatinate anhydrous", "Na2PtCl6", 453.76),
    ("sodium hexachloroplatinate hexahydrate", "Na2PtCl6.6H2O", 561.85),
    ("sodium chloride", "NaCl", 58.44),
    ("ammonium chloride", "NH4Cl", 53.49),
    ("lithium chloride", "LiCl", 42.39),
    ("cesium chloride", "CsCl", 168.36),
    ("potassium chloride", "KCl", 74.55),
    ("potassium ferricyanide", "K3Fe(CN)6", 329.25),
    ("silver nitrate", "AgNO3", 169.87),
    ("silver oxide", "Ag2O", 231.73),
    ("silver chloride", "AgCl", 143.32),
    ("sulfamic acid", "H3NSO3", 97.09),
    ("potassium dichromate", "K2Cr2O7", 294.18),
    ("ammonium dichromate", "(NH4)2Cr2O7", 252.06),
    ("potassium chlorate", "KClO3", 122.55),
    ("hydrogen peroxide", "H2O2", 34.01),
    ("potassium oxalate monohydrate", "K2C2O4.H2O", 184.23),
    ("potassium oxalate anhydrous", "K2C2O4", 166.21),
    ("oxalic acid dihydrate", "H2C2O4.2H2O", 126.06),
    ("oxalic acid anhydrous", "H2C2O4", 90.03),
    ("citric acid monohydrate", "C6H8O7.H2O", 210.14),
    ("citric acid anhydrous", "C6H8O7", 192.12),
    ("triammonium citrate", "(NH4)3C6H5O7", 243.22),
    ("diammonium hydrogen citrate", "(NH4)2C6H6O7", 226.19),
    ("tartaric acid", "C4H6O6", 150.09),
    ("sodium citrate dihydrate", "Na3C6H5O7.2H2O", 294.10),
    ("sodium acetate trihydrate", "NaC2H3O2.3H2O", 136.08),
    ("disodium EDTA dihydrate", "C10H14N2Na2O8.2H2O", 372.24),
    ("tetrasodium EDTA anhydrous", "C10H12N2Na4O8", 380.17),
    ("tetrasodium EDTA dihydrate", "C10H12N2Na4O8.2H2O", 416.20),
    ("tetrasodium EDTA tetrahydrate", "C10H12N2Na4O8.4H2O", 452.23),
    ("sodium thiosulfate pentahydrate", "Na2S2O3.5H2O", 248.17),
    ("sodium thiosulfate anhydrous", "Na2S2O3", 158.10),
    ("sodium sulfite", "Na2SO3", 126.04),
    ("potassium carbonate", "K2CO3", 138.20),
    ("calcium carbonate", "CaCO3", 100.09),
    ("hydrochloric acid", "HCl", 36.46),
    ("hydrogen cyanide", "HCN", 27.03),
)


@pytest.mark.parametrize("symbol", ATOMIC_MASS_G_PER_MOL)
def test_atomic_mass_is_that_of_iupac(symbol: str) -> None:
    # Reference: periodictable, whose masses are IUPAC 2021 standard atomic weights.
    reference = getattr(periodictable, symbol).mass
    assert_allclose(ATOMIC_MASS_G_PER_MOL[symbol], reference, rtol=0, atol=1e-9)


# The table's silver is 107.868, a decimal less than IUPAC's 107.8682: two of them make
# 231.735, which it rounds down; ours is 231.7354.
LARGER_TOLERANCE = {"silver oxide": 0.006}


@pytest.mark.parametrize(("name", "formula", "expected"), MOLAR_MASSES)
def test_molar_mass(name: str, formula: str, expected: float) -> None:
    assert SUBSTANCES[name].formula == formula
    tolerance = LARGER_TOLERANCE.get(name, 0.005)
    assert_allclose(molar_mass(formula), expected, rtol=0, atol=tolerance)


@pytest.mark.parametrize(
    "formula", [s.formula for s in SUBSTANCES.values() if s.formula]
)
def test_molar_mass_against_a_reference_package(formula: str) -> None:
    other = formula.replace(".", "+")  # the package's way to write water
    assert_allclose(molar_mass(formula), periodictable.formula(other).mass, rtol=1e-9)


def test_every_formula_is_in_the_table_or_named_here() -> None:
    listed = {name for name, _, _ in MOLAR_MASSES}
    others = {name for name, s in SUBSTANCES.items() if s.formula} - listed
    assert others == {"acetic acid", "ammonia"}


def test_atoms_of_nested_and_hydrated_formulas() -> None:
    assert atoms("(NH4)3Fe(C2O4)3.3H2O") == {
        "N": 3,
        "H": 18,
        "Fe": 1,
        "C": 6,
        "O": 15,
    }


# Computed: chromium in dichromates, cyanide that ferricyanide could free.
def test_shares_by_mass() -> None:
    assert_allclose(mass_share("K2Cr2O7", "Cr"), 0.353, atol=5e-4)
    assert_allclose(mass_share("(NH4)2Cr2O7", "Cr"), 0.413, atol=5e-4)
    freed = 6 * molar_mass("HCN") / molar_mass("K3Fe(CN)6")
    assert_allclose(freed, 0.49, atol=0.005)


@pytest.mark.parametrize(
    "wrong", ["", "Xx2", "Na(Cl", "NaCl)", "2", "na2", "H2O.", "Na-Cl"]
)
def test_what_is_no_formula_is_refused(wrong: str) -> None:
    with pytest.raises(InvalidValueError) as caught:
        atoms(wrong)
    assert "is not a formula of elements in our table" in str(caught.value)


def test_substances_are_found_by_name_formula_and_usual_spelling() -> None:
    assert substance("K2PtCl4").name == "potassium tetrachloroplatinate"
    assert substance("EDTA tetrasodium dihydrate").name == "tetrasodium EDTA dihydrate"
    assert substance("Sodium  Sulfite").formula == "Na2SO3"
    assert substance("hydrochloric acid").formula == "HCl"


def test_an_ambiguous_hydrate_is_asked_for() -> None:
    with pytest.raises(InvalidValueError) as caught:
        substance("sodium hexachloroplatinate")
    assert str(caught.value) == (
        "sodium hexachloroplatinate: which form? They differ in weight for the same "
        "amount\nWrite sodium hexachloroplatinate anhydrous or sodium "
        "hexachloroplatinate hexahydrate, as the label says."
    )


def test_an_unknown_hydrate_names_the_known_ones() -> None:
    with pytest.raises(InvalidValueError, match="is not a form that we know") as caught:
        substance("ferric oxalate heptahydrate")
    assert "ferric oxalate pentahydrate" in str(caught.value)


def test_an_unknown_substance_names_near_ones() -> None:
    with pytest.raises(InvalidValueError) as caught:
        substance("silver nitrite")
    assert "Did you mean silver nitrate" in str(caught.value)
