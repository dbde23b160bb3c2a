"""How much a bath can take: clearing baths and acid baths for chalky paper.

Amounts follow from equations; when to call a bath spent is a matter of practice.
"""

from dataclasses import dataclass

from negcurve.darkroom.atoms import molar_mass
from negcurve.darkroom.solutions import above_zero, mol_per_l
from negcurve.darkroom.substances import Substance
from negcurve.errors import InvalidValueError

SPENT_SHARES = (0.15, 0.25)
"""Share of a clearing bath's capacity after which it is called spent.

Grade C, common practice, no source.
"""


@dataclass(frozen=True, kw_only=True)
class Capacity:
    """What a clearing bath can bind, and for how many sheets.

    Attributes
    ----------
    capacity_mmol : float
        Iron that it could bind in all. [mmol]
    load_mmol_per_sheet : float
        Iron that one sheet brings, all of it counted. [mmol]
    sheets : (int, int)
        Until the two spent shares are reached.
    """

    capacity_mmol: float
    load_mmol_per_sheet: float
    sheets: tuple[int, int]

    def used_share(self, sheets: int) -> float:
        """Share of the capacity that some sheets have taken.

        Raises
        ------
        InvalidValueError
            If the number is negative.
        """
        if sheets < 0:
            raise InvalidValueError(
                f"{sheets} is below 0", where="sheets done", fix="Count from 0."
            )
        return sheets * self.load_mmol_per_sheet / self.capacity_mmol

    def verdict(self, sheets: int) -> str:
        """Say how far a bath is used up after some sheets."""
        if sheets >= self.sheets[1]:
            return "spent: make a new one"
        if sheets >= self.sheets[0]:
            return "nearly spent: use it as the first of the baths, a new one last"
        return "not yet spent"


def clearing_capacity(
    chelate: Substance,
    *,
    percent: float,
    volume_ml: float,
    iron_mmol_per_sheet: float,
    spent_shares: tuple[float, float] = SPENT_SHARES,
) -> Capacity:
    """Sheets that a bath of EDTA clears.

    Parameters
    ----------
    chelate : Substance
        A salt of EDTA, which binds iron one to one.
    percent : float
        [% w/v]
    volume_ml : float
        [ml]
    iron_mmol_per_sheet : float
        [mmol]
    spent_shares : (float, float)
        Cautious and bold, 0..1.

    Returns
    -------
    Capacity

    Raises
    ------
    InvalidValueError
        If the substance is no EDTA or a value is out of range.
    """
    if "EDTA" not in chelate.name:
        raise InvalidValueError(
            "binds iron in no fixed amount that we have a source for",
            where=chelate.name,
            fix="Judge it by the border: no yellow, the last bath stays colourless.",
        )
    low, high = spent_shares
    if not 0 < low <= high <= 1:
        raise InvalidValueError(f"{low:g}, {high:g}", where="spent shares")
    held = mol_per_l(percent, chelate) * above_zero(volume_ml, "volume")
    load = above_zero(iron_mmol_per_sheet, "iron per sheet")
    return Capacity(
        capacity_mmol=held,
        load_mmol_per_sheet=load,
        sheets=(int(held * low / load), int(held * high / load)),
    )


def paper_chalk_mmol(
    area_cm2: float, *, paper_g_per_m2: float, chalk_percent: float
) -> float:
    """Calcium carbonate in a sheet of buffered paper. [mmol].

    Parameters
    ----------
    area_cm2 : float
        [cm2]
    paper_g_per_m2 : float
        [g/m2]
    chalk_percent : float
        Of the paper's mass, 0..100; 2 to 5 is usual.

    Raises
    ------
    InvalidValueError
        If a value is out of range.

    Notes
    -----
    One acid group pair a carbonate: oxalic acid takes it 1:1.
    """
    if not 0 < chalk_percent <= 100:
        raise InvalidValueError(
            f"{chalk_percent:g} % lies outside 0..100 %",
            where="chalk",
            fix="Give the share of the paper's mass; 2 to 5 is usual.",
        )
    paper_g = above_zero(area_cm2, "area") / 10_000
    paper_g *= above_zero(paper_g_per_m2, "paper weight")
    return 1000 * paper_g * chalk_percent / 100 / molar_mass("CaCO3")


def acid_bath_sheets(
    acid: Substance, *, percent: float, volume_ml: float, chalk_mmol_per_sheet: float
) -> int:
    """Sheets whose chalk an oxalic acid bath can take up.

    Raises
    ------
    InvalidValueError
        If the acid is not oxalic acid or a value is out of range.
    """
    if acid.family != "oxalic acid":
        raise InvalidValueError(
            "is not oxalic acid, the only acid bath that we have a source for",
            where=acid.name,
            fix='Write --acid "oxalic acid dihydrate", or the form on your bottle.',
        )
    held = mol_per_l(percent, acid) * above_zero(volume_ml, "volume")
    return int(held / above_zero(chalk_mmol_per_sheet, "chalk per sheet"))
