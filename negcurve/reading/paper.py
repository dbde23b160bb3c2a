"""The whites of a print: bare paper, the taped box, the lightest patch.

Bare paper is the lightest that there can be; coated paper that saw no light shows what
coating and processing left in it, and the lightest patch what full ink let through.
"""

from dataclasses import dataclass

import numpy as np

from negcurve.reading.patches import PatchValue
from negcurve.values import Finding, FloatArray, ImageSource

WEAK_INK = 0.03
"""Density of the lightest patch above the taped white that is warned about. [D]"""

STAIN = 0.03
"""Density of coated, unexposed paper above bare paper that is warned about: more than
scanners and paper vary over a sheet. Ours. [D]"""

STAIN_OR_INK = 0.06
"""The same for the lightest patch where no box was taped: ink adds up. Ours. [D]"""

DARK_SHARE = 0.2
"""Share of the print's range above which the tape box was not taped."""


@dataclass(frozen=True, kw_only=True)
class Whites:
    """Densities of what should be white, None where it was not seen.

    Attributes
    ----------
    lightest : float
        The lightest patch. [D]
    taped : float or None
        Coated paper under opaque tape. [D]
    paper : float or None
        Bare paper. [D]
    """

    lightest: float
    taped: float | None
    paper: float | None


def taped_density(value: PatchValue, density: FloatArray) -> float | None:
    """Return the density under the tape, None where the box was not taped.

    Parameters
    ----------
    value : PatchValue
        Of the box that may have been taped.
    density : array, shape (n,)
        Of the patches. [D]

    Returns
    -------
    float or None
        Untaped, the box printed dark.
    """
    taped = -float(np.log10(value.reflectance))
    lightest, darkest = float(density.min()), float(density.max())
    return None if taped > lightest + DARK_SHARE * (darkest - lightest) else taped


def white_findings(whites: Whites, source: ImageSource) -> list[Finding]:
    """Compare bare paper, the taped white and the lightest patch.

    Parameters
    ----------
    whites : Whites
    source : ImageSource
        The scan.

    Returns
    -------
    list of Finding
        One, where there is anything to compare the lightest patch with.
    """
    read = [
        f"{density:.2f} {where}"
        for density, where in (
            (whites.paper, "on bare paper"),
            (whites.taped, "under the tape"),
            (whites.lightest, "in the lightest patch"),
        )
        if density is not None
    ]
    if len(read) == 1:
        return []
    faults = [each for each in (_stain(whites), _ink(whites)) if each is not None]
    what = f"whites read D {', '.join(read)}"
    if faults:
        what += f": {' and '.join(fault for fault, _ in faults)}"
    return [
        Finding(
            severity="warning" if faults else "note",
            where=source.name,
            what=what,
            fix=" ".join(fix for _, fix in faults),
        )
    ]


def _stain(whites: Whites) -> tuple[str, str] | None:
    """Return what coating and processing left in the paper, and the cure."""
    if whites.paper is None or whites.taped is None:
        return None
    above = whites.taped - whites.paper
    if above <= STAIN:
        return None
    return f"stain or fog of {above:.2f}", (
        "Clear and wash longer, or in fresh baths; coat and dry in weaker light."
    )


def _ink(whites: Whites) -> tuple[str, str] | None:
    """Return what full ink let through, and the cure."""
    if whites.taped is not None:
        above = whites.lightest - whites.taped
        if above <= WEAK_INK:
            return None
        return f"full ink lets light through, {above:.2f}", (
            "More ink, or a shorter exposure, would give whiter whites."
        )
    if whites.paper is None or whites.lightest - whites.paper <= STAIN_OR_INK:
        return None
    return f"thin ink, stain or fog of {whites.lightest - whites.paper:.2f}", (
        "Tape over the target's tape box next time: that tells ink from stain."
    )
