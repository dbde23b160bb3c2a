"""The bottles that make the coating of each process, and their usual strengths.

Starting points with their grade; strengths and parts are the user's to replace.
"""

from dataclasses import dataclass, replace
from typing import Literal

from negcurve.darkroom.solutions import mol_per_l
from negcurve.darkroom.substances import SUBSTANCES
from negcurve.errors import InvalidValueError

Role = Literal["iron", "metal", "sensitizer", "agent", "other"]


@dataclass(frozen=True, kw_only=True)
class Ingredient:
    """What is dissolved in a bottle.

    Attributes
    ----------
    substance : str
        Its full name with the hydrate, as in `substances`.
    percent : float
        Counted in that form. [% w/v]
    """

    substance: str
    percent: float


@dataclass(frozen=True, kw_only=True)
class Bottle:
    """One bottle on the shelf.

    Attributes
    ----------
    name : str
    role : {"iron", "metal", "sensitizer", "agent", "other"}
    contents : tuple of Ingredient
    parts : float
        Of the coating's volume, relative to the other bottles.
    source : str
    verified : bool
    """

    name: str
    role: Role
    contents: tuple[Ingredient, ...]
    parts: float
    source: str
    verified: bool

    @property
    def mmol_per_ml(self) -> float | None:
        """Of the first substance; None where its composition is not fixed."""
        if not self.contents:
            return None
        form = SUBSTANCES[self.contents[0].substance]
        if not form.formula:
            return None
        return mol_per_l(self.contents[0].percent, form)

    def with_percent(self, percent: float) -> "Bottle":
        """Return the bottle at the user's own strength of its first substance."""
        first = replace(self.contents[0], percent=percent)
        contents = (first, *self.contents[1:])
        return replace(self, contents=contents, source="your own", verified=True)

    def with_form(self, substance: str) -> "Bottle":
        """Return the bottle with its strength counted in another form."""
        first = replace(self.contents[0], substance=substance)
        return replace(self, contents=(first, *self.contents[1:]))


def _bottle(
    name: str,
    role: Role,
    contents: tuple[tuple[str, float], ...],
    *,
    source: str = "common practice",
    parts: float = 1.0,
    verified: bool = False,
) -> Bottle:
    kept = tuple(Ingredient(substance=s, percent=p) for s, p in contents)
    return Bottle(
        name=name,
        role=role,
        contents=kept,
        parts=parts,
        source=source,
        verified=verified,
    )


FERRIC_OXALATE = _bottle(
    "ferric oxalate",
    "iron",
    (("ferric oxalate anhydrous", 27.0),),
    source="Mathias, Guide to Platinum Palladium Printmaking; hydrate not stated",
    verified=True,
)
PALLADIUM = _bottle(
    "palladium",
    "metal",
    (("sodium tetrachloropalladate", 15.0),),
    source="common practice; 9 % as PdCl2 is the same bottle",
)
PLATINUM = _bottle("platinum", "metal", (("potassium tetrachloroplatinate", 20.0),))

RECIPES: dict[str, tuple[Bottle, ...]] = {
    "platinum": (FERRIC_OXALATE, PLATINUM),
    "platinum-palladium": (FERRIC_OXALATE, PLATINUM, PALLADIUM),
    "palladium": (FERRIC_OXALATE, PALLADIUM),
    "palladium-print-out": (
        _bottle("ammonium ferric oxalate", "iron", ()),
        _bottle(
            "ammonium palladium",
            "metal",
            (("ammonium tetrachloropalladate", 19.2),),
            source="Ware, The platino-palladiotype process: 3.0 g PdCl2 and 1.8 g "
            "NH4Cl; volume of 25 ml from memory",
        ),
    ),
    "cyanotype": (
        _bottle(
            "iron (A)",
            "iron",
            (("ferric ammonium citrate green", 25.0),),
            source="Ware, The New Cyanotype process",
            verified=True,
        ),
        _bottle(
            "ferricyanide (B)",
            "other",
            (("potassium ferricyanide", 10.0),),
            source="Ware, The New Cyanotype process",
            verified=True,
        ),
    ),
    "new-cyanotype": (
        _bottle(
            "new cyanotype",
            "sensitizer",
            (
                ("ammonium ferric oxalate trihydrate", 30.0),
                ("potassium ferricyanide", 10.0),
                ("ammonium dichromate", 0.1),
            ),
            source="Ware, The New Cyanotype process",
            verified=True,
        ),
    ),
    "kallitype": (
        _bottle(
            "ferric oxalate",
            "iron",
            (("ferric oxalate anhydrous", 20.0),),
            source="common practice; variant in Clerc",
        ),
        _bottle("silver nitrate", "metal", (("silver nitrate", 10.0),)),
    ),
    "van-dyke": (
        _bottle(
            "Van Dyke",
            "sensitizer",
            (
                ("silver nitrate", 3.8),
                ("ferric ammonium citrate green", 9.0),
                ("tartaric acid", 1.5),
            ),
        ),
    ),
    "argyrotype": (
        _bottle(
            "argyrotype",
            "sensitizer",
            (
                ("silver oxide", 7.0),
                ("sulfamic acid", 7.0),
                ("ferric ammonium citrate green", 22.0),
            ),
            source="common practice, after Ware",
        ),
    ),
    "salt": (
        _bottle(
            "silver nitrate",
            "sensitizer",
            (("silver nitrate", 12.0),),
            source="Albumenworks 1996; Decisive Momentum 2008: 10-15 %",
            verified=True,
        ),
    ),
    "albumen": (
        _bottle(
            "silver nitrate",
            "sensitizer",
            (("silver nitrate", 12.0),),
            source="Albumenworks 1996; Decisive Momentum 2008: 10-15 %",
            verified=True,
        ),
    ),
    "gum": (
        _bottle("gum with pigment", "other", ()),
        _bottle("dichromate", "sensitizer", (("potassium dichromate", 10.0),)),
    ),
    "carbon": (
        _bottle(
            "dichromate",
            "sensitizer",
            (("potassium dichromate", 3.0),),
            source="chestofbooks, Practical Photography: 2-5 %",
            verified=True,
        ),
    ),
}
"""Bottles by process. Where a source is common practice, so is the strength."""

CHLOROPLATINATE = _bottle(
    "hexachloroplatinate",
    "agent",
    (("sodium hexachloroplatinate anhydrous", 5.0),),
    source="drops of 2.5-5 % for 8x10 in: Leake; bevelslidingsave 2012",
    parts=0.0,
    verified=True,
)
CHLORATE = _bottle(
    "chlorate",
    "agent",
    (("potassium chlorate", 0.46),),
    source="0.46 g in 100 ml of ferric oxalate: Gottlieb, JAIC 34(1) 11-32, 1995",
    parts=0.0,
    verified=True,
)
DICHROMATE = _bottle("dichromate", "agent", (("potassium dichromate", 1.0),), parts=0.0)
AGENTS = {
    "hexachloroplatinate": CHLOROPLATINATE,
    "chlorate": CHLORATE,
    "dichromate": DICHROMATE,
}


def bottles(
    process_key: str, *, platinum_share: float | None = None
) -> tuple[Bottle, ...]:
    """Return the bottles of a process.

    Parameters
    ----------
    process_key : str
        Word of `processes.PROCESSES`.
    platinum_share : float, optional
        Platinum solution over both metal solutions, 0..1; platinum and palladium only.

    Returns
    -------
    tuple of Bottle
        Without contrast agent.

    Raises
    ------
    InvalidValueError
        If the share does not fit the process.
    """
    recipe = RECIPES[process_key]
    metals = [bottle for bottle in recipe if bottle.role == "metal"]
    if platinum_share is None:
        platinum_share = 0.5 if len(metals) == 2 else None
    elif process_key not in ("platinum", "palladium", "platinum-palladium"):
        raise InvalidValueError(
            f"{process_key} holds neither platinum nor palladium to share",
            where="platinum",
            fix="Leave the share out, or name --process platinum-palladium.",
        )
    if platinum_share is None:
        return recipe
    if not 0 <= platinum_share <= 1:
        raise InvalidValueError(
            f"{platinum_share:g} lies outside 0..1",
            where="platinum",
            fix="Give the share of platinum in the metal: 0.3 for three parts in ten.",
        )
    shares = ((PLATINUM, platinum_share), (PALLADIUM, 1 - platinum_share))
    kept = [replace(bottle, parts=share) for bottle, share in shares if share > 0]
    return (FERRIC_OXALATE, *kept)
