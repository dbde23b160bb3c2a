"""What `expose` takes and what it works out."""

from dataclasses import dataclass
from pathlib import Path

from negcurve.darkroom.estimate import Estimate
from negcurve.darkroom.exposure import StripPlan
from negcurve.darkroom.processes import Process
from negcurve.values import Finding


@dataclass(frozen=True, kw_only=True)
class ExposeOptions:
    """What `expose` takes; lengths with their unit.

    Attributes
    ----------
    time : str, optional
        Time to start from; the first one of a test strip.
    units, units_per_s : float, optional
        Integrator units instead of a time, and how many it counts in a second.
    patches : int, optional
        Plan a test strip of so many.
    stop_step : str
        From patch to patch. [stop]
    lamp : float, optional
        Output of the lamp against its reference. [1]
    density : float, optional
        Density put into the light's way, or taken out (negative). [D]
    stops : str, optional
        Change wanted at the paper.
    other_time : str, optional
        A second time: how many stops lie between.
    from_distance, to_distance, source, bank_width : str, optional
        Lamp to paper before and after; diameter of a round source; width of a bank.
    curve : path, optional
        Readings of a step tablet of the process, CSV `step,density`.
    tablet : str or path
        Tablet of that curve.
    has, wants : float, optional
        Print densities between which the exposure changes. [D]
    tube_height, tube_spacing, overhang : str, optional
        Geometry of a bank of tubes.
    uva : float, optional
        UVA irradiance at the eye. [mW/cm2]
    process : str, optional
    page : path, optional
        HTML page to print.
    overwrite : bool
    """

    time: str | None = None
    units: float | None = None
    units_per_s: float | None = None
    patches: int | None = None
    stop_step: str = "1/2"
    lamp: float | None = None
    density: float | None = None
    stops: str | None = None
    other_time: str | None = None
    from_distance: str | None = None
    to_distance: str | None = None
    source: str | None = None
    bank_width: str | None = None
    curve: Path | str | None = None
    tablet: Path | str = "31x0.10"
    has: float | None = None
    wants: float | None = None
    tube_height: str | None = None
    tube_spacing: str | None = None
    overhang: str | None = None
    uva: float | None = None
    process: str | None = None
    page: Path | str | None = None
    overwrite: bool = False


@dataclass(frozen=True, kw_only=True)
class Correction:
    """One factor of a time, in words, as a factor and in stops."""

    what: str
    factor: float
    stops: float


@dataclass(frozen=True, kw_only=True)
class BankLight:
    """Light under a bank of tubes; parts whose geometry was not given are None.

    Attributes
    ----------
    height_mm : float
    ripple : float or None
        Least over greatest light across the tubes.
    dead_tube_loss : float or None
        Share that is missing beneath a dead tube.
    edge : float or None
        Light at the sheet's edge against an endless bank.
    """

    height_mm: float
    ripple: float | None
    dead_tube_loss: float | None
    edge: float | None


@dataclass(frozen=True, kw_only=True)
class ExposeResult:
    """Worked-out exposure; parts that were not asked for are None or empty.

    Attributes
    ----------
    options : ExposeOptions
    base_s : float or None
        [s]
    corrections : tuple of Correction
    change : Estimate or None
        Factor between the two densities.
    time_s : float or None
        Base with all corrections. [s]
    plan : StripPlan or None
    bank : BankLight or None
    uva_limit_s : float or None
        [s]
    between : Correction or None
        From the time to the other time.
    process : Process or None
    findings : tuple of Finding
    """

    options: ExposeOptions
    base_s: float | None
    corrections: tuple[Correction, ...]
    change: Estimate | None
    time_s: float | None
    plan: StripPlan | None
    bank: BankLight | None
    uva_limit_s: float | None
    between: Correction | None
    process: Process | None
    findings: tuple[Finding, ...]
