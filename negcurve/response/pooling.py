"""Readings of one or several prints made ready for a fit.

Knows how to join, leave out and merge rows; what cannot be used is refused by
`refusals`, what the rest means is left to `solving`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.readings import NUMBERS, Readings
from negcurve.response.refusals import (
    LARGEST_DENSITY,
    SMALLEST_DENSITY,
    Rows,
    check_contradictions,
    check_course,
    check_levels,
    check_one_kind,
    check_print,
    rows_named,
)
from negcurve.values import Finding, FloatArray

Mask = npt.NDArray[np.bool_]

LEFT_OUT = {
    "covered": "covered with tape",
    "clipped": "clipped in the scan",
    "stray": "marked as stray",
}


@dataclass(frozen=True, eq=False, kw_only=True)
class Pool:
    """Readings of all sheets in one row, ready to fit.

    Attributes
    ----------
    sheets : tuple of Readings
        One for each print, in the order given; the newest last.
    level, density, standard_error : array, shape (n,)
        Of all sheets, one after the other.
    sheet : array of int, shape (n,)
        Which sheet each belongs to, from 0.
    given : tuple of array of int, length n
        Places of each row's readings among all that were given, one after the other.
    white : float
        Density under the tape, the coated but unexposed paper; NaN if unknown. [D]
    findings : tuple of Finding
    """

    sheets: tuple[Readings, ...]
    level: FloatArray
    density: FloatArray
    standard_error: FloatArray
    sheet: FloatArray
    given: tuple[Rows, ...]
    white: float
    findings: tuple[Finding, ...]

    def row_name(self, place: int) -> str:
        """Name a row of the pool for a message."""
        which = int(self.sheet[place])
        before = sum(len(each) for each in self.sheets[:which])
        name = self.sheets[which].row_name(place - before)
        return f"sheet {self.sheets[which].sheet}, {name}" if len(self) > 1 else name

    def __len__(self) -> int:
        """Return the number of sheets."""
        return len(self.sheets)

    def chosen(self, rows: Mask) -> "Pool":
        """Return the pool with some rows only, mask of shape (n,)."""
        sheets = tuple(
            each.chosen(rows[self.sheet == which])
            for which, each in enumerate(self.sheets)
        )
        given = tuple(self.given[place] for place in np.flatnonzero(rows))
        return _joined(sheets, given, self.white, self.findings)

    def spread(self, values: FloatArray, count: int) -> FloatArray:
        """Put one value a row back on the readings given; 0 for those left out.

        Parameters
        ----------
        values : array, shape (n,)
        count : int
            Number of readings given.

        Returns
        -------
        array, shape (count,)
        """
        whole = np.zeros(count)
        for value, places in zip(values, self.given, strict=True):
            whole[places] = value
        return whole


def pooled(readings: Sequence[Readings]) -> Pool:
    """Check readings and put them in one row.

    Parameters
    ----------
    readings : sequence of Readings
        Those with one `sheet` are readings of one print.

    Returns
    -------
    Pool

    Raises
    ------
    ReadingsError, SolveError
        If the readings cannot be used; rows are named.
    """
    if isinstance(readings, Readings) or not readings:
        raise InvalidValueError(
            "needs a sequence of one or more Readings", where="readings"
        )
    check_prints(readings)
    findings: list[Finding] = []
    sheets: list[Readings] = []
    given: list[Rows] = []
    whites: list[float] = []
    starts = np.cumsum([0, *map(len, readings)])
    for name in dict.fromkeys(each.sheet for each in readings):
        parts = [place for place, each in enumerate(readings) if each.sheet == name]
        joined = _one_sheet([readings[place] for place in parts])
        places = np.concatenate([np.arange(starts[p], starts[p + 1]) for p in parts])
        whites.extend(joined.density[joined.flagged("covered")])
        usable, rows = _usable(joined, findings)
        sheets.append(usable)
        given += [places[each] for each in rows]
    white = float(np.mean(whites)) if whites else np.nan
    pool = _joined(tuple(sheets), tuple(given), white, tuple(findings))
    check_levels(pool.level, pool.sheets)
    check_course(pool.level, pool.density, pool.sheets)
    return pool


def check_prints(readings: Sequence[Readings]) -> None:
    """Refuse wet prints, numbers that are no densities, and mixed kinds of density.

    Raises
    ------
    ReadingsError
        If the readings cannot be used together.
    """
    for each in readings:
        check_print(each)
    check_one_kind(readings)


def _joined(
    sheets: tuple[Readings, ...],
    given: tuple[Rows, ...],
    white: float,
    findings: tuple[Finding, ...],
) -> Pool:
    return Pool(
        sheets=sheets,
        level=np.concatenate([each.negative_level for each in sheets]),
        density=np.concatenate([each.density for each in sheets]),
        standard_error=np.concatenate([each.standard_error for each in sheets]),
        sheet=np.repeat(np.arange(len(sheets)), [len(each) for each in sheets]).astype(
            float
        ),
        given=given,
        white=white,
        findings=findings,
    )


def _one_sheet(parts: Sequence[Readings]) -> Readings:
    """Join readings of one print."""
    if len(parts) == 1:
        return parts[0]
    joined: dict[str, object] = {
        name: np.concatenate([getattr(each, name) for each in parts])
        for name in NUMBERS
    }
    for name in ("patch", "ink", "flags"):
        joined[name] = tuple(value for each in parts for value in getattr(each, name))
    return parts[0].replaced(**joined)


def _usable(readings: Readings, findings: list[Finding]) -> tuple[Readings, list[Rows]]:
    """Leave out what is no tone, merge duplicates; with the places of what is kept."""
    patches = ~readings.on_tablet
    for flag, meaning in LEFT_OUT.items():
        rows = np.flatnonzero(readings.flagged(flag) & patches)
        if len(rows):
            findings.append(
                Finding(
                    severity="note" if flag == "covered" else "warning",
                    where=rows_named(readings, rows),
                    what=f"{meaning}, left out",
                )
            )
    _note_gaps(readings, findings)
    usable = patches & ~readings.flagged(*LEFT_OUT)
    kept = np.flatnonzero(usable & _possible(readings, findings))
    if not len(kept):
        raise ReadingsError(
            "no usable reading of a patch",
            where=f"sheet {readings.sheet}",
            fix="" if patches.any() else "A tablet alone needs film data: --film.",
        )
    merged, groups = _merged(readings.chosen(kept), findings)
    return merged, [kept[each] for each in groups]


def _possible(readings: Readings, findings: list[Finding]) -> Mask:
    """Find the odd number that no print can show."""
    density = readings.density
    odd = (density > LARGEST_DENSITY) | (density < SMALLEST_DENSITY)
    for place in np.flatnonzero(odd):
        findings.append(
            Finding(
                severity="warning",
                where=readings.row_name(int(place)),
                what=f"D {density[place]:g} is no density of a print, left out",
                fix="Read the patch again.",
            )
        )
    return ~odd


def _note_gaps(readings: Readings, findings: list[Finding]) -> None:
    keys = [
        key
        for key, step in zip(readings.patch, readings.on_tablet, strict=True)
        if key and not step
    ]
    if len(keys) != int((~readings.on_tablet).sum()) or not all(
        key.isdecimal() for key in keys
    ):
        return
    numbers = {int(key) for key in keys}
    missing = sorted(set(range(1, max(numbers) + 1)) - numbers)
    if missing and len(missing) <= len(numbers):
        told = ", ".join(map(str, missing[:8])) + (" ..." if len(missing) > 8 else "")
        findings.append(
            Finding(
                severity="warning",
                where=f"sheet {readings.sheet}",
                what=f"{_count(len(missing), 'patch', 'patches')} without a reading: "
                f"{told}",
            )
        )


def _merged(readings: Readings, findings: list[Finding]) -> tuple[Readings, list[Rows]]:
    """Average rows that read one patch twice; refuse those that contradict."""
    keys: dict[str, list[int]] = {}
    for place, key in enumerate(readings.patch):
        keys.setdefault(key or f"\0{place}", []).append(place)
    groups = [np.array(places, dtype=np.intp) for places in keys.values()]
    doubled = {key: rows for key, rows in keys.items() if len(rows) > 1}
    if not doubled:
        return readings, groups
    check_contradictions(readings, doubled)
    light = 10.0**-readings.density
    density = [-np.log10(light[places].mean()) for places in groups]
    findings.append(
        Finding(
            severity="warning",
            where=f"sheet {readings.sheet}",
            what=f"{_count(len(doubled), 'patch was', 'patches were')} read more than "
            f"once ({', '.join(list(doubled)[:8])}); each counts as one reading",
        )
    )
    first = readings.chosen(np.array([places[0] for places in groups]))
    return first.replaced(density=density), groups


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"
