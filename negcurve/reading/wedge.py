"""A reflection step wedge in a scan: from its known densities to those of the print.

Fits what each channel sees of the wedge to its densities, so that flare, gain and
unknown contrast are taken up and densities are absolute; `wedge_findings` says what
that leaves open.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from negcurve.density import density_from_reflectance
from negcurve.encoding import (
    SRGB,
    SRGB_GREY,
    CurveEncoding,
    Encoding,
    grey_encoding,
    rgb_encoding,
)
from negcurve.errors import ReadingsError
from negcurve.reading.channels import (
    NODES,
    channel_light,
    channel_weights,
    curves_encoding,
)
from negcurve.reading.placing import Placed
from negcurve.reading.wedge_fit import StepFit, Steps, fit_steps, foretold_error
from negcurve.reading.wedge_levels import CellLevels, cell_levels
from negcurve.reading.wedge_place import BOX, WedgePlace, find_wedge, wedge_in_box
from negcurve.values import FloatArray, ImageSource

FEWEST_STEPS = 5

REFUSED_D = 0.06
"""Root mean square of the residuals from which nothing is read. Ours. [D]"""

OTHER_GAMMAS = (1.0, 2.2)
"""Besides sRGB, what an untagged scan is tried as; what is left the fit takes up."""

RIVAL, LEAST_OFF = 0.5, 0.02
"""A wedge counted one step on fits better if it is off by less than this share of what
it is off otherwise, if that is more than 0.02 D. Ours."""


@dataclass(frozen=True, eq=False, kw_only=True)
class WedgeReading:
    """What a wedge says about a scan.

    Attributes
    ----------
    encoding : CurveEncoding
        Absolute reflectance from the levels of the scan.
    base : Encoding
        What the levels were taken for before.
    told : bool
        Whether a profile or a gamma said so; else it is the best of some guesses.
    density : array, shape (n,)
        Known densities of the steps used, rising. [D]
    residual : array, shape (n,)
        Known less fitted luminance density. [D]
    foretold : float
        Root mean square by which a step differs from what the others say. [D]
    contrast : float
        Largest departure of the scan's contrast from what `base` and flare say, 0 where
        nothing was told. [D]
    brightness : float
        Density of the base's white by gain and flare alone, 0 where nothing was told.
        [D]
    unused : int
        Steps left out because they are clipped.
    place : WedgePlace
    name : str
        Of the wedge.
    """

    encoding: CurveEncoding
    base: Encoding
    told: bool
    density: FloatArray
    residual: FloatArray
    foretold: float
    contrast: float
    brightness: float
    unused: int
    place: WedgePlace
    name: str

    @property
    def rms(self) -> float:
        """Root mean square of the residuals, in D."""
        return float(np.sqrt(np.mean(self.residual**2)))

    @property
    def largest(self) -> float:
        """Largest residual, without its sign, in D."""
        return float(np.abs(self.residual).max())


def read_wedge(
    source: ImageSource,
    placed: Placed,
    density: FloatArray,
    *,
    encoding: Encoding | None,
    box_px: BOX | None = None,
    name: str = "wedge",
) -> WedgeReading:
    """Find a wedge, read its steps, and set the scan right by them.

    Parameters
    ----------
    source : ImageSource
        The scan.
    placed : Placed
        The print beside which the wedge lies.
    density : array, shape (n,)
        Of the steps, rising, five at least. [D]
    encoding : Encoding or None
        What the scan's levels stand for; None where nothing says.
    box_px : (left, top, width, height), optional
        Where the wedge lies, else it is looked for. [px]
    name : str
        Of the wedge, for messages.

    Returns
    -------
    WedgeReading

    Raises
    ------
    ReadingsError
        If the wedge is not found, too much of it is clipped, or it does not fit.
    """
    place = (
        find_wedge(source, placed, density, name=name)
        if box_px is None
        else wedge_in_box(source, placed, density, box_px, name=name)
    )
    cells = cell_levels(source, place)
    used = ~cells.clipped
    if used.sum() < FEWEST_STEPS:
        raise ReadingsError(
            f"only {used.sum()} of {len(density)} steps of {name} are not clipped",
            where=source.name,
            fix="Scan again with automatic exposure, levels and contrast off.",
        )
    bases = _guesses(source.channels) if encoding is None else [encoding]
    tried = [_tried(base, cells, used, density[used]) for base in bases]
    best = min(tried, key=lambda each: each.foretold)
    _check_count(best, place, where=source.name)
    reading = _reading(
        best,
        place,
        name=name,
        told=encoding is not None,
        unused=int((~used).sum()),
    )
    if reading.rms > REFUSED_D:
        raise ReadingsError(
            f"the steps of {name} do not fit what lies in the scan: they are off by "
            f"{reading.rms:.2f} D (root mean square)",
            where=source.name,
            fix="Does the list belong to this wedge, with every step from one end to "
            "the other? Is the wedge clean and flat on the glass?",
        )
    return reading


@dataclass(frozen=True, eq=False, kw_only=True)
class _Tried:
    """Fits of all channels, given what the levels are taken for."""

    base: Encoding
    steps: tuple[Steps, ...]
    fits: tuple[StepFit, ...]

    @property
    def foretold(self) -> float:
        squares = [
            foretold_error(fit, steps) ** 2
            for fit, steps in zip(self.fits, self.steps, strict=True)
        ]
        return float(np.sqrt(np.mean(squares)))


def _guesses(channels: int) -> list[Encoding]:
    if channels == 1:
        return [SRGB_GREY, *(grey_encoding(gamma) for gamma in OTHER_GAMMAS)]
    return [SRGB, *(rgb_encoding(gamma) for gamma in OTHER_GAMMAS)]


def _tried(
    base: Encoding,
    cells: CellLevels,
    used: npt.NDArray[np.bool_],
    density: FloatArray,
) -> _Tried:
    steps = []
    for channel, light in enumerate(channel_light(base)):
        level, error = cells.level[used, channel], cells.error[used, channel]
        seen = _at(light, level)
        spread = (_at(light, level + error) - _at(light, level - error)) / 2
        steps.append(Steps(light=seen, light_error=spread, density=density))
    return _Tried(
        base=base,
        steps=tuple(steps),
        fits=tuple(fit_steps(each) for each in steps),
    )


def _at(light: FloatArray, level: FloatArray) -> FloatArray:
    return np.interp(level, np.linspace(0.0, 1.0, NODES), light)


def _check_count(tried: _Tried, place: WedgePlace, *, where: str) -> None:
    """Refuse a count of steps that its neighbours beat, where it is not beyond doubt.

    What is compared is how well the steps foretell each other: a scan's brightness is
    its scanner's affair.
    """
    if place.sure:
        return

    if len(tried.steps[0].light) <= FEWEST_STEPS:
        return
    for shift in (-1, 1):
        moved = [_shifted(each, shift, by=shift) for each in tried.steps]
        stayed = [_shifted(each, shift, by=0) for each in tried.steps]
        off = _off(stayed)
        if off > LEAST_OFF and _off(moved) < RIVAL * off:
            raise ReadingsError(
                "a step wedge was found, but its steps fit the list better when "
                "counted one step on, so which is the first is in doubt",
                where=where,
                fix="Does the list hold every step? Lay the wedge on something of "
                "another tone than its ends, and switch automatic levels off.",
            )


def _off(channels: Sequence[Steps]) -> float:
    return float(np.mean([foretold_error(fit_steps(each), each) for each in channels]))


def _shifted(steps: Steps, shift: int, *, by: int) -> Steps:
    """Return the steps that have a neighbour that way, with densities moved on."""
    count = len(steps.light)
    light = slice(max(shift, 0), count + min(shift, 0))
    known = slice(light.start - by, light.stop - by)
    return Steps(
        light=steps.light[light],
        light_error=steps.light_error[light],
        density=steps.density[known],
    )


def _reading(
    tried: _Tried, place: WedgePlace, *, name: str, told: bool, unused: int
) -> WedgeReading:
    base, fits = tried.base, tried.fits
    weights = channel_weights(base)
    known = tried.steps[0].density
    light = [
        fit.reflectance(seen)
        for fit, seen in zip(fits, channel_light(base), strict=True)
    ]
    fitted = _weighted(fits, tried.steps, weights)
    straight = [fit_steps(each, bent=False) for each in tried.steps]
    departure = known - _weighted(straight, tried.steps, weights)
    bent = not all(fit.straight for fit in fits)
    whites = [fit.level for fit in straight]
    return WedgeReading(
        encoding=curves_encoding(f"{base.name}, set right by {name}", light, weights),
        base=base,
        told=told,
        density=known,
        residual=known - fitted,
        foretold=float(np.sqrt(np.mean([np.mean(f.left_out**2) for f in fits]))),
        contrast=float(np.abs(departure).max()) if bent and told else 0.0,
        brightness=float(np.average(whites, weights=weights)) if told else 0.0,
        unused=unused,
        place=place,
        name=name,
    )


def _weighted(
    fits: Sequence[StepFit], steps: Sequence[Steps], weights: Sequence[float]
) -> FloatArray:
    """Luminance density of the steps by the fits of all channels, in D."""
    luminance = sum(
        weight * fit.reflectance(each.light)
        for weight, fit, each in zip(weights, fits, steps, strict=True)
    )
    return density_from_reflectance(np.asarray(luminance))
