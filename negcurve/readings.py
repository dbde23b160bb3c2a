"""Readings of one print: which negative level gave which density, and where.

Knows what a readings file may say; reading and writing such files is left to
`negcurve.files`, finding patches in a scan to `negcurve.reading`.

A step tablet that was exposed on the same sheet gives rows of its own: `tablet_density`
says which of its densities lay in the light there, on top of the film's level (clear
film, 1, unless said otherwise). These rows tell film and paper apart; they are no
readings of a level, and whatever fits levels leaves them out.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, fields
from typing import Literal, get_args

import numpy as np
import numpy.typing as npt

from negcurve.errors import InvalidValueError
from negcurve.values import Finding, FloatArray, frozen

DensityKind = Literal["luminance", "visual", "red", "green", "blue"]
"""`luminance` -log10 Y (D50, 2 degrees); `visual` ISO 5-3; else one channel."""

DensityZero = Literal["absolute", "paper", "scanner"]
"""What density 0 is: the perfect diffuser, the bare paper, or the scanner's white."""

PrintState = Literal["dry", "wet"]

Flag = Literal["stray", "uneven", "covered", "clipped"]

NUMBERS = (
    "negative_level",
    "density",
    "image_tone",
    "standard_error",
    "x_mm",
    "y_mm",
    "tablet_density",
)


@dataclass(frozen=True, eq=False, kw_only=True)
class Readings:
    """One row per reading of one print.

    Only `negative_level` and `density` are needed; NaN stands for "not known" in every
    other number. Arguments may be any sequences; they are kept as read-only arrays.

    Attributes
    ----------
    negative_level : array, shape (n,)
        Level in the file sent to the printer, 0..1; 0 asks for full ink. [1]
    density : array, shape (n,)
        Print density, counted from `density_zero`. [D]
    patch : tuple of str, length n
        Key of the patch within a sheet. Two rows with one key read one patch twice.
        Without keys (all empty) equal levels are repeats.
    image_tone : array, shape (n,)
        Image tone that the level was computed from, where a table was used. [1]
    standard_error : array, shape (n,)
        Of the density. [D]
    x_mm, y_mm : array, shape (n,)
        Patch centre from the top left of the print as it reads right, y down. [mm]
    tablet_density : array, shape (n,)
        Density of the tablet's step over this place, NaN where none lay: every row but
        those of a step tablet. [D]
    flags : tuple of frozenset of str, length n
        Any of `stray`, `uneven`, `covered`, `clipped`.
    tablet_over_film : bool
        Whether the light went through clear film as well as through the tablet, as it
        does where the tablet lies in the target's window.
    sheet : str
        Name of the print; files with one `sheet` are readings of the same print.
    target : str
        Identity of the target's layout, as printed on it.
    table : str
        Identity of the table that the target was printed through.
    density_kind, density_zero, print_state
        See the types of these names.
    hours_dry : float or None
        Time since the print was dry. [h]
    source : str
        File or instrument that the readings come from.
    printer_path : mapping of str to str
        Mode, bits, resolution and profile tag that the target file was written with;
        what prints the negative must be written the same way.
    findings : tuple of Finding
        What reading the print brought up.
    """

    negative_level: FloatArray
    density: FloatArray
    patch: tuple[str, ...] = ()
    image_tone: FloatArray = field(default_factory=lambda: np.empty(0))
    standard_error: FloatArray = field(default_factory=lambda: np.empty(0))
    x_mm: FloatArray = field(default_factory=lambda: np.empty(0))
    y_mm: FloatArray = field(default_factory=lambda: np.empty(0))
    tablet_density: FloatArray = field(default_factory=lambda: np.empty(0))
    tablet_over_film: bool = True
    ink: tuple[str, ...] = ()
    flags: tuple[frozenset[str], ...] = ()
    sheet: str = "1"
    target: str = ""
    table: str = ""
    density_kind: DensityKind = "luminance"
    density_zero: DensityZero = "absolute"
    print_state: PrintState = "dry"
    hours_dry: float | None = None
    source: str = ""
    printer_path: dict[str, str] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()

    def __post_init__(self) -> None:
        self._keep_numbers()
        count = len(self.negative_level)
        self._keep("patch", tuple(self.patch) or ("",) * count)
        self._keep("ink", tuple(self.ink) or ("",) * count)
        flags = tuple(frozenset(each) for each in self.flags)
        self._keep("flags", flags or (frozenset(),) * count)
        self._check_lengths(count)
        self._check_words()
        outside = (self.negative_level < 0) | (self.negative_level > 1)
        if outside.any():
            place = int(np.flatnonzero(outside)[0])
            raise InvalidValueError(
                f"{self.negative_level[place]:g} lies outside 0..1",
                where=self.row_name(place),
                fix="Levels are code / largest code: 0 full ink, 1 clear film.",
            )

    def __len__(self) -> int:
        """Return the number of readings."""
        return len(self.negative_level)

    @property
    def placed(self) -> bool:
        """Whether every reading has a place on the sheet."""
        return bool(np.isfinite(self.x_mm).all() and np.isfinite(self.y_mm).all())

    @property
    def on_tablet(self) -> npt.NDArray[np.bool_]:
        """Which readings are of a step tablet, shape (n,)."""
        return np.isfinite(self.tablet_density)

    @property
    def has_mixtures(self) -> bool:
        """Whether rows have inks of their own, so that levels mean nothing."""
        return any(self.ink)

    def row_name(self, place: int) -> str:
        """Name a row for a message: source, patch or row number counted from 1."""
        key = self.patch[place] if place < len(self.patch) else ""
        row = f"patch {key}" if key else f"reading {place + 1}"
        return f"{self.source}, {row}" if self.source else row

    def flagged(self, *names: str) -> npt.NDArray[np.bool_]:
        """Return which readings carry any of the flags, shape (n,)."""
        wanted = set(names)
        return np.array([bool(wanted & each) for each in self.flags], dtype=bool)

    def chosen(self, rows: npt.ArrayLike) -> "Readings":
        """Return the readings of some rows only.

        Parameters
        ----------
        rows : array of bool or int, shape (n,) or (m,)
            Mask or places.

        Returns
        -------
        Readings
        """
        places = np.arange(len(self))[np.asarray(rows)]
        changed: dict[str, object] = {
            name: getattr(self, name)[places] for name in NUMBERS
        }
        changed["patch"] = tuple(self.patch[place] for place in places)
        changed["ink"] = tuple(self.ink[place] for place in places)
        changed["flags"] = tuple(self.flags[place] for place in places)
        return self.replaced(**changed)

    def replaced(self, **changes: object) -> "Readings":
        """Return a copy with some attributes changed."""
        values: dict[str, object] = {
            each.name: getattr(self, each.name) for each in fields(self)
        }
        return type(self)(**{**values, **changes})  # type: ignore[arg-type]  # checked on construction

    def _keep(self, name: str, value: object) -> None:
        object.__setattr__(self, name, value)

    def _keep_numbers(self) -> None:
        count = np.size(self.negative_level)
        for name in NUMBERS:
            needed = name in NUMBERS[:2]
            values = getattr(self, name)
            if not needed and np.size(values) == 0:
                values = np.full(count, np.nan)
            self._keep(name, frozen(values, name, unknown_allowed=not needed))

    def _check_lengths(self, count: int) -> None:
        for name in (*NUMBERS, "patch", "ink", "flags"):
            length = len(getattr(self, name))
            if length != count:
                raise InvalidValueError(
                    f"has {length} values for {count} levels", where=name
                )

    def _check_words(self) -> None:
        _check_word("density_kind", self.density_kind, get_args(DensityKind))
        _check_word("density_zero", self.density_zero, get_args(DensityZero))
        _check_word("print_state", self.print_state, get_args(PrintState))
        for each in self.flags:
            for flag in each:
                _check_word("flags", flag, get_args(Flag))


def _check_word(name: str, value: str, allowed: Iterable[str]) -> None:
    known = tuple(allowed)
    if value not in known:
        raise InvalidValueError(
            f"{value!r} is not known", where=name, fix=f"Use {', '.join(known)}."
        )
