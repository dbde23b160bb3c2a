"""Readings of one or several prints made ready for a fit, or refused.

Knows what readings cannot be used and says which rows; what they mean is left to
`solving`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from negcurve.errors import InvalidValueError, ReadingsError, SolveError
from negcurve.readings import NUMBERS, Readings
from negcurve.values import Finding, FloatArray

Rows = npt.NDArray[np.intp]
Mask = npt.NDArray[np.bool_]

FEWEST_LEVELS = 8
LARGEST_DENSITY = 4.5
"""A print above this is none: percent, L* or codes were passed as density."""

SMALLEST_DENSITY = -0.15
SMALLEST_RANGE = 0.1
"""Range of densities below which there is nothing to solve. [D]"""

NARROWEST = 0.25
"""Levels that all lie within this share of the scale tell nothing of the rest."""

CONTRADICTION = 0.1
"""Two readings of one patch that differ by more contradict each other. [D]"""

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
    _check_levels(pool)
    _check_course(pool)
    return pool


def check_prints(readings: Sequence[Readings]) -> None:
    """Refuse wet prints, numbers that are no densities, and mixed kinds of density.

    Raises
    ------
    ReadingsError
        If the readings cannot be used together.
    """
    for each in readings:
        _check_print(each)
    _check_one_kind(readings)


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


def _check_print(readings: Readings) -> None:
    """Refuse wet prints and numbers that are no densities."""
    if readings.print_state == "wet":
        raise ReadingsError(
            "the print was read wet",
            where=readings.source or f"sheet {readings.sheet}",
            fix="Dry it as the final print will be, then read it again.",
        )
    density = readings.density
    few = max(1, len(readings) // 10)
    high = np.flatnonzero(density > LARGEST_DENSITY)
    if len(high) > few:
        raise ReadingsError(
            f"{len(high)} densities above {LARGEST_DENSITY:g}, the first "
            f"{density[high[0]]:g}: this looks like percent, L* or codes",
            where=_rows(readings, high),
            fix="Give densities, or L* in a column named lightness.",
        )
    low = np.flatnonzero(density < SMALLEST_DENSITY)
    if len(low) > few:
        raise ReadingsError(
            f"{len(low)} densities below 0, the first {density[low[0]]:g}",
            where=_rows(readings, low),
            fix="Check the zero of the instrument and the density_zero line.",
        )


def _check_one_kind(readings: Sequence[Readings]) -> None:
    for name in ("density_kind", "density_zero", "print_state"):
        kinds = {getattr(each, name): each for each in readings}
        if len(kinds) > 1:
            told = ", ".join(
                f"{each.source or 'sheet ' + each.sheet}: {kind}"
                for kind, each in kinds.items()
            )
            raise ReadingsError(
                f"readings of different {name} cannot be pooled ({told})",
                fix="Read all prints the same way, or solve them apart.",
            )


def _one_sheet(parts: Sequence[Readings]) -> Readings:
    """Join readings of one print."""
    if len(parts) == 1:
        return parts[0]
    joined: dict[str, object] = {
        name: np.concatenate([getattr(each, name) for each in parts])
        for name in NUMBERS
    }
    joined["patch"] = tuple(key for each in parts for key in each.patch)
    joined["flags"] = tuple(flags for each in parts for flags in each.flags)
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
                    where=_rows(readings, rows),
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
    _check_contradictions(readings, doubled)
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


def _check_contradictions(readings: Readings, doubled: dict[str, list[int]]) -> None:
    bad = []
    for key, rows in doubled.items():
        density, level = readings.density[rows], readings.negative_level[rows]
        if np.ptp(level) > 0:
            bad.append(f"patch {key} has levels {level.min():g} and {level.max():g}")
        elif np.ptp(density) > CONTRADICTION:
            told = ", ".join(f"{each:.2f}" for each in density)
            bad.append(f"patch {key} was read as D {told}")
    if bad:
        raise ReadingsError(
            "; ".join(bad[:8]),
            where=readings.source or f"sheet {readings.sheet}",
            fix="Read these again, or take out the rows that are wrong.",
        )


def _check_levels(pool: Pool) -> None:
    distinct = np.unique(pool.level)
    if len(distinct) < FEWEST_LEVELS:
        told = ", ".join(f"{each:g}" for each in distinct)
        raise ReadingsError(
            f"{len(distinct)} distinct levels ({told}); {FEWEST_LEVELS} or more are "
            "needed",
            where=_sources(pool),
            fix="Print and read a target with more levels.",
        )
    if np.ptp(distinct) < NARROWEST:
        raise ReadingsError(
            f"all levels lie between {distinct[0]:.3f} and {distinct[-1]:.3f}",
            where=_sources(pool),
            fix="Levels are 0 for full ink to 1 for clear film and must span them.",
        )


def _check_course(pool: Pool) -> None:
    few = max(1, len(pool.density) // 10)
    ranked = np.sort(pool.density)
    spread = float(np.median(ranked[-few:]) - np.median(ranked[:few]))
    if spread < SMALLEST_RANGE:
        raise SolveError(
            f"density hardly changes: D {ranked[0]:.3f} to {ranked[-1]:.3f} over all "
            "levels",
            where=_sources(pool),
            fix="Check the exposure, and that the negative was on the coating.",
        )
    course = _rank_correlation(pool.level, pool.density)
    if course < -0.5:
        raise ReadingsError(
            "density falls from level 0 to level 1, though full ink (level 0) must "
            "print lightest",
            where=_sources(pool),
            fix="Reflectance or L* given as density? Levels or patches in reverse?",
        )
    if course < 0.3:
        raise SolveError(
            f"density does not follow level (rank correlation {course:.2f})",
            where=_sources(pool),
            fix="Check that the readings belong to these patches.",
        )


def _rank_correlation(one: FloatArray, other: FloatArray) -> float:
    ranks = [np.argsort(np.argsort(each)).astype(float) for each in (one, other)]
    return float(np.corrcoef(ranks[0], ranks[1])[0, 1])


def _rows(readings: Readings, rows: Rows) -> str:
    """Name rows for a message, the first few of many."""
    names = [readings.row_name(int(place)) for place in rows[:6]]
    if readings.source:
        names[1:] = [name.removeprefix(f"{readings.source}, ") for name in names[1:]]
    return ", ".join(names) + (" ..." if len(rows) > 6 else "")


def _sources(pool: Pool) -> str:
    return ", ".join(each.source or f"sheet {each.sheet}" for each in pool.sheets)


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"
