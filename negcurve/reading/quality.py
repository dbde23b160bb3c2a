"""What a scan's numbers say about how it was made: settings to change, limits to know.

Findings name the scanner setting that is the likely cause; what no reading can be made
from is raised as an error.
"""

from collections.abc import Iterator, Sequence

import numpy as np
from scipy.optimize import isotonic_regression

from negcurve.errors import ReadingsError
from negcurve.reading.geometry import Geometry
from negcurve.reading.patches import CLIPPED_SHARE, COVERED_SHARE, PatchValue
from negcurve.values import Finding, FloatArray, ImageSource

SCALE_NOTED, SCALE_REFUSED = 0.007, 0.03
"""Deviation of the printed size that is warned about, and that is refused."""

SCALE_UNSTATED = 0.25
"""A deviation beyond this is a wrong resolution in the file, not a wrong print size."""

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

WEAK_INK = 0.03
"""Density of the lightest patch above the taped white that is warned about. [D]"""

STRAY_D, STRAY_SPREADS = 0.08, 6.0
UNEVEN_D, UNEVEN_TIMES = 0.03, 4.0


def check_scale(
    geometry: Geometry, source: ImageSource, *, along_only: bool = False
) -> Iterator[Finding]:
    """Compare the printed size with the layout's, by the scan's stated resolution.

    Parameters
    ----------
    geometry : Geometry
        Print to scan.
    source : ImageSource
        The scan.
    along_only : bool
        Judge the size across the print alone: a strip is too low to measure down it.

    Yields
    ------
    Finding

    Raises
    ------
    ReadingsError
        If the print is more than 3 % too large or too small.
    """
    if source.resolution_ppi is None:
        yield Finding(
            severity="note",
            where=source.name,
            what="states no resolution, so the printed size was not checked",
        )
        return
    scales = geometry.scales(source.resolution_ppi)
    printed = f"{scales[0]:.1%} of its width"
    if along_only:
        scales = (scales[0],) * 2
    else:
        printed += f" and {scales[1]:.1%} of its height"
    worst = max((scale - 1 for scale in scales), key=abs)
    if abs(worst) > SCALE_UNSTATED:
        across, down = (ppi * scales[0] for ppi in source.resolution_ppi)
        yield Finding(
            severity="warning",
            where=source.name,
            what=f"the file states {source.resolution_ppi[0]:g} ppi, the marks say "
            f"about {(across + down) / 2:.0f}, so the printed size was not checked",
            fix="Save scans with the resolution they were made at.",
        )
    elif abs(worst) > SCALE_REFUSED:
        raise ReadingsError(
            f"the target was printed at {printed}",
            where=source.name,
            fix="Print it at 100 % with every fit-to-page setting off. If the print "
            "is right, the resolution that the scan states is wrong.",
        )
    elif abs(worst) > SCALE_NOTED:
        yield Finding(
            severity="warning",
            where=source.name,
            what=f"the target was printed at {printed}",
            fix="Negatives made the same way will be off by as much: look for a "
            "fit-to-page setting of the driver.",
        )


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


def patch_flags(
    level: FloatArray,
    density: FloatArray,
    values: Sequence[PatchValue],
    *,
    groups: Sequence[str] = (),
) -> tuple[frozenset[str], ...]:
    """Flag patches whose reading should not be trusted.

    Parameters
    ----------
    level : array, shape (n,)
        Negative levels.
    density : array, shape (n,)
        Readings. [D]
    values : sequence of PatchValue, length n
        What they come from.
    groups : sequence of str, length n, optional
        Names of ink mixtures, whose levels mean nothing.

    Returns
    -------
    tuple of frozenset of str
        `clipped`: too many pixels at an end. `covered`: over a quarter of the area
        was foreign. `uneven`: its blocks scatter far more than those of other patches.
        `stray`: far from what its neighbours in level say, or repeats of its mixture.
    """
    scatter = np.array([each.scatter / each.reflectance for each in values]) / np.log(
        10
    )
    usual = max(UNEVEN_D, UNEVEN_TIMES * float(np.median(scatter)))
    stray = stray_repeats(groups, density) if groups else stray_readings(level, density)
    flags = []
    for place, value in enumerate(values):
        names = {
            "clipped": value.clipped,
            "covered": value.left_out > COVERED_SHARE,
            "uneven": scatter[place] > usual,
            "stray": bool(stray[place]),
        }
        flags.append(frozenset(name for name, holds in names.items() if holds))
    return tuple(flags)


def stray_readings(level: FloatArray, density: FloatArray) -> FloatArray:
    """Return which readings lie far from all others of about their level.

    Parameters
    ----------
    level, density : array, shape (n,)
        In any order.

    Returns
    -------
    array of bool, shape (n,)
        True where the reading lies above the median of its three neighbours of the same
        or a higher level, or below that of three of the same or a lower level, by more
        than 0.08 D and six times the usual distance from a rising line. Nothing more
        is asked of the response than that it rises.
    """
    count = len(level)
    rising = isotonic_regression(density[np.argsort(level, kind="stable")]).x
    rest = density[np.argsort(level, kind="stable")] - rising
    spread = 1.4826 * float(np.median(np.abs(rest)))
    limit = max(STRAY_D, STRAY_SPREADS * spread)
    stray = np.zeros(count, dtype=bool)
    for place in range(count):
        for sign in (1, -1):
            # Others of at least this level, the nearest first; then turned round.
            distance = sign * (level - level[place])
            distance[place] = -1
            others = np.flatnonzero(distance >= 0)
            near = others[np.argsort(distance[others], kind="stable")[:3]]
            beyond = (
                sign * (density[place] - np.median(density[near])) if len(near) else 0
            )
            stray[place] |= beyond > limit
    return stray


def stray_repeats(groups: Sequence[str], density: FloatArray) -> FloatArray:
    """Return which readings lie far from the other repeats of their mixture.

    Parameters
    ----------
    groups : sequence of str, length n
        What is alike.
    density : array, shape (n,)
        [D]

    Returns
    -------
    array of bool, shape (n,)
        Only where there are three repeats or more: of two that differ, nothing says
        which is right.
    """
    names = np.array(groups)
    rest = np.zeros(len(density))
    for name in dict.fromkeys(groups):
        alike = names == name
        if alike.sum() >= 3:
            rest[alike] = density[alike] - np.median(density[alike])
    spread = 1.4826 * float(np.median(np.abs(rest)))
    return np.asarray(np.abs(rest) > max(STRAY_D, STRAY_SPREADS * spread))
