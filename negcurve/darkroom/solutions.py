"""Stock solutions: what to weigh, what is in them, whether amounts match.

Percent is always w/v: grams in 100 ml of finished solution, not grams added to 100 ml.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from negcurve.darkroom.atoms import molar_mass
from negcurve.darkroom.substances import Substance, substance
from negcurve.errors import InvalidValueError

STRONG_PERCENT = 20.0
"""Strength above which a user is reminded what w/v means. Our own choice."""


@dataclass(frozen=True, kw_only=True)
class Weighing:
    """How to make a stock solution.

    Attributes
    ----------
    mass_g : float
        Of the substance in the bottle, water and impurities included. [g]
    volume_ml : float
    mol_per_l : float or None
        None where the composition is not fixed.
    percent_as_weighed : float
        Strength counted in the form that is weighed. [% w/v]
    """

    mass_g: float
    volume_ml: float
    mol_per_l: float | None
    percent_as_weighed: float


def weigh(
    bottle: Substance,
    *,
    percent: float,
    volume_ml: float,
    counted_as: Substance | None = None,
    purity_percent: float = 100.0,
) -> Weighing:
    """Work out what to weigh for a stock solution.

    Parameters
    ----------
    bottle : Substance
        The form in the bottle.
    percent : float
        Strength wanted. [% w/v]
    volume_ml : float
        Of finished solution. [ml]
    counted_as : Substance, optional
        The form in which the strength is meant, where the recipe names another.
    purity_percent : float
        Assay of the bottle, over 0 to 100. [%]

    Returns
    -------
    Weighing

    Raises
    ------
    InvalidValueError
        If a value is out of range, or the two forms are not the same compound.

    Notes
    -----
    m = percent / 100 x V x (M_bottle / M_meant) / purity.
    """
    _between(percent, 0, 100, "strength", "%")
    _between(purity_percent, 0, 100, "purity", "%")
    volume = above_zero(volume_ml, "volume")
    meant = counted_as or bottle
    ratio = 1.0
    if meant is not bottle:
        _check_same_compound(bottle, meant)
        ratio = bottle.molar_mass_g_per_mol / meant.molar_mass_g_per_mol
    pure_g = percent / 100 * volume * ratio
    mol = None
    if bottle.formula:
        mol = pure_g / bottle.molar_mass_g_per_mol / volume * 1000
    return Weighing(
        mass_g=pure_g / (purity_percent / 100),
        volume_ml=volume,
        mol_per_l=mol,
        percent_as_weighed=percent * ratio,
    )


def mol_per_l(percent: float, form: Substance) -> float:
    """Molar concentration of a solution. [mol/l].

    Parameters
    ----------
    percent : float
        Strength counted in this form. [% w/v]
    form : Substance
        Its composition must be fixed.
    """
    _between(percent, 0, 100, "strength", "%")
    return percent * 10 / form.molar_mass_g_per_mol


@dataclass(frozen=True, kw_only=True)
class Dilution:
    """How to thin a stock solution.

    Attributes
    ----------
    stock_ml, water_ml : float
        Water is what is needed up to the volume; volumes of strong solutions do not
        add exactly, so fill up to the mark.
    """

    stock_ml: float
    water_ml: float


def dilute(*, from_percent: float, to_percent: float, volume_ml: float) -> Dilution:
    """Thin a stock solution: C1 V1 = C2 V2.

    Raises
    ------
    InvalidValueError
        If a value is out of range or the stock is weaker than what is wanted.
    """
    _between(from_percent, 0, 100, "stock strength", "%")
    _between(to_percent, 0, 100, "wanted strength", "%")
    if to_percent > from_percent:
        raise InvalidValueError(
            f"{to_percent:g} % cannot be made from {from_percent:g} % by thinning",
            where="dilution",
            fix="Start from a stronger stock.",
        )
    stock = above_zero(volume_ml, "volume") * to_percent / from_percent
    return Dilution(stock_ml=stock, water_ml=volume_ml - stock)


@dataclass(frozen=True, kw_only=True)
class Portion:
    """A volume of one solution in a mixture.

    Attributes
    ----------
    form : Substance
    percent : float
        Counted in this form. [% w/v]
    volume_ml : float
    """

    form: Substance
    percent: float
    volume_ml: float

    def __post_init__(self) -> None:
        _between(self.percent, 0, 100, "strength", "%")
        above_zero(self.volume_ml, "volume")

    @property
    def mass_g(self) -> float:
        """Of the substance."""
        return self.percent / 100 * self.volume_ml

    @property
    def mmol(self) -> float | None:
        """Amount; None where the composition is not fixed."""
        if not self.form.formula:
            return None
        return 1000 * self.mass_g / self.form.molar_mass_g_per_mol

    def element_mmol(self, element: str) -> tuple[float, float]:
        """Least and greatest amount of an element. [mmol]."""
        if self.form.formula:
            amount = float(self.mmol or 0.0) * self.form.count(element)
            return amount, amount
        if element != "Fe" or self.form.iron_share is None:
            return 0.0, 0.0
        iron = 1000 * self.mass_g / molar_mass("Fe")
        low, high = self.form.iron_share
        return iron * low, iron * high


def portion(name: str, *, percent: float, volume_ml: float) -> Portion:
    """Make a portion from a substance's name, see `substance`."""
    return Portion(form=substance(name), percent=percent, volume_ml=volume_ml)


def total_mmol(portions: Iterable[Portion], element: str) -> tuple[float, float]:
    """Least and greatest amount of an element in a mixture. [mmol]."""
    amounts = [each.element_mmol(element) for each in portions]
    return sum(low for low, _ in amounts), sum(high for _, high in amounts)


def above_zero(value: float, where: str) -> float:
    """Return the value, refusing 0, negatives and NaN."""
    if not 0 < value < float("inf"):
        raise InvalidValueError(
            f"{value:g} is not above 0", where=where, fix="Give a number above 0."
        )
    return float(value)


def _between(value: float, low: float, high: float, where: str, unit: str) -> None:
    if not low < value <= high:
        raise InvalidValueError(
            f"{value:g} {unit} lies outside {low:g}..{high:g} {unit}",
            where=where,
            fix=f"Give a number above {low:g} and up to {high:g}.",
        )


def _check_same_compound(bottle: Substance, meant: Substance) -> None:
    if not (bottle.formula and meant.formula) or bottle.family != meant.family:
        raise InvalidValueError(
            f"is not a form of the {meant.name} that the recipe counts in",
            where=bottle.name,
            fix="For another salt of the metal compare mol/l instead.",
        )
