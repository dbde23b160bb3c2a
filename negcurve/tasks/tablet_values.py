"""What `tablet` takes and what it finds."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from negcurve.darkroom.characteristic import CharacteristicCurve
from negcurve.darkroom.estimate import Estimate
from negcurve.darkroom.first_print import BLACK_SHARE, EndsSeen
from negcurve.darkroom.iso6846 import PaperRange
from negcurve.darkroom.matching import Match, SecondSheet
from negcurve.darkroom.negative_range import AgentSeries, Kind, RangeMatch
from negcurve.darkroom.processes import Process
from negcurve.darkroom.tablet import Tablet
from negcurve.values import Finding, FloatArray


@dataclass(frozen=True, kw_only=True)
class TabletOptions:
    """What `tablet` takes. One of `strip`, `densities` or the two steps is needed.

    Attributes
    ----------
    strip : path, optional
        CSV with `step` (or `patch`) and `density` (or `lightness`), or a scan.
    strip_box, turned_box : str, optional
        Where the strips lie in their scans, X,Y,W,H; else they are looked for. [px]
    profile : path, optional
        ICC profile of the scans, instead of the one that they carry.
    gamma : float, optional
        Light = level^gamma in the scans, instead of a profile.
    densities : sequence of float
        Print densities typed from step 1 on. [D]
    turned, turned_densities
        A second strip that lay beside the first, turned head to tail.
    tablet : str or path
        `21`, `31`, `31x0.10`, or a CSV `step,density` of measured densities.
    drop : sequence of int
        Steps to leave out.
    unexposed : float, optional
        Density of coated, processed, unexposed paper. [D]
    merged_step, last_step : int, optional
        By eye: densest step still black, densest step still showing a tone.
    time : str, optional
        Exposure of the strip.
    film_density : float, optional
        Of the negative's clear film to the process. [D]
    film_over : bool
        Whether that film lay over the tablet.
    black_share : float
        What counts as black.
    process : str, optional
        Word of the process.
    negative : (float, float), optional
        Printing densities of its shadow and highlight. [D]
    negative_kind : {"digital", "camera"}
    patches : path, optional
        CSV `patch,density` of film patches printed on the same sheet.
    series : path, optional
        CSV `dose,exposure_scale` of the user's own tests.
    wanted_scale : float, optional
        Scale to find a dose for; the negative's range where not given. [log10]
    page : path, optional
        HTML page to print.
    overwrite : bool
    """

    strip: Path | str | None = None
    densities: Sequence[float] = ()
    turned: Path | str | None = None
    turned_densities: Sequence[float] = ()
    tablet: Path | str = "31x0.10"
    strip_box: str | None = None
    turned_box: str | None = None
    profile: Path | str | None = None
    gamma: float | None = None
    drop: Sequence[int] = ()
    unexposed: float | None = None
    merged_step: int | None = None
    last_step: int | None = None
    time: str | None = None
    film_density: float | None = None
    film_over: bool = False
    black_share: float = BLACK_SHARE
    process: str | None = None
    negative: tuple[float, float] | None = None
    negative_kind: Kind = "digital"
    patches: Path | str | None = None
    series: Path | str | None = None
    wanted_scale: float | None = None
    page: Path | str | None = None
    overwrite: bool = False


@dataclass(frozen=True, eq=False, kw_only=True)
class TabletResult:
    """What a printed tablet says; parts that were not asked for are None.

    Attributes
    ----------
    tablet : Tablet
    curve : CharacteristicCurve or None
        None when only step numbers were given.
    step : array
        Steps of the curve's readings.
    range : PaperRange or None
    ends : EndsSeen or None
    eye_scale : Estimate or None
        From step numbers. [log10]
    test_time_s : float or None
    black_time_s, eye_black_time_s : Estimate, float or None
        Least time for black under the negative's clear film, by curve and by step.
    lamp_gradient : Estimate or None
        Log exposure from one end of the strip to the other. [log10]
    fit : RangeMatch or None
    matches : tuple of Match
    second : SecondSheet or None
    series : AgentSeries or None
    dose : Estimate or None
    process : Process or None
    findings : tuple of Finding
    options : TabletOptions
    """

    tablet: Tablet
    options: TabletOptions
    curve: CharacteristicCurve | None = None
    step: FloatArray = field(default_factory=lambda: np.empty(0))
    range: PaperRange | None = None
    ends: EndsSeen | None = None
    eye_scale: Estimate | None = None
    test_time_s: float | None = None
    black_time_s: Estimate | None = None
    eye_black_time_s: float | None = None
    lamp_gradient: Estimate | None = None
    fit: RangeMatch | None = None
    matches: tuple[Match, ...] = ()
    second: SecondSheet | None = None
    series: AgentSeries | None = None
    dose: Estimate | None = None
    process: Process | None = None
    findings: tuple[Finding, ...] = ()

    @property
    def exposure_scale(self) -> float | None:
        """By curve, else by eye. [log10]."""
        if self.range is not None:
            return self.range.exposure_scale.value
        return self.eye_scale.value if self.eye_scale else None
