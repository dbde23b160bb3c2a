"""What `bath` takes and what it works out."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from negcurve.darkroom.capacity import Capacity
from negcurve.darkroom.processes import Process
from negcurve.darkroom.ratios import Ratio
from negcurve.darkroom.solutions import Dilution, Portion, Weighing
from negcurve.darkroom.steps import Step
from negcurve.darkroom.substances import Substance
from negcurve.values import Finding


@dataclass(frozen=True, kw_only=True)
class BathOptions:
    """What `bath` takes; any of its jobs, alone or together.

    Attributes
    ----------
    process : str, optional
        Bench card of this process.
    steps : path, optional
        The user's own sequence: CSV `step,bath,minutes,temperature_c,end_point`.
    temperatures : mapping of step number to text
        Temperatures that the user works at, counted from 1.
    weigh : str, optional
        Substance to weigh for a stock solution.
    counted_as : str, optional
        Form in which the strength is meant.
    purity_percent : float
    dilute : float, optional
        Strength of a stock to thin. [% w/v]
    strength : float, optional
        Strength wanted, or of the bath. [% w/v]
    volume : str, optional
    solutions : sequence of str
        `NAME:PERCENT:ML`, to check amounts against each other.
    clearing : str, optional
        Salt of EDTA in a clearing bath.
    sheet_iron_ml : float, optional
        Ferric oxalate that one sheet brings. [ml]
    sheet_iron : str
        Which solution that is, `NAME:PERCENT`.
    sheets_done : int, optional
        Sheets that the clearing bath has seen.
    acid : str, optional
        Oxalic acid of a bath for buffered paper.
    size : str, optional
    paper_g_per_m2, chalk_percent : float, optional
    palladium_chloride_g : float, optional
        Palladium chloride to turn to tetrachloropalladate. [g]
    salt : str
        Chloride for it.
    oxalate_g : float, optional
        Potassium oxalate monohydrate to make from acid and carbonate. [g]
    page : path, optional
    overwrite : bool
    """

    process: str | None = None
    steps: Path | str | None = None
    temperatures: Mapping[str, str] = field(default_factory=dict)
    weigh: str | None = None
    counted_as: str | None = None
    purity_percent: float = 100.0
    dilute: float | None = None
    strength: float | None = None
    volume: str | None = None
    solutions: Sequence[str] = ()
    clearing: str | None = None
    sheet_iron_ml: float | None = None
    sheet_iron: str = "ferric oxalate anhydrous:27"
    sheets_done: int | None = None
    acid: str | None = None
    size: str | None = None
    paper_g_per_m2: float | None = None
    chalk_percent: float | None = None
    palladium_chloride_g: float | None = None
    salt: str = "sodium chloride"
    oxalate_g: float | None = None
    page: Path | str | None = None
    overwrite: bool = False


@dataclass(frozen=True, kw_only=True)
class AcidBath:
    """Chalk of a sheet, and sheets that an acid bath can take.

    Attributes
    ----------
    chalk_mmol : float
        Of one sheet. [mmol]
    acid_g : float
        That it uses up. [g]
    sheets : int
    """

    chalk_mmol: float
    acid_g: float
    sheets: int


@dataclass(frozen=True, kw_only=True)
class BathResult:
    """What was worked out; jobs that were not asked for are None or empty.

    Attributes
    ----------
    options : BathOptions
    process : Process or None
    steps : tuple of Step
    substance : Substance or None
    weighing : Weighing or None
    dilution : Dilution or None
    portions : tuple of Portion
    ratios : tuple of Ratio
    capacity : Capacity or None
    acid_bath : AcidBath or None
    palladium_g : (float, float) or None
        Salt to add, tetrachloropalladate that results. [g]
    oxalate_g : (float, float) or None
        Oxalic acid dihydrate, potassium carbonate. [g]
    findings : tuple of Finding
    """

    options: BathOptions
    process: Process | None = None
    steps: tuple[Step, ...] = ()
    substance: Substance | None = None
    weighing: Weighing | None = None
    dilution: Dilution | None = None
    portions: tuple[Portion, ...] = ()
    ratios: tuple[Ratio, ...] = ()
    capacity: Capacity | None = None
    acid_bath: AcidBath | None = None
    palladium_g: tuple[float, float] | None = None
    oxalate_g: tuple[float, float] | None = None
    findings: tuple[Finding, ...] = ()
