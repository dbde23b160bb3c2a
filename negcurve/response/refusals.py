"""Readings that cannot be used, refused in sentences that name the rows.

Knows what is wrong with readings; making them ready is left to `pooling`.
"""

from collections.abc import Mapping, Sequence

import numpy as np
import numpy.typing as npt

from negcurve.errors import InvalidValueError, ReadingsError, SolveError
from negcurve.readings import Readings
from negcurve.response.aim import Aim
from negcurve.values import Finding, FloatArray

Rows = npt.NDArray[np.intp]

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


def check_spread(sheet_error: float) -> None:
    """Refuse a spread from print to print that is none."""
    if not sheet_error >= 0:
        raise InvalidValueError(
            f"{sheet_error:g} is negative",
            where="sheet_error",
            fix="Give the standard deviation from print to print in density, such as "
            "0.03.",
        )


def check_print(readings: Readings) -> None:
    """Refuse prints of mixtures, wet prints, and numbers that are no densities."""
    if readings.has_mixtures:
        raise ReadingsError(
            "is a print of ink mixtures, which has no response to level",
            where=_source(readings),
            fix="Rank the inks with `negcurve film`, then print a target with the best "
            "one: --ink R,G,B.",
        )
    if readings.print_state == "wet":
        raise ReadingsError(
            "the print was read wet",
            where=_source(readings),
            fix="Dry it as the final print will be, then read it again.",
        )
    density = readings.density
    few = max(1, len(readings) // 10)
    high = np.flatnonzero(density > LARGEST_DENSITY)
    if len(high) > few:
        raise ReadingsError(
            f"{len(high)} densities above {LARGEST_DENSITY:g}, the first "
            f"{density[high[0]]:g}: this looks like percent, L* or codes",
            where=rows_named(readings, high),
            fix="Give densities, or L* in a column named lightness.",
        )
    low = np.flatnonzero(density < SMALLEST_DENSITY)
    if len(low) > few:
        raise ReadingsError(
            f"{len(low)} densities below 0, the first {density[low[0]]:g}",
            where=rows_named(readings, low),
            fix="Check the zero of the instrument and the density_zero line.",
        )


def check_one_kind(readings: Sequence[Readings]) -> None:
    """Refuse prints whose densities are of different kinds, zeros or states."""
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


def check_aim_kind(readings: Sequence[Readings], aim: str | Aim) -> tuple[Finding, ...]:
    """Refuse aims in lightness where readings do not tell it.

    Parameters
    ----------
    readings : sequence of Readings
        All of one kind of density.
    aim : {"lightness", "density", "luminance"} or Aim

    Returns
    -------
    tuple of Finding
        What the densities are worth there.

    Raises
    ------
    ReadingsError
        If the densities are those of one channel.
    """
    first = readings[0]
    scale = aim if isinstance(aim, str) else aim.scale
    if first.density_kind not in ("luminance", "visual"):
        if scale != "density":
            raise ReadingsError(
                f"its densities are those of the {first.density_kind} channel, which "
                "say no lightness",
                where=_source(first),
                fix="Read luminance density (without --channel), or aim in densities: "
                "--aim density.",
            )
        return channel_findings(first)
    if scale == "density":
        return ()
    return (*_visual_finding(first), *_paper_finding(first))


def _visual_finding(readings: Readings) -> tuple[Finding, ...]:
    if readings.density_kind != "visual":
        return ()
    return (
        Finding(
            severity="warning",
            where=_source(readings),
            what="lightness is taken from visual densities, which on blue or brown "
            "prints are up to 0.08 D, or 3.7 L*, away from luminance density",
            fix="Read L* or spectra if the instrument gives them.",
        ),
    )


def _paper_finding(readings: Readings) -> tuple[Finding, ...]:
    if readings.density_zero != "paper":
        return ()
    return (
        Finding(
            severity="note",
            where=_source(readings),
            what="densities count from the paper, so L* is told relative to it: 100 is "
            "the bare paper",
        ),
    )


def _source(readings: Readings) -> str:
    return readings.source or f"sheet {readings.sheet}"


def channel_findings(readings: Readings) -> tuple[Finding, ...]:
    """Say of a channel's densities that lightness told of them is none of the print."""
    kind = readings.density_kind
    if kind in ("luminance", "visual"):
        return ()
    return (
        Finding(
            severity="warning",
            where=_source(readings),
            what=f"densities are those of the {kind} channel; L* told with them is "
            "that of a grey of this density, not the print's",
        ),
    )


def check_contradictions(readings: Readings, doubled: Mapping[str, list[int]]) -> None:
    """Refuse patches that were read twice with different results.

    Parameters
    ----------
    readings : Readings
    doubled : mapping of str to list of int
        Rows of each patch that has several.
    """
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
            where=_source(readings),
            fix="Read these again, or take out the rows that are wrong.",
        )


def check_levels(level: FloatArray, sheets: Sequence[Readings]) -> None:
    """Refuse too few levels, and levels that lie all in one corner."""
    distinct = np.unique(level)
    if len(distinct) < FEWEST_LEVELS:
        told = ", ".join(f"{each:g}" for each in distinct)
        raise ReadingsError(
            f"{len(distinct)} distinct levels ({told}); {FEWEST_LEVELS} or more are "
            "needed",
            where=_sources(sheets),
            fix="Print and read a target with more levels.",
        )
    if np.ptp(distinct) < NARROWEST:
        raise ReadingsError(
            f"all levels lie between {distinct[0]:.3f} and {distinct[-1]:.3f}",
            where=_sources(sheets),
            fix="Levels are 0 for full ink to 1 for clear film and must span them.",
        )


def check_course(
    level: FloatArray, density: FloatArray, sheets: Sequence[Readings]
) -> None:
    """Refuse densities that are constant, fall with level, or do not follow it."""
    few = max(1, len(density) // 10)
    ranked = np.sort(density)
    spread = float(np.median(ranked[-few:]) - np.median(ranked[:few]))
    if spread < SMALLEST_RANGE:
        raise SolveError(
            f"density hardly changes: D {ranked[0]:.3f} to {ranked[-1]:.3f} over all "
            "levels",
            where=_sources(sheets),
            fix="Check the exposure, and that the negative was on the coating.",
        )
    course = _rank_correlation(level, density)
    if course < -0.5:
        raise ReadingsError(
            "density falls from level 0 to level 1, though full ink (level 0) must "
            "print lightest",
            where=_sources(sheets),
            fix="Reflectance or L* given as density? Levels or patches in reverse?",
        )
    if course < 0.3:
        raise SolveError(
            f"density does not follow level (rank correlation {course:.2f})",
            where=_sources(sheets),
            fix="Check that the readings belong to these patches.",
        )


def _rank_correlation(one: FloatArray, other: FloatArray) -> float:
    ranks = [np.argsort(np.argsort(each)).astype(float) for each in (one, other)]
    return float(np.corrcoef(ranks[0], ranks[1])[0, 1])


def rows_named(readings: Readings, rows: Rows) -> str:
    """Name rows for a message, the first few of many."""
    names = [readings.row_name(int(place)) for place in rows[:6]]
    if readings.source:
        names[1:] = [name.removeprefix(f"{readings.source}, ") for name in names[1:]]
    return ", ".join(names) + (" ..." if len(rows) > 6 else "")


def _sources(sheets: Sequence[Readings]) -> str:
    return ", ".join(_source(each) for each in sheets)
