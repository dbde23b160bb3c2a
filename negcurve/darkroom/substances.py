"""The substances of the craft: names, formulas, hydrates, and what they are.

Which of them must not meet is `negcurve.darkroom.cautions`.
"""

import difflib
from dataclasses import dataclass

from negcurve.darkroom.atoms import atoms, molar_mass
from negcurve.errors import InvalidValueError


@dataclass(frozen=True, kw_only=True)
class Substance:
    """One form of a chemical.

    Attributes
    ----------
    name : str
        With its hydrate where there is more than one.
    formula : str
        Empty where the composition is not fixed.
    family : str
        Name without the hydrate; members of a family differ in water only.
    iron_share : (float, float) or None
        Share of iron by mass where the composition is not fixed.
    """

    name: str
    formula: str
    family: str
    iron_share: tuple[float, float] | None = None

    @property
    def molar_mass_g_per_mol(self) -> float:
        """Molar mass.

        Raises
        ------
        InvalidValueError
            If the composition is not fixed.
        """
        if not self.formula:
            raise InvalidValueError(
                "has no fixed composition, so no molar mass",
                where=self.name,
                fix="Use the iron content on its label.",
            )
        return molar_mass(self.formula)

    def count(self, element: str) -> int:
        """Atoms of an element in one formula unit."""
        return atoms(self.formula).get(element, 0) if self.formula else 0


_HYDRATES = (
    "anhydrous",
    "monohydrate",
    "dihydrate",
    "trihydrate",
    "tetrahydrate",
    "pentahydrate",
    "hexahydrate",
)

_FORMULAS = {
    "ferric oxalate anhydrous": "Fe2(C2O4)3",
    "ferric oxalate pentahydrate": "Fe2(C2O4)3.5H2O",
    "ferric oxalate hexahydrate": "Fe2(C2O4)3.6H2O",
    "ammonium ferric oxalate trihydrate": "(NH4)3Fe(C2O4)3.3H2O",
    "potassium ferrioxalate trihydrate": "K3Fe(C2O4)3.3H2O",
    "palladium chloride anhydrous": "PdCl2",
    "palladium chloride dihydrate": "PdCl2.2H2O",
    "sodium tetrachloropalladate": "Na2PdCl4",
    "ammonium tetrachloropalladate": "(NH4)2PdCl4",
    "lithium tetrachloropalladate": "Li2PdCl4",
    "cesium tetrachloropalladate": "Cs2PdCl4",
    "potassium tetrachloropalladate": "K2PdCl4",
    "potassium tetrachloroplatinate": "K2PtCl4",
    "ammonium tetrachloroplatinate": "(NH4)2PtCl4",
    "sodium hexachloroplatinate anhydrous": "Na2PtCl6",
    "sodium hexachloroplatinate hexahydrate": "Na2PtCl6.6H2O",
    "sodium chloride": "NaCl",
    "ammonium chloride": "NH4Cl",
    "lithium chloride": "LiCl",
    "cesium chloride": "CsCl",
    "potassium chloride": "KCl",
    "potassium ferricyanide": "K3Fe(CN)6",
    "silver nitrate": "AgNO3",
    "silver oxide": "Ag2O",
    "silver chloride": "AgCl",
    "sulfamic acid": "H3NSO3",
    "potassium dichromate": "K2Cr2O7",
    "ammonium dichromate": "(NH4)2Cr2O7",
    "potassium chlorate": "KClO3",
    "hydrogen peroxide": "H2O2",
    "potassium oxalate anhydrous": "K2C2O4",
    "potassium oxalate monohydrate": "K2C2O4.H2O",
    "oxalic acid anhydrous": "H2C2O4",
    "oxalic acid dihydrate": "H2C2O4.2H2O",
    "citric acid anhydrous": "C6H8O7",
    "citric acid monohydrate": "C6H8O7.H2O",
    "triammonium citrate": "(NH4)3C6H5O7",
    "diammonium hydrogen citrate": "(NH4)2C6H6O7",
    "tartaric acid": "C4H6O6",
    "sodium citrate dihydrate": "Na3C6H5O7.2H2O",
    "sodium acetate trihydrate": "NaC2H3O2.3H2O",
    "disodium EDTA dihydrate": "C10H14N2Na2O8.2H2O",
    "tetrasodium EDTA anhydrous": "C10H12N2Na4O8",
    "tetrasodium EDTA dihydrate": "C10H12N2Na4O8.2H2O",
    "tetrasodium EDTA tetrahydrate": "C10H12N2Na4O8.4H2O",
    "sodium thiosulfate anhydrous": "Na2S2O3",
    "sodium thiosulfate pentahydrate": "Na2S2O3.5H2O",
    "sodium sulfite": "Na2SO3",
    "potassium carbonate": "K2CO3",
    "calcium carbonate": "CaCO3",
    "hydrochloric acid": "HCl",
    "hydrogen cyanide": "HCN",
    "acetic acid": "C2H4O2",
    "ammonia": "NH3",
}
"""Formulas are common chemistry; their molar masses are tested against a table."""


def _family(name: str) -> str:
    words = name.split()
    return " ".join(words[:-1]) if words[-1] in _HYDRATES else name


SUBSTANCES = {
    name: Substance(name=name, formula=formula, family=_family(name))
    for name, formula in _FORMULAS.items()
} | {
    "ferric ammonium citrate green": Substance(
        name="ferric ammonium citrate green",
        formula="",
        family="ferric ammonium citrate",
        iron_share=(0.14, 0.18),
    ),
    "ferric ammonium citrate brown": Substance(
        name="ferric ammonium citrate brown",
        formula="",
        family="ferric ammonium citrate",
        iron_share=(0.18, 0.28),
    ),
}
"""Iron of the citrates: Ware, The New Cyanotype process (grade A-): 14-18 % green,
18-28 % brown; the composition is not fixed, so the label of the lot decides."""

_SPELLINGS = {
    "ferric ammonium oxalate": "ammonium ferric oxalate",
    "chloroplatinate": "sodium hexachloroplatinate",
    "sodium chloroplatinate": "sodium hexachloroplatinate",
    "sodium chloropalladate": "sodium tetrachloropalladate",
    "potassium chloroplatinite": "potassium tetrachloroplatinate",
    "edta tetrasodium": "tetrasodium edta",
    "edta disodium": "disodium edta",
    "hypo": "sodium thiosulfate",
    "table salt": "sodium chloride",
}


def substance(name: str) -> Substance:
    """Find a substance by its name or formula.

    Parameters
    ----------
    name : str
        `ferric oxalate hexahydrate`, or `K2PtCl4`. Capitals do not matter in names.

    Returns
    -------
    Substance

    Raises
    ------
    InvalidValueError
        If it is not known, or a hydrate must be named.
    """
    plain = " ".join(name.split())
    by_formula = [s for s in SUBSTANCES.values() if s.formula and s.formula == plain]
    if by_formula:
        return by_formula[0]
    words = plain.lower()
    for spelling, ours in _SPELLINGS.items():
        if words == spelling or words.startswith(spelling + " "):
            words = ours + words[len(spelling) :]
            break
    by_name = {key.lower(): each for key, each in SUBSTANCES.items()}
    if words in by_name:
        return by_name[words]
    forms = hydrates(words)
    if len(forms) == 1:
        return forms[0]
    if forms:
        raise InvalidValueError(
            "which form? They differ in weight for the same amount",
            where=name,
            fix=f"Write {_either([form.name for form in forms])}, as the label says.",
        )
    raise _unknown(name, words, list(by_name))


def hydrates(family: str) -> tuple[Substance, ...]:
    """Return every form of a family, driest first."""
    return tuple(s for s in SUBSTANCES.values() if s.family.lower() == family.lower())


def _unknown(name: str, words: str, known: list[str]) -> InvalidValueError:
    family = next(
        (s.family for s in SUBSTANCES.values() if words.startswith(s.family.lower())),
        "",
    )
    if family:
        forms = _either([form.name for form in hydrates(family)])
        return InvalidValueError(
            "is not a form that we know", where=name, fix=f"Write {forms}."
        )
    near = difflib.get_close_matches(words, known, n=3, cutoff=0.5)
    if near:
        fix = f"Did you mean {_either(near)}?"
    else:
        families = dict.fromkeys(each.family for each in SUBSTANCES.values())
        fix = f"Write a formula or one of these names: {', '.join(families)}."
    return InvalidValueError("is not a substance that we know", where=name, fix=fix)


def _either(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"
