"""What `mix` takes and what it works out."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from negcurve.darkroom.coating import AgentPlace, Pour, Tool
from negcurve.darkroom.costing import Cost
from negcurve.darkroom.processes import Process
from negcurve.darkroom.ratios import Ratio
from negcurve.values import Finding


@dataclass(frozen=True, kw_only=True)
class MixOptions:
    """What `mix` takes.

    Attributes
    ----------
    size : str
        Of the picture: `8x10in`, `20x25cm`, `A4`.
    process : str
        Word of the process.
    border : str
        Coated beyond the picture on each side, with its unit.
    tool : str
        `rod`, `brush` or `absorbent`.
    deposit_ml_per_in2, holdup_ml : float, optional
        The user's own, instead of the tool's.
    waste_percent : float
    drops_per_ml : float, optional
        Of the user's dropper.
    platinum_share : float, optional
        Platinum solution over both metal solutions, 0..1.
    strengths : mapping of bottle name to percent
        The user's own strengths. [% w/v]
    forms : mapping of bottle name to substance name
        The form that a strength counts.
    parts : mapping of bottle name to parts
        The user's own shares of the coating's volume.
    agent : str
        `hexachloroplatinate`, `chlorate`, `dichromate`; empty for none.
    agent_drops : int
    agent_percent : float, optional
        Strength of the agent. [% w/v]
    agent_form : str
        `anhydrous` or `hexahydrate`; empty if the label does not say.
    agent_place : {"extra", "replace"}
    prices : mapping of bottle name to price per ml
    paper_price, bath_price : float
        Per sheet.
    failed_share : float
        Sheets that fail, 0..0.95.
    sheets : int
        Coated in the session.
    page : path, optional
    overwrite : bool
    """

    size: str
    process: str = "palladium"
    border: str = "0in"
    tool: str = "brush"
    deposit_ml_per_in2: float | None = None
    holdup_ml: float | None = None
    waste_percent: float | None = None
    drops_per_ml: float | None = None
    platinum_share: float | None = None
    strengths: Mapping[str, float] = field(default_factory=dict)
    forms: Mapping[str, str] = field(default_factory=dict)
    parts: Mapping[str, float] = field(default_factory=dict)
    agent: str = ""
    agent_drops: int = 0
    agent_percent: float | None = None
    agent_form: str = ""
    agent_place: AgentPlace = "extra"
    prices: Mapping[str, float] = field(default_factory=dict)
    paper_price: float = 0.0
    bath_price: float = 0.0
    failed_share: float = 0.0
    sheets: int = 1
    page: Path | str | None = None
    overwrite: bool = False


@dataclass(frozen=True, kw_only=True)
class MixResult:
    """What to take from each bottle.

    Attributes
    ----------
    options : MixOptions
    process : Process
    tool : Tool
        With the user's own figures where given.
    area_cm2 : float
    volume_ml : float
        By area, deposit, waste and hold-up, without contrast agent. [ml]
    drops_per_ml : float
    pours : tuple of Pour
    agent_per_metal : (float, float) or None
        mmol of agent over mmol of metal; both where its form is not known.
    iron_ratio : Ratio or None
        Iron to metal or to ferricyanide.
    cost : Cost or None
    unverified : tuple of str
        Which defaults are common practice without a source.
    findings : tuple of Finding
    """

    options: MixOptions
    process: Process
    tool: Tool
    area_cm2: float
    volume_ml: float
    drops_per_ml: float
    pours: tuple[Pour, ...]
    agent_per_metal: tuple[float, float] | None
    iron_ratio: Ratio | None
    cost: Cost | None
    unverified: tuple[str, ...]
    findings: tuple[Finding, ...]
