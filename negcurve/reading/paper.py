"""The whites of a print: bare paper, the taped box, the lightest patch."""

import numpy as np

from negcurve.reading.patches import PatchValue
from negcurve.values import Finding, FloatArray, ImageSource

WEAK_INK = 0.03
"""Density of the lightest patch above the taped white that is warned about. [D]"""


def taped_white_findings(
    value: PatchValue, density: FloatArray, source: ImageSource
) -> list[Finding]:
    """Compare the lightest patch with the white under opaque tape.

    Parameters
    ----------
    value : PatchValue
        Of the box that may have been taped.
    density : array, shape (n,)
        Of the patches. [D]
    source : ImageSource
        The scan.

    Returns
    -------
    list of Finding
        Empty where the box was not taped: then it printed dark.
    """
    taped = -float(np.log10(value.reflectance))
    lightest, darkest = float(density.min()), float(density.max())
    if taped > lightest + 0.2 * (darkest - lightest):
        return []
    above = lightest - taped
    weak = above > WEAK_INK
    said = f"{above:.2f} above it" if above >= 0.005 else "no darker"
    return [
        Finding(
            severity="warning" if weak else "note",
            where=source.name,
            what=f"the taped box reads D {taped:.2f}, the lightest patch is {said}",
            fix="Full ink lets light through: more ink, or a shorter exposure, would "
            "give whiter whites."
            if weak
            else "",
        )
    ]
