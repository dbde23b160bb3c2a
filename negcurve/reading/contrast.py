"""Whether the contrast of a scan was changed: missing codes, or both ends reached.

A print cannot reach the ends of the codes by itself: paper is darker than the scanner's
white, and its blacks are not without light.
"""

import numpy as np

from negcurve.encoding import Encoding
from negcurve.reading.code_use import CodeUse
from negcurve.values import Finding, FloatArray, ImageSource

DARKEST = 2.2
"""Density that no matt hand-coated print exceeds. [D]"""

WHITE_END = 0.01
"""Density of the lightest patch at which it has the scanner's white: paper has more,
0.03 to 0.15 against a perfect white. Common practice, no source. [D]"""

WHITE_PAPER = 0.02
"""The same for bare paper, by its brightest channel. Ours. [D]"""

AT_END, ANY_AT_END = 1e-5, 1e-4
"""Share of pixels that must stand at an end of the codes for tones to reach it, with
all channels or with one: of half a million, 5 and 50. Even black dust is not without
light. Ours."""


def paper_density(use: CodeUse, encoding: Encoding) -> float:
    """Return the density of bare paper by its brightest channel.

    Parameters
    ----------
    use : CodeUse
    encoding : Encoding

    Returns
    -------
    float
        NaN where no bare paper was seen.
    """
    if use.paper is None:
        return float("nan")
    light = encoding.luminance(np.full((1, encoding.channels), use.paper))
    return float(-np.log10(max(light[0], 1e-6)))


def contrast_findings(
    density: FloatArray,
    use: CodeUse,
    encoding: Encoding,
    source: ImageSource,
    *,
    set_right: bool,
) -> list[Finding]:
    """Report levels that were stretched.

    Parameters
    ----------
    density : array, shape (n,)
        Of the patches. [D]
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
    """
    signs = _signs(density, use, encoding)
    if not signs:
        return []
    return [
        Finding(
            severity="note" if set_right else "warning",
            where=source.name,
            what=f"the contrast of this scan was changed: {' and '.join(signs)}",
            fix="The step wedge set it right, but what is clipped is lost: turn "
            "automatic exposure, levels and contrast off."
            if set_right
            else "Turn off automatic exposure, levels, contrast and colour correction "
            "in the scanner and scan again: these densities are not the print's.",
        )
    ]


def _signs(density: FloatArray, use: CodeUse, encoding: Encoding) -> list[str]:
    """Say what tells that levels were stretched."""
    lightest, darkest = float(density.min()), float(density.max())
    signs = []
    if use.is_combed:
        signs.append(f"{use.gaps} of {use.codes} codes never occur")
    white = (
        use.white > AT_END
        or use.white_any > ANY_AT_END
        or lightest < WHITE_END
        or paper_density(use, encoding) < WHITE_PAPER
    )
    black = use.black > AT_END or use.black_any > ANY_AT_END or darkest > DARKEST
    if white and black:
        signs.append(
            "print and paper reach both ends of the codes, the patches read "
            f"D {lightest:.2f} to {darkest:.2f}"
        )
    return signs
