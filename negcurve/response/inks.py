"""Which ink mixture holds back most UV for the least ink, from a print of mixtures.

Print density ranks them on any sheet. Where a step tablet lay on it, or film data tell
what its greys hold back, each also has a printing density.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import isotonic_regression

from negcurve.errors import ReadingsError
from negcurve.readings import Readings
from negcurve.response.film import FilmData
from negcurve.response.ink_means import InkMeans, ink_means
from negcurve.response.ink_scale import NOT_KNOWN, HeldBack, InkScale, ink_scale
from negcurve.target.ink import Ink
from negcurve.values import Finding

ALIKE = 0.01
"""Mixtures that print within this of the lightest hold back as much. [D]"""

ALIKE_ERRORS = 3.0
"""The same in standard errors, where readings are worse: the lightest of many is light
by chance as well."""

SMALLEST_RANGE = 0.1
"""Range of densities below which the inks do not differ. [D]"""

MOST_ALIKE = 0.25
"""Share of mixtures as light as the lightest above which the print was too short."""


@dataclass(frozen=True, kw_only=True)
class RankedInk:
    """One mixture and what it holds back.

    Attributes
    ----------
    ink : Ink
    density, error : float
        Print density, mean of its patches, and its standard error. [D]
    patches : int
    held_back : HeldBack
        Its printing density.
    efficient : bool
        Whether no mixture with as little ink prints lighter.
    """

    ink: Ink
    density: float
    error: float
    patches: int
    held_back: HeldBack
    efficient: bool


@dataclass(frozen=True, eq=False, kw_only=True)
class InkRanking:
    """Mixtures from the one that prints lightest.

    Attributes
    ----------
    inks : tuple of RankedInk
    best : RankedInk
        The least ink that holds back as much as any, as far as the readings tell.
    black : RankedInk or None
        Full black, where it was among them.
    black_amount : float
        Amount of black that prints as light as the best one, NaN where none does. [1]
    tolerance : float
        Print density within which mixtures count as alike. [D]
    known_by : {"", "tablet", "film"}
        What told the printing densities.
    from_clear : bool
        Whether these count from clear film; else from no film at all.
    findings : tuple of Finding
    """

    inks: tuple[RankedInk, ...]
    best: RankedInk
    black: RankedInk | None
    black_amount: float
    tolerance: float
    known_by: str
    from_clear: bool
    findings: tuple[Finding, ...]


def rank_inks(readings: Readings, *, film: FilmData | None = None) -> InkRanking:
    """Rank the mixtures of one print.

    Parameters
    ----------
    readings : Readings
        Of a print of ink mixtures, each printed twice or more.
    film : FilmData, optional
        Of black ink, which tells what the greys of the sheet hold back; a tablet on
        the sheet tells more and is preferred.

    Returns
    -------
    InkRanking

    Raises
    ------
    ReadingsError
        If the readings are of no mixtures, of a wet print, or all alike.
    """
    _check(readings)
    means = ink_means(readings)
    lightest = float(means.density.min())
    if means.density.max() - lightest < SMALLEST_RANGE:
        raise ReadingsError(
            f"all mixtures print alike, D {lightest:.2f} to {means.density.max():.2f}",
            where=readings.source,
            fix="Was the film in the light, and the exposure long enough for a black?",
        )
    tolerance = max(ALIKE, ALIKE_ERRORS * float(means.error.max()))
    scale = ink_scale(readings, means, film)
    inks = _ranked(means, scale)
    alike = [each for each in inks if each.density <= lightest + tolerance]
    best = min(alike, key=lambda each: (each.ink.amount, each.density))
    black = next((each for each in inks if each.ink.amount == 1), None)
    return InkRanking(
        inks=inks,
        best=best,
        black=black,
        black_amount=_black_amount(means, lightest + tolerance),
        tolerance=tolerance,
        known_by=scale.known_by if scale else "",
        from_clear=scale.from_clear if scale else True,
        findings=(
            *_about_exposure(len(alike), len(inks), lightest),
            *_about_scale(scale, readings, film),
        ),
    )


def _check(readings: Readings) -> None:
    where = readings.source or f"sheet {readings.sheet}"
    if not readings.has_mixtures:
        raise ReadingsError(
            "is no print of ink mixtures",
            where=where,
            fix="Print one: negcurve target mixtures.tif --mixtures.",
        )
    if readings.print_state == "wet":
        raise ReadingsError(
            "the print was read wet",
            where=where,
            fix="Dry it as the final print will be, then read it again.",
        )


def _ranked(means: InkMeans, scale: InkScale | None) -> tuple[RankedInk, ...]:
    amount, density = means.amount, means.density
    found = []
    for place, ink in enumerate(means.inks):
        held = NOT_KNOWN
        if scale is not None:
            held = scale.held_back(float(density[place]), float(means.error[place]))
        cheaper = amount <= amount[place] + 1e-12
        found.append(
            RankedInk(
                ink=ink,
                density=float(density[place]),
                error=float(means.error[place]),
                patches=int(means.patches[place]),
                held_back=held,
                efficient=bool((density[cheaper] >= density[place]).all()),
            )
        )
    return tuple(sorted(found, key=lambda each: (each.density, each.ink.amount)))


def _black_amount(means: InkMeans, density: float) -> float:
    """Return the least black that prints as light, NaN where none does."""
    order = list(means.greys)
    if len(order) < 2:
        return float("nan")
    amount = means.amount[order]
    falling = isotonic_regression(means.density[order], increasing=False).x
    if falling[-1] > density:
        return float("nan")
    first = int(np.argmax(falling <= density))
    if first == 0:
        return float(amount[0])
    ends = slice(first - 1, first + 1)
    return float(np.interp(-density, -falling[ends], amount[ends]))


def _about_exposure(alike: int, count: int, lightest: float) -> Sequence[Finding]:
    if alike <= MOST_ALIKE * count:
        return ()
    return (
        Finding(
            severity="warning",
            where="exposure",
            what=f"{alike} of {count} mixtures print as light as the lightest, D "
            f"{lightest:.2f}, so the paper does not tell which holds back most",
            fix="The least of them will do for this exposure. To rank them further, "
            "expose another print longer by one or two stops.",
        ),
    )


def _about_scale(
    scale: InkScale | None, readings: Readings, film: FilmData | None
) -> Sequence[Finding]:
    if scale is None:
        return (
            Finding(
                severity="note",
                where="printing density",
                what="is not known: the mixtures are ranked by print density",
                fix="Lay a step tablet in the window of the target and read it with "
                "--tablet, or name film data of black ink with --film.",
            ),
        )
    if scale.known_by == "film" and film is not None:
        own, theirs = readings.printer_path.get("mode"), film.printer_path.get("mode")
        if own and theirs and own != theirs:
            return (
                Finding(
                    severity="warning",
                    where="film",
                    what=f"was measured on a {theirs} target, these greys were printed "
                    f"as {own}, for which the driver may lay down other ink",
                    fix="Take printing densities with care, or lay a step tablet on "
                    "the sheet.",
                ),
            )
    return ()
