"""Printing density of film by matching prints against a step tablet on the same sheet.

Patches and tablet must have had the same exposure, coating and development; the
tablet's curve is what their prints are compared with.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from negcurve.darkroom.characteristic import CharacteristicCurve
from negcurve.darkroom.estimate import Estimate
from negcurve.darkroom.shape_fit import Point
from negcurve.errors import InvalidValueError
from negcurve.values import frozen

USABLE_SHARES = (0.10, 0.85)
"""Share of the print's density range within which a match is a number, not a limit.

Outside it the curve is too flat: an error of 0.02 D in the print moves the match by
more than 0.05 D. Follows from the slope of a curve of scale 1.8; no source.
"""

Limit = Literal["within", "at least", "at most"]


@dataclass(frozen=True, kw_only=True)
class Match:
    """Printing density of one patch.

    Attributes
    ----------
    patch : str
    print_density : float
        Mean of its readings. [D]
    readings : int
    printing_density : Estimate
        Against the scale of the tablet. With clear film over the tablet it counts from
        clear film; without, from no film. Beyond the usable range it is the limit. [D]
    limit : {"within", "at least", "at most"}
        Whether the density was found or is only known to lie beyond.
    """

    patch: str
    print_density: float
    readings: int
    printing_density: Estimate
    limit: Limit


@dataclass(frozen=True, kw_only=True)
class SecondSheet:
    """The exposure that brings patches beyond the usable range into it.

    Attributes
    ----------
    factor : float
        Exposure of the second sheet over that of the first. [1]
    covers : (float, float)
        Printing densities that it will measure. [D]
    """

    factor: float
    covers: tuple[float, float]


def match_patches(
    curve: CharacteristicCurve,
    *,
    patch: Sequence[str],
    density: npt.ArrayLike,
) -> tuple[Match, ...]:
    """Find the printing density of patches that were printed beside a tablet.

    Parameters
    ----------
    curve : CharacteristicCurve
        Of the tablet, on the same sheet; log exposure is minus tablet density.
    patch : sequence of str, length n
        Name of the patch of each reading; equal names are readings of one patch.
    density : array, shape (n,)
        Print densities. [D]

    Returns
    -------
    tuple of Match
        In the order of first appearance.

    Raises
    ------
    InvalidValueError
        If names and densities differ in number.
    """
    read = frozen(density, "density")
    if len(patch) != len(read):
        raise InvalidValueError(
            f"has {len(patch)} names for {len(read)} densities", where="patch"
        )
    names = list(dict.fromkeys(patch))
    groups: dict[str, list[float]] = {name: [] for name in names}
    for name, value in zip(patch, read, strict=True):
        groups[name].append(float(value))
    return tuple(_matched(curve, name, groups[name]) for name in names)


def _matched(curve: CharacteristicCurve, name: str, read: list[float]) -> Match:
    mean = float(np.mean(read))
    white = curve.d_min.value
    share = (mean - white) / (curve.d_max.value - white)
    low, high = USABLE_SHARES
    limit: Limit = "within"
    if share < low:
        limit, point = "at least", Point.at_share(low)
    elif share > high:
        limit, point = "at most", Point.at_share(high)
    else:
        point = Point.at_density(mean)
    place = curve.place(point)
    noise = 0.0
    if limit == "within":
        x = curve.log_exposure_at(mean)
        slope = float(np.diff(curve.density_at([x - 1e-4, x + 1e-4]))[0]) / 2e-4
        noise = curve.noise / math.sqrt(len(read)) / slope
    return Match(
        patch=name,
        print_density=mean,
        readings=len(read),
        printing_density=_turned(place, noise),
        limit=limit,
    )


def _turned(place: Estimate, noise: float) -> Estimate:
    """Density from log exposure: the sign turns, the reading's own noise is added."""
    error = math.hypot(place.standard_error, noise)
    grown = error / place.standard_error if place.standard_error else 1.0
    return Estimate(
        value=-place.value,
        standard_error=error,
        low=-place.value - (place.high - place.value) * grown,
        high=-place.value + (place.value - place.low) * grown,
    )


def second_sheet(
    curve: CharacteristicCurve, matches: Sequence[Match]
) -> SecondSheet | None:
    """Plan the second, longer or shorter exposure for patches beyond the range.

    Parameters
    ----------
    curve : CharacteristicCurve
    matches : sequence of Match

    Returns
    -------
    SecondSheet or None
        None if every patch was matched. Patches that printed too light come first.

    Notes
    -----
    log H = log t - D, so an exposure longer by F moves the usable range by log10 F
    towards higher film densities. F is the whole range: the two sheets just meet.
    """
    limits = {match.limit for match in matches}
    if limits <= {"within"}:
        return None
    low, high = (curve.place(Point.at_share(share)).value for share in USABLE_SHARES)
    shift = high - low
    if "at least" in limits:
        return SecondSheet(factor=10.0**shift, covers=(-low, -low + shift))
    return SecondSheet(factor=10.0**-shift, covers=(max(-high - shift, 0.0), -high))


def density_between(
    print_density: float,
    *,
    step_densities: tuple[float, float],
    step_prints: tuple[float, float],
) -> float:
    """Interpolate the printing density of a patch between two tablet steps.

    Parameters
    ----------
    print_density : float
        Of the patch. [D]
    step_densities : (float, float)
        Of the two tablet steps. [D]
    step_prints : (float, float)
        What they printed. [D]

    Returns
    -------
    float
        By straight interpolation. [D]

    Raises
    ------
    InvalidValueError
        If the patch does not print between the two.
    """
    low, high = sorted(step_prints)
    if not low < high or not low <= print_density <= high:
        raise InvalidValueError(
            f"{print_density:g} does not lie between {low:g} and {high:g}",
            where="print density",
            fix="Choose the two steps that print just lighter and just darker.",
        )
    share = (print_density - step_prints[0]) / (step_prints[1] - step_prints[0])
    return step_densities[0] + share * (step_densities[1] - step_densities[0])
