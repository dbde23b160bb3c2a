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
    """
    return [
        _finding(what, fix, source)
        for what, fix in (_ink(whites), _stain(whites))
        if what
    ]


def _finding(what: str, fix: str, source: ImageSource) -> Finding:
    return Finding(
        severity="warning" if fix else "note", where=source.name, what=what, fix=fix
    )


def _ink(whites: Whites) -> tuple[str, str]:
    """Compare the lightest patch with the taped white; say what, and the cure."""
    if whites.taped is None:
        return "", ""
    above = whites.lightest - whites.taped
    said = f"{above:.2f} above it" if above >= 0.005 else "no darker"
    what = f"the taped box reads D {whites.taped:.2f}, the lightest patch is {said}"
    if above <= WEAK_INK:
        return what, ""
    return what, (
        "Full ink lets light through: more ink, or a shorter exposure, would give "
        "whiter whites."
    )


def _stain(whites: Whites) -> tuple[str, str]:
    """Compare coated white with bare paper; say what, and the cure."""
    if whites.paper is None:
        return "", ""
    what = f"bare paper beside the coating reads D {whites.paper:.2f}"
    if whites.taped is not None:
        stain = whites.taped - whites.paper
        if stain <= STAIN:
            return what, ""
        return f"{what}, coated paper under the tape is {stain:.2f} above it", (
            "Stain or fog: clear and wash longer, or in fresh baths; coat and dry in "
            "weaker light."
        )
    above = whites.lightest - whites.paper
    if above <= STAIN_OR_INK:
        return what, ""
    return f"{what}, the lightest patch is {above:.2f} above it", (
        "Full ink lets light through, or the paper is stained or fogged: tape over the "
        "target's tape box next time, which tells them apart."
    )
