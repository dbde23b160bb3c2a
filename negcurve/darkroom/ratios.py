"""Checks of a mixture by amounts: iron to metal, chloride to palladium, silver to salt.

What a reaction needs is stoichiometry; what recipes use is named with its source.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from negcurve.darkroom.atoms import molar_mass
from negcurve.darkroom.mixtures import check_mixture
from negcurve.darkroom.solutions import Portion, above_zero, total_mmol
from negcurve.darkroom.substances import Substance
from negcurve.errors import InvalidValueError


@dataclass(frozen=True, kw_only=True)
class Ratio:
    """One amount over another, beside what the reaction needs.

    Attributes
    ----------
    what : str
    low, high : float
        They differ where a composition is not fixed. [mol/mol]
    needs : float
        By the reaction's equation. [mol/mol]
    usual : (float, float) or None
        What recipes use. [mol/mol]
    verdict : str
    source : str
    """

    what: str
    low: float
    high: float
    needs: float
    usual: tuple[float, float] | None
    verdict: str
    source: str


@dataclass(frozen=True, kw_only=True)
class _Rule:
    what: str
    needs: float
    usual: tuple[float, float] | None
    source: str


_IRON_PD_PT = _Rule(
    what="iron to platinum and palladium",
    needs=2.0,
    usual=(1.8, 3.0),
    source="2 Fe(II) per Pd or Pt; recipes: Gottlieb, JAIC 34(1) 11-32, 1995",
)
_IRON_SILVER = _Rule(
    what="iron to silver", needs=1.0, usual=None, source="1 Fe(II) per Ag"
)
_IRON_CYANIDE = _Rule(
    what="iron to ferricyanide",
    needs=1.0,
    usual=(2.06, 2.65),
    source="Ware, The New Cyanotype process: 25 % citrate with 14-18 % Fe, 10 % "
    "ferricyanide",
)
_CHLORIDE = _Rule(
    what="added chloride to palladium chloride",
    needs=2.0,
    usual=None,
    source="PdCl2 + 2 MCl -> M2PdCl4",
)
_SILVER_SALT = _Rule(
    what="silver to chloride",
    needs=1.0,
    usual=(2.0, 2.2),
    source="AgNO3 + NaCl -> AgCl; silver in excess: 12 % on 2 %, equal volumes",
)
_ACID_SILVER = _Rule(
    what="sulfamic acid to silver",
    needs=1.0,
    usual=(1.1, 1.3),
    source="Ag2O + 2 H3NSO3; 7 g of each, common practice, no source",
)


def mixture_ratios(portions: Sequence[Portion]) -> tuple[Ratio, ...]:
    """Check every ratio that the substances of a mixture allow.

    Parameters
    ----------
    portions : sequence of Portion
        Two or more.

    Returns
    -------
    tuple of Ratio
        Empty where no rule fits.

    Raises
    ------
    InvalidValueError
        If the mixture is known to be dangerous: the reason is given.
    """
    check_mixture(each.form.name for each in portions)
    metal = _sum(total_mmol(portions, "Pd"), total_mmol(portions, "Pt"))
    silver = total_mmol(portions, "Ag")
    cyanide = _of(portions, "ferricyanide")
    iron = total_mmol([p for p in portions if "cyanide" not in p.form.name], "Fe")
    palladium = _of(portions, "palladium chloride")
    salts = _of(portions, "chloride", but=("palladium", "silver"))
    pairs = (
        (_IRON_PD_PT, iron, metal),
        (_IRON_SILVER, iron, silver),
        (_IRON_CYANIDE, iron, cyanide),
        (_CHLORIDE, salts, palladium),
        (_SILVER_SALT, silver, salts),
        (_ACID_SILVER, _of(portions, "sulfamic"), silver),
    )
    return tuple(
        _ratio(rule, top, bottom)
        for rule, top, bottom in pairs
        if top[1] > 0 and bottom[1] > 0
    )


def _sum(a: tuple[float, float], b: tuple[float, float]) -> tuple[float, float]:
    return a[0] + b[0], a[1] + b[1]


def _of(
    portions: Sequence[Portion], word: str, *, but: tuple[str, ...] = ()
) -> tuple[float, float]:
    kept = [
        float(p.mmol or 0.0)
        for p in portions
        if word in p.form.name and not any(other in p.form.name for other in but)
    ]
    return sum(kept), sum(kept)


def _ratio(rule: _Rule, top: tuple[float, float], bottom: tuple[float, float]) -> Ratio:
    low, high = top[0] / bottom[1], top[1] / bottom[0]
    return Ratio(
        what=rule.what,
        low=low,
        high=high,
        needs=rule.needs,
        usual=rule.usual,
        verdict=_verdict(rule, low, high),
        source=rule.source,
    )


def _verdict(rule: _Rule, low: float, high: float) -> str:
    if high < rule.needs * 0.98:
        return f"{100 * (1 - high / rule.needs):.0f} % short of what the reaction needs"
    if low < rule.needs * 1.02:
        return "as the reaction needs"
    over = f"{100 * (low / rule.needs - 1):.0f} % over what the reaction needs"
    if rule.usual is None:
        return over
    if high < rule.usual[0]:
        return f"{over}, less than recipes use"
    return f"{over}, more than recipes use" if low > rule.usual[1] else over


def salt_for_palladium(
    palladium_chloride: Substance, salt: Substance, *, mass_g: float
) -> tuple[float, float]:
    """Chloride to add to palladium chloride, and the tetrachloropalladate it gives.

    Parameters
    ----------
    palladium_chloride : Substance
        Anhydrous or dihydrate.
    salt : Substance
        Sodium, ammonium, lithium, potassium or cesium chloride.
    mass_g : float
        Of palladium chloride. [g]

    Returns
    -------
    (float, float)
        Salt, and product without water. [g]

    Raises
    ------
    InvalidValueError
        If the substances are not these.

    Notes
    -----
    PdCl2 + 2 MCl -> M2PdCl4.
    """
    if palladium_chloride.family != "palladium chloride" or salt.count("Cl") != 1:
        raise InvalidValueError(
            f"{salt.name} does not dissolve {palladium_chloride.name} as a chloride "
            "does",
            where="salt",
            fix="Name sodium chloride, or the chloride of another alkali.",
        )
    mol = above_zero(mass_g, "mass") / palladium_chloride.molar_mass_g_per_mol
    salt_g = 2 * mol * salt.molar_mass_g_per_mol
    return salt_g, salt_g + mol * molar_mass("PdCl2")


def oxalate_from_acid(mass_g: float) -> tuple[float, float]:
    """Oxalic acid dihydrate and potassium carbonate that give potassium oxalate.

    Parameters
    ----------
    mass_g : float
        Of potassium oxalate monohydrate. [g]

    Returns
    -------
    (float, float)
        Oxalic acid dihydrate, potassium carbonate. [g]

    Notes
    -----
    H2C2O4 + K2CO3 -> K2C2O4 + H2O + CO2: it foams, add slowly.
    """
    mol = above_zero(mass_g, "mass") / molar_mass("K2C2O4.H2O")
    return mol * molar_mass("H2C2O4.2H2O"), mol * molar_mass("K2CO3")
