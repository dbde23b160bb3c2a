"""How much to mix for a sheet: area, volume, drops per bottle, amounts.

Lengths are in mm and areas in cm2; deposits that sources give per square inch are kept
so and converted here.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from negcurve.darkroom.recipes import Bottle
from negcurve.darkroom.solutions import above_zero
from negcurve.errors import InvalidValueError

CM2_PER_IN2 = 6.4516
"""Exact, since 1 in = 25.4 mm."""

WASTE_PERCENT = 5.0
"""Grade C, common practice, no source."""

DROPS_PER_ML = 20.0
"""Convention only: 20-70 ul a drop is accepted for eye drops. Count drops to 10 ml."""


@dataclass(frozen=True, kw_only=True)
class Tool:
    """How much a tool lays down and keeps.

    Attributes
    ----------
    name : str
    deposit_ml_per_in2 : float
        [ml/in2]
    holdup_ml : float
        What stays in tool and cup. [ml]
    """

    name: str
    deposit_ml_per_in2: float
    holdup_ml: float


TOOLS = {
    "rod": Tool(name="glass rod", deposit_ml_per_in2=0.017, holdup_ml=0.1),
    "brush": Tool(name="brush", deposit_ml_per_in2=0.021, holdup_ml=0.3),
    "absorbent": Tool(
        name="brush on absorbent paper", deposit_ml_per_in2=0.035, holdup_ml=0.3
    ),
}
"""Grade C, fitted to published amounts for 8x10 in between 0.019 and 0.050 ml/in2
(Mathias, Ware, Rudiak, Duchochois and others)."""


def coated_area_cm2(width_mm: float, height_mm: float, *, border_mm: float) -> float:
    """Area of picture and border in cm2.

    Raises
    ------
    InvalidValueError
        If a side is not above 0 or the border is negative.
    """
    if not border_mm >= 0:
        raise InvalidValueError(
            f"{border_mm:g} mm is below 0",
            where="border",
            fix="Give what is coated beyond the picture on each side, 0 or more.",
        )
    width = above_zero(width_mm, "width") + 2 * border_mm
    height = above_zero(height_mm, "height") + 2 * border_mm
    return width * height / 100


def coating_volume_ml(
    area_cm2: float,
    *,
    deposit_ml_per_in2: float,
    holdup_ml: float,
    waste_percent: float = WASTE_PERCENT,
) -> float:
    """Volume to mix: area x deposit x (1 + waste) + what the tool keeps. [ml].

    Raises
    ------
    InvalidValueError
        If a value is out of range.

    Notes
    -----
    The form of the sum is common practice; measure your own deposit by weighing tool
    and cup before and after (Mathias).
    """
    if not 0 <= waste_percent <= 100:
        raise InvalidValueError(
            f"{waste_percent:g} % lies outside 0..100 %",
            where="waste",
            fix="Give the percentage to mix on top, such as 5.",
        )
    if not holdup_ml >= 0:
        raise InvalidValueError(
            f"{holdup_ml:g} ml is below 0",
            where="holdup",
            fix="Give what tool and cup keep in ml, 0 or more.",
        )
    deposit = above_zero(deposit_ml_per_in2, "deposit") / CM2_PER_IN2
    laid = above_zero(area_cm2, "area") * deposit
    return laid * (1 + waste_percent / 100) + holdup_ml


@dataclass(frozen=True, kw_only=True)
class Pour:
    """What is taken from one bottle for one sheet.

    Attributes
    ----------
    bottle : Bottle
    exact_ml : float
        Before rounding to drops. [ml]
    drops : int
        Whole drops, at least 1.
    volume_ml : float
        Of the whole drops. [ml]
    """

    bottle: Bottle
    exact_ml: float
    drops: int
    volume_ml: float

    @property
    def rounding_percent(self) -> float:
        """How much more, or less, the whole drops are than the exact volume."""
        return 100 * (self.volume_ml / self.exact_ml - 1)

    @property
    def mmol(self) -> float | None:
        """Amount of the bottle's first substance in the whole drops."""
        strength = self.bottle.mmol_per_ml
        return None if strength is None else strength * self.volume_ml


def pours(
    bottles: Sequence[Bottle], *, volume_ml: float, drops_per_ml: float = DROPS_PER_ML
) -> tuple[Pour, ...]:
    """Share a volume among bottles by their parts, in whole drops.

    Parameters
    ----------
    bottles : sequence of Bottle
    volume_ml : float
        Of all together. [ml]
    drops_per_ml : float
        Of the user's dropper, 5..100. [1/ml]

    Returns
    -------
    tuple of Pour

    Raises
    ------
    InvalidValueError
        If a value is out of range.
    """
    volume = above_zero(volume_ml, "volume")
    _check_drops_per_ml(drops_per_ml)
    parts = sum(bottle.parts for bottle in bottles)
    found = []
    for bottle in bottles:
        exact = volume * bottle.parts / parts
        drops = max(round(exact * drops_per_ml), 1)
        found.append(
            Pour(
                bottle=bottle,
                exact_ml=exact,
                drops=drops,
                volume_ml=drops / drops_per_ml,
            )
        )
    return tuple(found)


AgentPlace = Literal["extra", "replace"]


def with_agent(
    metal_and_iron: Sequence[Pour],
    agent: Bottle,
    *,
    drops: int,
    drops_per_ml: float = DROPS_PER_ML,
    place: AgentPlace = "extra",
) -> tuple[Pour, ...]:
    """Add drops of contrast agent.

    Parameters
    ----------
    metal_and_iron : sequence of Pour
        From `pours`.
    agent : Bottle
    drops : int
        1 or more.
    drops_per_ml : float
        [1/ml]
    place : {"extra", "replace"}
        On top of the mix, which dilutes it, or instead of drops of metal.

    Returns
    -------
    tuple of Pour

    Raises
    ------
    InvalidValueError
        If there are not so many drops of metal to replace.
    """
    if drops < 1:
        raise InvalidValueError(
            f"{drops} is not 1 or more", where="agent drops", fix="Give whole drops."
        )
    volume = drops / drops_per_ml
    added = Pour(bottle=agent, exact_ml=volume, drops=drops, volume_ml=volume)
    kept = list(metal_and_iron)
    if place == "replace":
        metals = [n for n, pour in enumerate(kept) if pour.bottle.role == "metal"]
        target = max(metals, key=lambda n: kept[n].drops) if metals else -1
        if target < 0 or kept[target].drops <= drops:
            raise InvalidValueError(
                f"there are not more than {drops} drops of metal to replace",
                where="agent drops",
                fix="Add the agent on top instead.",
            )
        old = kept[target]
        left = old.drops - drops
        kept[target] = Pour(
            bottle=old.bottle,
            exact_ml=old.exact_ml - volume,
            drops=left,
            volume_ml=left / drops_per_ml,
        )
    return (*kept, added)


def agent_per_metal(mix: Sequence[Pour]) -> float | None:
    """Contrast agent over metal in a mix, None if either is unknown. [mmol/mmol]."""
    agent = [pour.mmol for pour in mix if pour.bottle.role == "agent"]
    metal = [pour.mmol for pour in mix if pour.bottle.role == "metal"]
    known = [each for each in (*agent, *metal) if each is not None]
    if not agent or not metal or len(known) < len(agent) + len(metal):
        return None
    return sum(known[: len(agent)]) / sum(known[len(agent) :])


def _check_drops_per_ml(value: float) -> None:
    if not 5 <= value <= 100:
        raise InvalidValueError(
            f"{value:g} lies outside 5..100",
            where="drops per ml",
            fix="Count the drops of your dropper that fill 10 ml, and divide by 10.",
        )
