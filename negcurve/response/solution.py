"""A solution: all that one solving of readings gave, complete enough to repeat it.

Knows how the parts belong together; each part's own rules are in its module.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, is_dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from negcurve.errors import InvalidValueError
from negcurve.readings import Readings
from negcurve.response.aim import Aim
from negcurve.response.ends import Ends
from negcurve.response.film import FilmData
from negcurve.response.paper import PaperCurve, SheetExposure
from negcurve.response.response import Response
from negcurve.response.table import LookupTable
from negcurve.values import Finding, FloatArray, frozen


@dataclass(frozen=True, eq=False, kw_only=True)
class Unevenness:
    """Density that place on the sheet, not tone, added to each reading.

    Attributes
    ----------
    sheet : str
        The print it was found on.
    x_mm, y_mm : array, shape (n,)
        Places of the readings, from the top left as the print reads right. [mm]
    exposure_level : array, shape (n,)
        Field of exposure as the change of negative level that does the same. [1]
    coating : array, shape (n,)
        Field of coating weight: relative change of density above d_min. [1]
    density : array, shape (n,)
        What both, and streaks, added to each reading. [D]
    at_mid_tone : array, shape (n,)
        What the fields would add at mid-tone at each place. [D]
    """

    sheet: str
    x_mm: FloatArray
    y_mm: FloatArray
    exposure_level: FloatArray
    coating: FloatArray
    density: FloatArray
    at_mid_tone: FloatArray

    def __post_init__(self) -> None:
        for each in fields(self):
            if each.name != "sheet":
                value = frozen(getattr(self, each.name), each.name)
                object.__setattr__(self, each.name, value)

    @property
    def range_at_mid_tone(self) -> float:
        """Largest less smallest of `at_mid_tone`. [D]."""
        return float(np.ptp(self.at_mid_tone))

    def ninths(self, field: FloatArray) -> FloatArray:
        """Average a field over the sheet in three rows of three, from the top.

        Parameters
        ----------
        field : array, shape (n,)
            One value for each reading.

        Returns
        -------
        array, shape (3, 3)
            In the unit of the field; NaN where no reading lies.
        """
        thirds = []
        for place in (self.y_mm, self.x_mm):
            share = (place - place.min()) / max(float(np.ptp(place)), 1e-9)
            thirds.append(np.minimum((3 * share).astype(int), 2))
        which = 3 * thirds[0] + thirds[1]
        count = np.bincount(which, minlength=9)
        total = np.bincount(which, field, minlength=9)
        means = np.full(9, np.nan)
        means[count > 0] = total[count > 0] / count[count > 0]
        return means.reshape(3, 3)


@dataclass(frozen=True, kw_only=True)
class SheetEffect:
    """How one print differs from the response as a whole.

    Attributes
    ----------
    sheet : str
        The print.
    offset : float
        Density added over the whole scale. [D]
    offset_error : float
        Its standard error. [D]
    exposure_level : float
        Change of exposure, as the change of negative level that does the same. [1]
    exposure_level_error : float
        Its standard error. [1]
    """

    sheet: str
    offset: float
    offset_error: float
    exposure_level: float
    exposure_level_error: float


@dataclass(frozen=True, eq=False, kw_only=True)
class Solution:
    """Table and response with everything they came from.

    `==` compares every number, so a solution that was written and read back is equal.

    Attributes
    ----------
    table : LookupTable
    response : Response
    aim : Aim
    ends : Ends
    noise : float
        Standard deviation of one reading at mid-tone. [D]
    weights : array, shape (n,)
        Trust in each reading, all sheets in order: 1 whole, 0 left out.
    unevenness : tuple of Unevenness
        One for each sheet whose fields could be told from tone.
    sheet_effects : tuple of SheetEffect
        One for each sheet when there are several.
    findings : tuple of Finding
    notes : dict of str to str
        What the table holds for: exposure, lamp, paper, development and so on.
    readings : tuple of Readings
        As given to `solve`.
    options : dict
        Keyword arguments of `solve`; plain values.
    printer_path : dict of str to str
        Mode, bits, resolution and profile tag of the target file.
    film : FilmData or None
        Printing density against level, where a tablet on a sheet or known film tells.
    paper : PaperCurve or None
        Characteristic curve of the paper, where film is known.
    exposures : tuple of SheetExposure
        Exposure of the other prints in stops, where film is known.
    """

    table: LookupTable
    response: Response
    aim: Aim
    ends: Ends
    noise: float = 0.0
    weights: FloatArray = field(default_factory=lambda: np.empty(0))
    unevenness: tuple[Unevenness, ...] = ()
    sheet_effects: tuple[SheetEffect, ...] = ()
    findings: tuple[Finding, ...] = ()
    notes: dict[str, str] = field(default_factory=dict)
    readings: tuple[Readings, ...] = ()
    options: dict[str, Any] = field(default_factory=dict)
    printer_path: dict[str, str] = field(default_factory=dict)
    film: FilmData | None = None
    paper: PaperCurve | None = None
    exposures: tuple[SheetExposure, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "weights", frozen(self.weights, "weights"))
        low, high = self.response.domain
        levels = self.table.level_nodes
        if levels[-1] < low - 1e-9 or levels[0] > high + 1e-9:
            raise InvalidValueError(
                f"levels {levels[-1]:.3f}..{levels[0]:.3f} leave the measured "
                f"{low:.3f}..{high:.3f}",
                where="lookup table",
            )

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Solution) and _same(self, other)

    def __hash__(self) -> int:
        return hash(self.table.identity)

    def exposure_stops(self, field: Unevenness) -> FloatArray | None:
        """Give a sheet's field of exposure in stops, where film density is known.

        Parameters
        ----------
        field : Unevenness
            Of one of this solution's prints.

        Returns
        -------
        array, shape (n,), or None
            At the field's places; None without a step tablet or film data. [stops]
        """
        if self.film is None:
            return None
        response = self.response
        middle = np.mean(response.density(np.array(response.domain)))
        level = float(response.negative_level(middle))
        return field.exposure_level * self.film.stops_per_level(level)

    def printed_density(self, image_tone: npt.ArrayLike) -> FloatArray:
        """Return the density that the table should print for each tone. [D]."""
        return self.response.density(self.table.negative_level(image_tone))


def measured_aim(solution: Solution, *, name: str) -> Aim:
    """Make an aim of what a solution's table prints, to match another paper to it.

    Parameters
    ----------
    solution : Solution
    name : str

    Returns
    -------
    Aim
        In absolute densities. It runs straight in lightness where the readings tell
        that, else in density.
    """
    tone = solution.table.tone_nodes
    kinds = {each.density_kind for each in solution.readings}
    return Aim(
        name=name,
        tone_nodes=tone,
        density_nodes=np.minimum.accumulate(solution.printed_density(tone)),
        scale="lightness" if kinds <= {"luminance"} else "density",
    )


def _same(one: Any, other: Any) -> bool:
    one, other = (e.item() if isinstance(e, np.generic) else e for e in (one, other))
    if type(one) is not type(other):
        return False
    if isinstance(one, np.ndarray):
        return bool(np.array_equal(one, other, equal_nan=True))
    if is_dataclass(one):
        return all(
            _same(getattr(one, each.name), getattr(other, each.name))
            for each in fields(one)
        )
    if isinstance(one, Mapping):
        return one.keys() == other.keys() and all(
            _same(one[key], other[key]) for key in one
        )
    if isinstance(one, (tuple, list)):
        return len(one) == len(other) and all(map(_same, one, other))
    if isinstance(one, float):
        return one == other or (one != one and other != other)
    return bool(one == other)
