"""Whether the tones of a scan are whole, and such as a print on paper can have.

Findings name the scanner setting that is the likely cause; what no reading can be made
from is raised as an error.
"""

from collections.abc import Sequence

import numpy as np

from negcurve.errors import ReadingsError
from negcurve.reading.patches import CLIPPED_SHARE, PatchValue
from negcurve.values import Finding, FloatArray, ImageSource

LIGHTEST = (-0.005, 0.25)
"""Density of the lightest patch that a print on paper can have. [D]"""

DARKEST = 2.2
"""Density that no matt hand-coated print exceeds. [D]"""

MOST_CLIPPED, FEW_CLIPPED = 0.1, 2
"""Share of patches that may be lost to clipping before nothing is read; so few may be
on any target, since a strip has two or three patches of nearly the same end."""

LOST_SHARE = 0.3
"""Share of clipped pixels from which a patch is lost: its mean is the end's code."""

COARSE_STEP = 0.02
"""Density of one code at the darkest patch from which more bits are asked for. [D]"""


def check_clipping(values: Sequence[PatchValue], source: ImageSource) -> list[Finding]:
    """Judge pixels that stand at the smallest or largest code.

    Parameters
    ----------
    values : sequence of PatchValue
        Of all patches.
    source : ImageSource
        The scan.

    Returns
    -------
    list of Finding

    Raises
    ------
    ReadingsError
        If more than a tenth of the patches are clipped at one end.
    """
    found = []
    for end, setting, shares in (
        ("blacks", "black point", [value.clipped_low for value in values]),
        ("whites", "white point", [value.clipped_high for value in values]),
    ):
        clipped = sum(share > CLIPPED_SHARE for share in shares)
        lost = sum(share > LOST_SHARE for share in shares)
        if lost > max(MOST_CLIPPED * len(values), FEW_CLIPPED):
            raise ReadingsError(
                f"the {end} are clipped in {lost} of {len(values)} patches, so "
                "their tones cannot be told apart",
                where=source.name,
                fix="Scan again with automatic exposure, levels and contrast off and "
                f"the {setting} at its widest setting.",
            )
        if clipped:
            found.append(
                Finding(
                    severity="warning",
                    where=source.name,
                    what=f"the {end} are clipped in {clipped} of {len(values)} patches",
                    fix="They are flagged. Turn off automatic exposure and levels in "
                    f"the scanner, set the {setting} wider, and scan again.",
                )
            )
    return found


def density_findings(
    density: FloatArray, values: Sequence[PatchValue], source: ImageSource
) -> list[Finding]:
    """Judge the range of densities and the steps they come in.

    Parameters
    ----------
    density : array, shape (n,)
        Of the patches, from the scanner's white. [D]
    values : sequence of PatchValue
        The same patches.
    source : ImageSource
        The scan.

    Returns
    -------
    list of Finding
    """
    found = []
    lightest, darkest = float(density.min()), float(density.max())
    if not LIGHTEST[0] <= lightest <= LIGHTEST[1]:
        cause = (
            "lighter than the scanner's white: the scan was brightened or its white "
            "point moved"
            if lightest < LIGHTEST[0]
            else "dark for paper white: full ink lets light through, the paper is "
            "stained, or the scan's gamma or profile is not the one assumed"
        )
        found.append(
            Finding(
                severity="warning",
                where=source.name,
                what=f"the lightest patch reads D {lightest:.2f}, {cause}",
                fix="Scan with all corrections off; give the profile or gamma that "
                "the scan was made with.",
            )
        )
    if darkest > DARKEST:
        found.append(
            Finding(
                severity="warning",
                where=source.name,
                what=f"D-max reads {darkest:.2f}, more than hand-coated paper shows",
                fix="The scan's gamma is likely another than assumed: a linear scan "
                "needs --gamma 1.0, automatic contrast must be off.",
            )
        )
    last = values[int(density.argmax())]
    step = last.code_step / last.reflectance / np.log(10)
    if step > COARSE_STEP:
        bits = 8 * source.dtype.itemsize
        found.append(
            Finding(
                severity="warning",
                where=source.name,
                what=f"one code of this {bits}-bit scan is {step:.3f} D at "
                f"D {darkest:.2f}",
                fix="Scan with 16 bits per channel.",
            )
        )
    return found
