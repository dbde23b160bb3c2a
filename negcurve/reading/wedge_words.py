"""What a step wedge told about a scan, and what it cannot tell, in words."""

import numpy as np
import numpy.typing as npt

from negcurve.reading.placing import Placed
from negcurve.reading.wedge import WedgeReading
from negcurve.values import Finding, FloatArray

STEP_D = 0.03
"""Residual of a step that is warned about: a wedge's stated values are rarely off by
more. Ours. [D]"""

BEYOND_D = 0.03
"""How far a print may lie beyond the wedge's ends unmentioned. [D]"""

CONTRAST_D = 0.04
"""Departure from profile and flare that is warned about. Ours. [D]"""

BRIGHTNESS_D, BRIGHTNESS_FAR_D = 0.06, 0.15
"""Shift of the scan's white that is mentioned, and that is warned about: a scanner's
calibration strip is no perfect white. Ours. [D]"""

COLOURED_D = 0.08
"""Difference of density between channels from which a print is called coloured. [D]"""


def wedge_findings(
    wedge: WedgeReading,
    density: FloatArray,
    placed: Placed,
    *,
    where: str,
) -> tuple[Finding, ...]:
    """Say what the wedge told about the scan, and what about the print is in doubt.

    Parameters
    ----------
    wedge : WedgeReading
    density : array, shape (n,)
        Of the print's patches, set right. [D]
    placed : Placed
        The print.
    where : str
        The scan, for messages.

    Returns
    -------
    tuple of Finding
    """
    found = [_fit_finding(wedge, where), *_count_findings(wedge, where)]
    if wedge.told:
        found += _profile_findings(wedge, where)
    found += _beyond(wedge, density, where)
    found += _colour_findings(wedge, placed, where)
    return tuple(found)


def _fit_finding(wedge: WedgeReading, where: str) -> Finding:
    bad = wedge.largest > STEP_D
    worst = int(np.abs(wedge.residual).argmax())
    steps = "step" if wedge.unused == 1 else "steps"
    unused = f"; {wedge.unused} clipped {steps} left out" if wedge.unused else ""
    return Finding(
        severity="warning" if bad else "note",
        where=where,
        what=f"{wedge.name}: {len(wedge.density)} steps fit to {wedge.rms:.3f} D (root "
        f"mean square), the step of D {wedge.density[worst]:.2f} is off by "
        f"{wedge.residual[worst]:+z.3f}{unused}",
        fix="Look for dust, a scratch or a gloss on that step, and at its value in the "
        "list."
        if bad
        else "",
    )


def _count_findings(wedge: WedgeReading, where: str) -> list[Finding]:
    """Say from which end the steps were counted where the other cannot be seen."""
    place = wedge.place
    if not place.open_ends:
        return []
    step = float(np.median(np.diff(wedge.density)))
    by_a_step = abs(wedge.brightness) > 0.7 * step
    # Without a profile nothing else would tell a list that is a step off.
    doubtful = place.unseen > 0 or by_a_step or not wedge.told
    what = (
        "an end of the wedge looks like what lies around it, so its steps were counted "
        "from the other end"
    )
    if by_a_step:
        off = abs(wedge.brightness)
        what += f"; the scan's brightness is off by {off:.2f} D, as if by a step"
    fix = (
        f"Check that {wedge.name} lists every step: one too many or too few would "
        "shift every density. Or lay the wedge on something of another tone."
    )
    return [
        Finding(
            severity="warning" if doubtful else "note",
            where=where,
            what=what,
            fix=fix if doubtful else "",
        )
    ]


def _profile_findings(wedge: WedgeReading, where: str) -> list[Finding]:
    if wedge.contrast > CONTRAST_D:
        return [
            Finding(
                severity="warning",
                where=where,
                what="the scan's contrast is not what its profile says (auto levels?): "
                f"steps of the wedge are off by up to {wedge.contrast:.2f} D beyond "
                "flare; it was set right by the wedge",
                fix="Switch automatic levels and contrast off, and check that the list "
                "is this wedge's.",
            )
        ]
    if abs(wedge.brightness) > BRIGHTNESS_D:
        way = "darker" if wedge.brightness < 0 else "lighter"
        far = abs(wedge.brightness) > BRIGHTNESS_FAR_D
        return [
            Finding(
                severity="warning" if far else "note",
                where=where,
                what=f"the scan is {abs(wedge.brightness):.2f} D {way} than its "
                "profile says; it was set right by the wedge",
                fix=f"Check that {wedge.name} is this wedge's list, with every step; "
                "switch automatic exposure off."
                if far
                else "",
            )
        ]
    return []


def _beyond(wedge: WedgeReading, density: FloatArray, where: str) -> list[Finding]:
    low, high = float(wedge.density[0]), float(wedge.density[-1])
    parts = []
    if density.max() > high + BEYOND_D:
        parts.append(f"{density.max() - high:.2f} D darker than its darkest step")
    if density.min() < low - BEYOND_D:
        parts.append(f"{low - density.min():.2f} D lighter than its lightest")
    if not parts:
        return []
    return [
        Finding(
            severity="warning",
            where=where,
            what=f"the print reaches beyond the wedge's used steps (D {low:.2f} to "
            f"{high:.2f}): {' and '.join(parts)}; there the curve is drawn on",
            fix=f"Check that {wedge.name} lists every step: one missing shifts every "
            "density. Else use a wedge that reaches as far as the print.",
        )
    ]


def _colour_findings(wedge: WedgeReading, placed: Placed, where: str) -> list[Finding]:
    levels = _patch_levels(placed)
    if levels.shape[1] != 3:
        return []
    curves = wedge.encoding.curves
    light = np.stack([curve(levels[:, n]) for n, curve in enumerate(curves)])
    apart = float(np.quantile(np.ptp(-np.log10(light), axis=0), 0.8))
    if apart < COLOURED_D:
        return []
    return [
        Finding(
            severity="note" if wedge.told else "warning",
            where=where,
            what=f"the print is coloured (its channels differ by {apart:.2f} D) and "
            "the wedge is grey: the wedge sets each channel right, luminance rests on "
            + (
                "the profile's primaries"
                if wedge.told
                else "the primaries of sRGB, which are assumed"
            ),
            fix="" if wedge.told else "Save scans with the scanner's profile.",
        )
    ]


def _patch_levels(placed: Placed) -> npt.NDArray[np.float64]:
    """Return levels at the middle of each patch, shape (n, channels)."""
    levels = placed.reduced.levels
    centres = placed.geometry.to_scan([p.box.center for p in placed.layout.patches])
    places = np.floor(centres / placed.reduced.factor).astype(int)
    x = np.clip(places[:, 0], 0, levels.shape[1] - 1)
    y = np.clip(places[:, 1], 0, levels.shape[0] - 1)
    return np.asarray(levels[y, x], dtype=np.float64)
