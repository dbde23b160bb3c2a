"""Whether a film's levels step: more ink for every lower level.

Densities are those of a scanner, not of the lamp, and twice through the film where it
lay on white: only their order and where they stand still mean anything.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from negcurve.density import density_from_reflectance
from negcurve.reading.patches import PatchValue
from negcurve.target.layout import Layout
from negcurve.values import Finding, FloatArray, ImageSource

LEAST_CONTRAST = 0.2
"""Density between clear film and full ink below which hardly any ink is there. [D]"""

SAME = 0.01
"""Levels that differ by less look alike. [D]"""

REVERSED, SURE = 0.02, 4.0
"""A level this much denser than a lower one, and by so many standard errors, is wrong.
"""

STILL = 0.1
"""Stretch of levels at the light end that may print as clear film unremarked. [1]"""

DARK = 1.8
"""Density above clear film beyond which a scanner sees little difference; common
practice, no source. [D]"""


@dataclass(frozen=True, eq=False, kw_only=True)
class FilmSteps:
    """What the scan sees of each patch and of each level.

    Attributes
    ----------
    reflectance : array, shape (n,)
        Of each patch, in the order of the layout. [1]
    patch_error : array, shape (n,)
        Standard error of its density. [D]
    level : array, shape (m,)
        Negative levels, rising. [1]
    density : array, shape (m,)
        Mean of the patches of a level, above the clearest level. [D]
    error : array, shape (m,)
        Standard error. [D]
    """

    reflectance: FloatArray
    patch_error: FloatArray
    level: FloatArray
    density: FloatArray
    error: FloatArray


def film_steps(layout: Layout, values: Sequence[PatchValue]) -> FilmSteps:
    """Sort the patches of a film by level.

    Parameters
    ----------
    layout : Layout
    values : sequence of PatchValue
        Of its patches, in order.

    Returns
    -------
    FilmSteps
    """
    reflectance = np.array([value.reflectance for value in values])
    error = np.array([value.standard_error for value in values])
    error = error / reflectance / np.log(10)
    given = np.array([patch.negative_level for patch in layout.patches])
    level, which = np.unique(given, return_inverse=True)
    count = np.bincount(which)
    mean = density_from_reflectance(np.bincount(which, weights=reflectance) / count)
    summed = np.sqrt(np.bincount(which, weights=error**2)) / count
    return FilmSteps(
        reflectance=reflectance,
        patch_error=error,
        level=level,
        density=mean - mean.min(),
        error=summed,
    )


def step_findings(
    steps: FilmSteps, source: ImageSource
) -> tuple[list[Finding], list[Finding]]:
    """Judge the steps.

    Returns
    -------
    (list of Finding, list of Finding)
        What forbids printing with the film; what wants a look, or is good to know.
    """

    def finding(what: str, fix: str, *, note: bool = False) -> Finding:
        warned = Finding(severity="warning", where=source.name, what=what, fix=fix)
        return replace(warned, severity="note") if note else warned

    contrast = float(np.ptp(steps.density))
    if contrast < LEAST_CONTRAST:
        what = f"full ink is only {contrast:.2f} D darker than clear film"
        fix = "Is a cartridge empty, or the driver set to another medium?"
        return [finding(what, fix)], []
    found = []
    wrong = _reversals(steps)
    if wrong:
        darker, lighter = steps.level[list(wrong[0])]
        what = (
            f"{len(wrong)} level{'s' * (len(wrong) > 1)} hold more ink than a lower "
            f"one, such as {lighter:.3f} more than {darker:.3f}"
        )
        fix = "Switch colour management off in driver and program, and print again."
        found.append(finding(what, fix))
    light = steps.level[steps.density <= steps.density[-1] + SAME].min()
    if light < 1 - STILL:
        what = f"levels from {light:.2f} up hold no more ink than clear film"
        fix = "The driver cuts the light end: try another medium setting."
        found.append(finding(what, fix))
    dark = steps.level[steps.density >= steps.density[0] - SAME].max()
    if dark > STILL:
        what = f"levels up to {dark:.2f} hold as much ink as level 0"
        fix = "The driver limits ink; a table leaves these levels out by itself."
        if contrast > DARK:
            what, fix = f"{what}, as far as this scan can tell", ""
        found.append(finding(what, fix, note=True))
    return [], found


def _reversals(steps: FilmSteps) -> list[tuple[int, int]]:
    """Pairs (lower, next higher level) of which the higher holds more ink."""
    rise = np.diff(steps.density)
    limit = np.maximum(REVERSED, SURE * np.hypot(steps.error[1:], steps.error[:-1]))
    return [(int(k), int(k) + 1) for k in np.flatnonzero(rise > limit)]
