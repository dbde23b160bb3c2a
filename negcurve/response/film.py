"""Film data: the printing density of each negative level, apart from any paper.

Knows the finished data alone; measuring them is left to `apart`, using them on another
paper to `transfer`.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.values import Finding, FloatArray, frozen

NODES = 257

STOP = float(np.log10(2.0))
"""One stop is a factor of two in exposure. [log10]"""

CONDITIONS = ("film", "ink", "lamp", "sensitizer", "glass", "interleaf")
"""Keys of the notes that film data hold for, besides the printer path."""

BINDING = ("lamp", "sensitizer")
"""Conditions whose change makes film data wrong: ink is not grey in the UV."""


_MAYBE_UNKNOWN = ("base", "base_error", "least_ink_level")


@dataclass(frozen=True, eq=False, kw_only=True)
class FilmData:
    """Printing density against negative level, relative to clear film.

    Attributes
    ----------
    level_nodes : array, shape (n,)
        Negative levels, strictly increasing, the last one 1. [1]
    density_nodes : array, shape (n,)
        Printing density, not rising, 0 at level 1. [D]
    error_nodes : array, shape (n,)
        Standard error. [D]
    base, base_error : float
        Printing density of the clear film itself and its standard error; NaN where the
        tablet lay on the film, which leaves it out. [D]
    least_ink_level : float
        Highest level that prints within 0.01 D of D-min on the paper it was measured
        with: below it nothing is gained. NaN where no level does. [1]
    measured_from : float
        Lowest level whose density the print still told: below it is continued. [1]
    assumed : bool
        Whether the densities were typed as a range, not measured.
    notes : dict of str to str
        What the data hold for: film, ink, lamp, sensitizer, glass, interleaf.
    printer_path : dict of str to str
        Mode, bits, resolution and profile tag of the target file.
    source : str
        Print or file that the data come from.
    """

    level_nodes: FloatArray
    density_nodes: FloatArray
    error_nodes: FloatArray
    base: float = float("nan")
    base_error: float = float("nan")
    least_ink_level: float = float("nan")
    measured_from: float = 0.0
    assumed: bool = False
    notes: dict[str, str] = field(default_factory=dict)
    printer_path: dict[str, str] = field(default_factory=dict)
    source: str = ""

    def __post_init__(self) -> None:
        for name in ("level_nodes", "density_nodes", "error_nodes"):
            object.__setattr__(self, name, frozen(getattr(self, name), name))
        level, density = self.level_nodes, self.density_nodes
        if len(level) < 2 or not len(level) == len(density) == len(self.error_nodes):
            raise InvalidValueError("needs two or more whole nodes", where="film data")
        if not (np.diff(level) > 0).all() or level[0] < 0 or level[-1] > 1:
            raise InvalidValueError("must rise strictly within 0..1", where="levels")
        if (np.diff(density) > 0).any():
            raise InvalidValueError("must not rise", where="printing density")
        if (self.error_nodes < 0).any():
            raise InvalidValueError("must not be negative", where="standard error")

    def density(self, negative_level: npt.ArrayLike) -> FloatArray:
        """Return the printing density of each level, relative to clear film.

        Parameters
        ----------
        negative_level : array, any shape
            [1]

        Returns
        -------
        array, same shape
            Linear between nodes; NaN outside them. [D]
        """
        return self._between(negative_level, self.density_nodes)

    def standard_error(self, negative_level: npt.ArrayLike) -> FloatArray:
        """Return the standard error of `density`, same shape. [D]."""
        return self._between(negative_level, self.error_nodes)

    def stops_per_level(self, negative_level: float) -> float:
        """Return the change of exposure, in stops, for one unit of level.

        Parameters
        ----------
        negative_level : float
            [1]

        Returns
        -------
        float
            Mean over a twentieth of the levels about it. [stops]
        """
        low, high = self.level_nodes[[0, -1]]
        ends = np.clip([negative_level - 0.025, negative_level + 0.025], low, high)
        fall = -float(np.diff(self.density(ends))[0])
        return fall / float(ends[1] - ends[0]) / STOP

    @property
    def density_range(self) -> float:
        """Printing density of the lowest level less that of the highest. [D]."""
        return float(self.density_nodes[0] - self.density_nodes[-1])

    def document(self) -> dict[str, Any]:
        """Return plain values that `from_document` makes the same data of."""
        plain: dict[str, Any] = dict(vars(self))
        for name in ("level_nodes", "density_nodes", "error_nodes"):
            plain[name] = getattr(self, name).tolist()
        for name in _MAYBE_UNKNOWN:
            value = getattr(self, name)
            plain[name] = None if np.isnan(value) else float(value)
        kept = {"notes": dict(self.notes), "printer_path": dict(self.printer_path)}
        return {**plain, **kept}

    @classmethod
    def from_document(cls, document: Mapping[str, Any]) -> "FilmData":
        """Return the film data of plain values."""
        kept = dict(document)
        for name in _MAYBE_UNKNOWN:
            if kept.get(name) is None:
                kept[name] = float("nan")
        return cls(**kept)

    def _between(self, negative_level: npt.ArrayLike, values: FloatArray) -> FloatArray:
        level = np.asarray(negative_level, dtype=np.float64)
        nodes = self.level_nodes
        inside = (level >= nodes[0] - 1e-9) & (level <= nodes[-1] + 1e-9)
        return np.asarray(np.where(inside, np.interp(level, nodes, values), np.nan))


def assumed_film(density_range: float) -> FilmData:
    """Make film data of a range that the user typed: straight in level.

    Parameters
    ----------
    density_range : float
        Printing density of full ink, relative to clear film, above 0. [D]

    Returns
    -------
    FilmData
        Marked as assumed.
    """
    if not 0.1 <= density_range <= 6:
        raise InvalidValueError(
            f"{density_range:g} is no range of printing densities",
            where="film range",
            fix="Type what full ink holds back more than clear film: 1.5 to 3 is "
            "usual.",
        )
    level = np.linspace(0, 1, NODES)
    return FilmData(
        level_nodes=level,
        density_nodes=density_range * (1 - level),
        error_nodes=np.zeros(NODES),
        assumed=True,
        source=f"a film range of {density_range:g} that was typed",
    )


def check_conditions(
    film: FilmData, notes: Mapping[str, str], *, force: bool = False
) -> tuple[Finding, ...]:
    """Compare what film data hold for with what they are used for.

    Parameters
    ----------
    film : FilmData
    notes : mapping of str to str
        Of the print or strip that the data are used with.
    force : bool
        Only warn where lamp or sensitizer differ.

    Returns
    -------
    tuple of Finding

    Raises
    ------
    ReadingsError
        If lamp or sensitizer family differ.
    """
    found = []
    for key in CONDITIONS:
        own, used = film.notes.get(key, ""), notes.get(key, "")
        if not own or not used or own.casefold() == used.casefold():
            continue
        what = f"the film data hold for {key} {own!r}, this is for {used!r}"
        if key in BINDING and not force:
            raise ReadingsError(
                what,
                where=film.source or "film",
                fix="Ink holds back light of each kind differently: measure the film "
                "under these conditions, or add --force to use the data all the same.",
            )
        found.append(
            Finding(
                severity="warning",
                where="film",
                what=what,
                fix="Measure the film again under these conditions.",
            )
        )
    taken = [key for key in CONDITIONS if film.notes.get(key) and not notes.get(key)]
    if taken and not film.assumed:
        told = ", ".join(f"{key} {film.notes[key]}" for key in taken)
        what = f"the film data hold for {told}; taken to be the same here"
        found.append(Finding(severity="note", where="film", what=what))
    return tuple(found)
