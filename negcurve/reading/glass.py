"""A flatbed's own unevenness, from scans of one print that lay differently on it.

Knows what two or more lays of a print can tell of the scanner and what they cannot;
averaging the readings is left to `averaging`.

A lamp or sensor that is uneven over the glass multiplies the light it reads, so it adds
to density. Of patch i in scan j, at glass place g:

    d_ij = D_i + offset_j + slope_j D_i + u(g_ij) + noise,

u a polynomial of second order over the glass. The print's own densities D_i are free,
so whatever of u moves with the print cannot be told from them:

- turned by 180 degrees: the odd part (tilt) is told, bends are not;
- shifted: bends along the shift and the twist are told; the tilt is not, as it adds one
  density everywhere, like a lamp that drifts between the scans (offset_j);
- turned by 90 degrees: all is told but the bowl, which is alike in all directions.

What any lays tell follows from the algebra, not from these cases.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from negcurve.reading.glass_fit import GlassFit, fit_glass, glass_terms
from negcurve.reading.glass_rows import GlassRows
from negcurve.reading.lay import Lay
from negcurve.readings import Readings

FEWEST_PATCHES = 12
"""Patches seen in two scans or more, below which nothing is asked of them."""

SMALLEST_D = 0.001
"""Unevenness over the print that is not worth a correction. [D]"""

SURELY = 0.001
"""Chance by which noise alone may look like unevenness."""

NAMED = {
    "tilt across": ((1, 0, 0, 0, 0), (1, 0, 0, 0, 0)),
    "tilt down": ((0, 1, 0, 0, 0), (0, 1, 0, 0, 0)),
    "bend across": ((0, 0, 0.5, 0.5, 0), (0, 0, 1, 1, 0)),
    "bend down": ((0, 0, 0.5, -0.5, 0), (0, 0, 1, -1, 0)),
    "twist": ((0, 0, 0, 0, 1), (0, 0, 0, 0, 1)),
    "saddle": ((0, 0, 0, 1, 0), (0, 0, 0, 1, 0)),
}
"""Shape of each part in x, y, x^2 + y^2, x^2 - y^2, 2 x y; and how much there is of it,
as weights of the coefficients of these."""

SIMPLE = ("tilt across", "tilt down", "bend across", "bend down", "twist")
"""These make up every field. The saddle is one bend less the other: all of the bends
that a turn by 90 degrees tells."""


@dataclass(frozen=True, kw_only=True)
class GlassPart:
    """One way in which a scanner may be uneven.

    Attributes
    ----------
    name : str
        A key of `NAMED`.
    span : float
        Largest less smallest density that it adds where the print lay, with the sign of
        its direction: positive reads darker to the right, below, or outwards. [D]
    standard_error : float
        Of the span. [D]
    """

    name: str
    span: float
    standard_error: float


@dataclass(frozen=True, eq=False, kw_only=True)
class GlassField:
    """What the lays of a print tell of the scanner.

    Attributes
    ----------
    moves : tuple of (float, float)
        Turn [degree] and shift [mm] of each scan against the first, first left out.
    same_area : bool
        Whether the scans show one area of the glass; if not, no shift is known.
    parts : tuple of GlassPart
        What was told apart from the print.
    untold : tuple of str
        What was not.
    fit : GlassFit or None
        The unevenness, as far as it was told; None where nothing was.
    span : float
        Largest less smallest density of it where the print lay. [D]
    significant : bool
        Whether it is more than noise and worth a correction.
    corrected : bool
        Whether it was taken out of the readings.
    """

    moves: tuple[tuple[float, float], ...]
    same_area: bool
    parts: tuple[GlassPart, ...] = ()
    untold: tuple[str, ...] = SIMPLE
    fit: GlassFit | None = None
    span: float = 0.0
    significant: bool = False
    corrected: bool = False

    @property
    def by_tone(self) -> bool:
        """Whether dark patches show another unevenness than light ones."""
        return self.fit is not None and self.significant and self.fit.by_tone

    @property
    def usable(self) -> bool:
        """Whether readings can be corrected for it."""
        return self.significant and not self.by_tone

    def taken_out(self, readings: Readings, lay: Lay) -> Readings:
        """Take the told unevenness out of the readings of one scan.

        Parameters
        ----------
        readings : Readings
            Of the scan.
        lay : Lay
            One of those that the field was found from.

        Returns
        -------
        Readings
            Densities lose the field at their place; standard errors gain its own.
        """
        if self.fit is None:
            return readings
        placed = np.isfinite(lay.x_mm) & np.isfinite(lay.y_mm)
        field, error = self.fit.at(lay.x_mm[placed], lay.y_mm[placed])
        density, errors = readings.density.copy(), readings.standard_error.copy()
        density[placed] -= field
        errors[placed] = np.hypot(errors[placed], error)
        return readings.replaced(density=density, standard_error=errors)


def study_glass(
    several: Sequence[Readings], lays: Sequence[Lay], *, same_area: bool = True
) -> GlassField:
    """Find the scanner's unevenness, as far as these scans of one print tell it.

    Parameters
    ----------
    several : sequence of Readings
        Of one print, with names of patches.
    lays : sequence of Lay
        Of the same scans, brought to one origin by `placed_alike`.
    same_area : bool
        What that said.

    Returns
    -------
    GlassField
        With no parts where the scans lay alike, or show too few patches in common.
    """
    first = lays[0]
    moves = tuple(_move(first, lay) for lay in lays[1:])
    rows = _rows(several, lays)
    if rows.patches < FEWEST_PATCHES:
        return GlassField(moves=moves, same_area=same_area)
    fit = fit_glass(rows)
    if fit is None:
        return GlassField(moves=moves, same_area=same_area)
    told = [name for name, (_, weights) in NAMED.items() if fit.tells(weights)]
    if {"bend across", "bend down"} <= set(told):
        told.remove("saddle")
    field, _ = fit.at(rows.x_mm, rows.y_mm)
    span = float(np.ptp(field))
    return GlassField(
        moves=moves,
        same_area=same_area,
        parts=tuple(_part(fit, rows, name) for name in told),
        untold=tuple(name for name in SIMPLE if name not in told),
        fit=fit,
        span=span,
        significant=fit.chance < SURELY and span >= SMALLEST_D,
    )


def _move(first: Lay, other: Lay) -> tuple[float, float]:
    turn = (other.turn_degrees - first.turn_degrees + 180) % 360 - 180
    shift = np.hypot(*(other.middle_mm - first.middle_mm))
    return float(turn), float(shift)


def _rows(several: Sequence[Readings], lays: Sequence[Lay]) -> GlassRows:
    """Gather the clean, placed readings of patches that two scans or more have."""
    numbers: dict[str, int] = {}
    found: list[tuple[float, ...]] = []
    for which, (readings, lay) in enumerate(zip(several, lays, strict=True)):
        for row in np.flatnonzero(np.isfinite(lay.x_mm) & np.isfinite(lay.y_mm)):
            if not readings.flags[row]:
                number = numbers.setdefault(readings.patch[row], len(numbers))
                read = readings.density[row], readings.standard_error[row]
                found.append((which, number, lay.x_mm[row], lay.y_mm[row], *read))
    table = np.array(found, dtype=np.float64).reshape(-1, 6)
    scans_of = np.bincount(table[:, 1].astype(int), minlength=1)
    table = table[scans_of[table[:, 1].astype(int)] > 1]
    _, patch = np.unique(table[:, 1], return_inverse=True)
    return GlassRows(
        scan=table[:, 0].astype(int),
        patch=patch,
        x_mm=table[:, 2],
        y_mm=table[:, 3],
        density=table[:, 4],
        standard_error=table[:, 5],
    )


def _part(fit: GlassFit, rows: GlassRows, name: str) -> GlassPart:
    """Return the size of one part of the field over the places of the print."""
    mix, weights = (np.array(each) for each in NAMED[name])
    value, error = fit.summed(weights)
    shape = glass_terms(fit.scaled(rows.x_mm, rows.y_mm)) @ mix
    reach = float(np.ptp(shape))
    return GlassPart(name=name, span=value * reach, standard_error=error * reach)
