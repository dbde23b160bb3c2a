"""Several readings of one print become one, with what they differ by.

Averages light, not densities, patch by patch; whether two prints are alike is not
asked here, both must be of one target.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from negcurve.density import density_from_reflectance, reflectance_from_density
from negcurve.errors import ReadingsError
from negcurve.reading.glass import GlassField, study_glass
from negcurve.reading.glass_words import glass_findings
from negcurve.reading.lay import Lay, placed_alike
from negcurve.readings import Readings
from negcurve.values import Finding, FloatArray

ALIKE = (
    "target",
    "table",
    "density_kind",
    "density_zero",
    "print_state",
    "tablet_over_film",
)
"""What readings of one print have in common."""

NOTED_D = 0.02
"""Typical difference of two scans from which a warning is given. [D]"""


def average(several: Sequence[Readings]) -> Readings:
    """Average readings of one print, patch by patch.

    Parameters
    ----------
    several : sequence of Readings
        Of the same print; each names its patches.

    Returns
    -------
    Readings
        Patches in the order of the first; `standard_error` holds the scatter between
        the readings as well. A reading that is flagged is left out where another of
        the same patch is not.

    Raises
    ------
    ReadingsError
        If they are of different targets or tables, count densities differently, or do
        not name their patches.
    """
    first = several[0]
    if len(several) == 1:
        return first
    _check_one_print(several)
    rows = _rows_by_patch(several)
    merged = [_merged(several, places) for places in rows.values()]
    heads = [places[0] for places in rows.values()]
    density = np.array([each[0] for each in merged])
    findings = [finding for each in several for finding in each.findings]
    spread = _typical_spread(several, rows)
    return first.replaced(
        negative_level=_taken(several, heads, "negative_level"),
        image_tone=_taken(several, heads, "image_tone"),
        x_mm=_taken(several, heads, "x_mm"),
        y_mm=_taken(several, heads, "y_mm"),
        tablet_density=_taken(several, heads, "tablet_density"),
        density=density,
        standard_error=np.array([each[1] for each in merged]),
        patch=tuple(rows),
        ink=tuple(several[which].ink[row] for which, row in heads),
        flags=tuple(each[2] for each in merged),
        source=", ".join(each.source for each in several),
        findings=(*dict.fromkeys(findings), _spread_finding(len(several), spread)),
    )


def average_scans(
    several: Sequence[Readings],
    lays: Sequence[Lay | None],
    *,
    correct: bool = True,
) -> tuple[Readings, GlassField | None]:
    """Average readings of one print, less the scanner's own unevenness where it shows.

    Parameters
    ----------
    several : sequence of Readings
        Of the same print; each names its patches.
    lays : sequence of Lay or None
        How the print lay on the glass; None for readings that are no scan.
    correct : bool
        Take the unevenness out of the scans if it is more than noise.

    Returns
    -------
    readings : Readings
        As `average` gives them.
    glass : GlassField or None
        What the scans tell of the scanner; None with fewer than two scans.

    Raises
    ------
    ReadingsError
        As `average` does.
    """
    scans = [place for place, lay in enumerate(lays) if lay is not None]
    if len(scans) < 2:
        return average(several), None
    _check_one_print(several)
    known = [lay for lay in lays if lay is not None]
    placed, same_area = placed_alike(known)
    glass = study_glass(
        [several[place] for place in scans], placed, same_area=same_area
    )
    used = list(several)
    if correct and glass.usable:
        glass = replace(glass, corrected=True)
        for place, lay in zip(scans, placed, strict=True):
            used[place] = glass.taken_out(used[place], lay)
    mean = average(used)
    tones = float(mean.density.min()), float(np.median(mean.density))
    found = glass_findings(glass, tones)
    return mean.replaced(findings=(*mean.findings, *found)), glass


Place = tuple[int, int]
"""Which readings, and which row of them."""


def _check_one_print(several: Sequence[Readings]) -> None:
    for other in several[1:]:
        _check_alike(several[0], other)
    _check_named(several)


def _check_alike(first: Readings, other: Readings) -> None:
    for name in ALIKE:
        one, two = getattr(first, name), getattr(other, name)
        if one != two:
            raise ReadingsError(
                f"its {name.replace('_', ' ')} is {two or 'not known'}, that of "
                f"{first.source} is {one or 'not known'}",
                where=other.source,
                fix="Only readings of one print, made alike, are averaged: read them "
                "one by one.",
            )


def _check_named(several: Sequence[Readings]) -> None:
    for each in several:
        if not all(each.patch):
            raise ReadingsError(
                "does not name its patches, so it cannot be averaged with others",
                where=each.source,
                fix="Add a column patch, or name the target with --target OUT.tif.",
            )


def _rows_by_patch(several: Sequence[Readings]) -> dict[str, list[Place]]:
    rows: dict[str, list[Place]] = {}
    for which, each in enumerate(several):
        for row, key in enumerate(each.patch):
            rows.setdefault(key, []).append((which, row))
    return rows


def _taken(
    several: Sequence[Readings], places: Sequence[Place], name: str
) -> FloatArray:
    return np.array([getattr(several[which], name)[row] for which, row in places])


def _merged(
    several: Sequence[Readings], places: Sequence[Place]
) -> tuple[float, float, frozenset[str]]:
    """Return density, standard error and flags of one patch."""
    clean = [place for place in places if not several[place[0]].flags[place[1]]]
    used = clean or list(places)
    lasting: set[str] = set()
    if not clean:
        lasting.update(*(several[which].flags[row] for which, row in used))
    density = _taken(several, used, "density")
    error = _taken(several, used, "standard_error")
    count = len(used)
    mean = density_from_reflectance(reflectance_from_density(density).mean())
    own = float(np.mean(error**2)) / count
    between = float(np.var(density, ddof=1)) / count if count > 1 else 0.0
    # The scatter holds each reading's own error already, if there are enough of them.
    both = np.nanmax([own, between]) if np.isfinite(own) or count > 1 else np.nan
    return float(mean), float(np.sqrt(both)), frozenset(lasting)


def _typical_spread(
    several: Sequence[Readings], rows: dict[str, list[Place]]
) -> float | None:
    """Root mean square of the standard deviations between readings of a patch.

    None where no patch was read twice.
    """
    variances = [
        float(np.var(_taken(several, places, "density"), ddof=1))
        for places in rows.values()
        if len(places) > 1
    ]
    return float(np.sqrt(np.mean(variances))) if variances else None


def _spread_finding(count: int, spread: float | None) -> Finding:
    if spread is None:
        return Finding(
            severity="note",
            what=f"{count} readings of the print were joined; they share no patch, so "
            "nothing tells whether they agree",
        )
    wide = spread > NOTED_D
    return Finding(
        severity="warning" if wide else "note",
        what=f"{count} readings of the print were averaged; one differs from another "
        f"by {spread:.3f} D (standard deviation)",
        fix="Was the print dry and flat, and the scanner set alike?" if wide else "",
    )
