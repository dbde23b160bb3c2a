"""Whether the tones of a scan are whole, and such as a print on paper can have.

Findings name the scanner setting that is the likely cause; what no reading can be made
from is raised as an error.
"""

from collections.abc import Sequence

import numpy as np

from negcurve.encoding import Encoding
from negcurve.errors import ReadingsError
from negcurve.reading.code_use import CodeUse
from negcurve.reading.contrast import (
    AT_END,
    DARKEST,
    contrast_findings,
    paper_density,
)
from negcurve.reading.patches import CLIPPED_SHARE, PatchValue
from negcurve.values import Finding, FloatArray, ImageSource

LIGHTEST = (-0.005, 0.25)
"""Density of the lightest patch that a print on paper can have. [D]"""

WEAK = 0.8
"""D-max below which a linear scale is doubted: gamma-encoded codes read as linear turn
D 1.6 into 0.73. Ours. [D]"""

USUAL_LIGHTEST, USUAL_DARKEST = (-0.01, 0.2), (0.9, 1.9)
"""Ends of most prints, for trying another gamma. Common practice, no source. [D]"""

MIDDLE = 0.45
"""Light of half the largest code above which codes count as linear; gamma 1.8 has 0.29.
"""

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
    density: FloatArray,
    values: Sequence[PatchValue],
    use: CodeUse,
    encoding: Encoding,
    source: ImageSource,
    *,
    set_right: bool = False,
) -> list[Finding]:
    """Judge the range of densities and the steps they come in.

    Parameters
    ----------
    density : array, shape (n,)
        Of the patches, from the scanner's white. [D]
    values : sequence of PatchValue
        The same patches.
    use : CodeUse
        Which codes their pixels have.
    encoding : Encoding
        How codes were taken to stand for light.
    source : ImageSource
        The scan.
    set_right : bool
        Whether a step wedge in the scan told what its levels stand for.

    Returns
    -------
    list of Finding
        Where the contrast was stretched and no wedge set it right, that alone: the rest
        follows from it. With a wedge the range is the print's own.
    """
    found = contrast_findings(density, use, encoding, source, set_right=set_right)
    if found and not set_right:
        return found
    if not set_right:
        found += _lightest_finding(density, use, encoding, source)
        found += _darkest_finding(density, use, encoding, source)
        found += _weak_finding(density, encoding, source)
    darkest = float(density.max())
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


def _lightest_finding(
    density: FloatArray, use: CodeUse, encoding: Encoding, source: ImageSource
) -> list[Finding]:
    lightest = float(density.min())
    # Bare paper that reads as paper should clears the scanner of dark whites.
    cleared = lightest > 0 and paper_density(use, encoding) < LIGHTEST[1]
    if LIGHTEST[0] <= lightest <= LIGHTEST[1] or cleared:
        return []
    cause = (
        "lighter than the scanner's white: the scan was brightened or its white point "
        "moved"
        if lightest < LIGHTEST[0]
        else "dark for paper white: full ink lets light through, the paper is stained, "
        "or the scan's gamma or profile is not the one assumed"
    )
    return [
        Finding(
            severity="warning",
            where=source.name,
            what=f"the lightest patch reads D {lightest:.2f}, {cause}",
            fix="Scan with all corrections off; give the profile or gamma that the "
            "scan was made with.",
        )
    ]


def _darkest_finding(
    density: FloatArray, use: CodeUse, encoding: Encoding, source: ImageSource
) -> list[Finding]:
    darkest = float(density.max())
    if darkest <= DARKEST:
        return []
    what = f"D-max reads {darkest:.2f}, more than hand-coated paper shows"
    fix = (
        "Turn off automatic contrast and levels in the scanner, set its black point "
        "wider, and scan again."
    )
    linear = _ends_read_as(density, encoding, gamma=1.0)
    if not _is_linear(encoding) and use.black <= AT_END and _usual(linear):
        what += f"; read as linear it would be {linear[1]:.2f}"
        fix = (
            "If this is a linear (raw) scan give --gamma 1.0; else turn off automatic "
            "contrast in the scanner."
        )
    return [Finding(severity="warning", where=source.name, what=what, fix=fix)]


def _weak_finding(
    density: FloatArray, encoding: Encoding, source: ImageSource
) -> list[Finding]:
    """Doubt a linear scale whose D-max is low."""
    darkest = float(density.max())
    other = _ends_read_as(density, encoding, gamma=2.2)
    if darkest >= WEAK or not _is_linear(encoding) or not _usual(other):
        return []
    return [
        Finding(
            severity="warning",
            where=source.name,
            what=f"D-max reads {darkest:.2f}, little for a print; read with gamma 2.2 "
            f"it would be {other[1]:.2f}",
            fix="Unless the print is that pale, the scan is not linear: give "
            "--gamma 2.2 or the scanner's --profile in place of --gamma 1.0.",
        )
    ]


def _is_linear(encoding: Encoding) -> bool:
    half = encoding.luminance(np.full((1, encoding.channels), 0.5))
    return bool(half[0] > MIDDLE)


def _ends_read_as(
    density: FloatArray, encoding: Encoding, *, gamma: float
) -> tuple[float, float]:
    """Return the smallest and largest density of the same codes with another gamma.

    Codes are taken as grey: those of a coloured print come out nearly so.
    """
    level = np.linspace(0, 1, 4097)
    light = encoding.luminance(np.repeat(level[:, None], encoding.channels, axis=1))
    ends = np.interp(10 ** -np.array([density.min(), density.max()]), light, level)
    lightest, darkest = -gamma * np.log10(np.maximum(ends, 1e-6))
    return float(lightest), float(darkest)


def _usual(ends: tuple[float, float]) -> bool:
    """Whether densities could be the lightest and darkest of a print."""
    limits = zip(ends, (USUAL_LIGHTEST, USUAL_DARKEST), strict=True)
    return all(low <= end <= high for end, (low, high) in limits)
