"""What a printed tablet shows beside its figures, in sentences.

Ends that are missing, strays, reversal, and other shapes that fit as well.
"""

import numpy as np

from negcurve.darkroom.characteristic import CharacteristicCurve
from negcurve.darkroom.first_print import BLACK_SHARE, EndsSeen
from negcurve.darkroom.iso6846 import BLACK_POINT, WHITE_POINT
from negcurve.darkroom.shape_fit import Point, ShapeFit
from negcurve.values import Finding


def end_findings(curve: CharacteristicCurve, ends: EndsSeen) -> tuple[Finding, ...]:
    """Say in sentences what `ends_seen` found."""
    found = []
    if not (ends.black or ends.white):
        found.append(_missing_both())
    elif not ends.black:
        found.append(_missing_black(curve, ends.longer))
    elif not ends.white:
        found.append(_missing_white(ends.shorter))
    return tuple(found)


def _missing_both() -> Finding:
    return Finding(
        severity="warning",
        where="strip",
        what="neither black nor white lies within the strip: the process has a longer "
        "scale than the steps that were read",
        fix="Read more steps, use a longer tablet, or raise the contrast of the "
        "process and test again.",
    )


def _missing_black(curve: CharacteristicCurve, longer: float | None) -> Finding:
    reached = float(curve.density.max())
    if longer is None:
        fix = "No single exposure of this tablet shows both ends: use a longer one."
    else:
        fix = (
            f"Expose about {longer:.2g} times as long; D-max and all that hangs on "
            "it are extrapolated until then."
        )
    return Finding(
        severity="warning",
        where="strip",
        what=f"black not reached: the clearest step prints {reached:.2f} and the print "
        "still rises",
        fix=fix,
    )


def _missing_white(shorter: float | None) -> Finding:
    if shorter is None:
        fix = "No single exposure of this tablet shows both ends: use a longer one."
    else:
        fix = (
            f"Expose {shorter:.2g} times as long (shorter), or read the unexposed, "
            "coated border as well; D-min is extrapolated until then."
        )
    return Finding(
        severity="warning",
        where="strip",
        what="white not reached: the densest step still prints a tone",
        fix=fix,
    )


def curve_findings(curve: CharacteristicCurve) -> tuple[Finding, ...]:
    """Say what the readings show beside the curve: strays, reversal, other shapes."""
    found = [*_strays(curve), *_reversal(curve)]
    scale = curve.distance(WHITE_POINT, BLACK_POINT)
    low, high = scale_by_shape(curve)
    if low < scale.low or high > scale.high:
        found.append(
            Finding(
                severity="note",
                where="exposure scale",
                what="curves of other shapes fit these readings nearly as well and "
                f"give {low:.2f} to {high:.2f}",
                fix="More readings of the light and the dark end narrow it: a second "
                "strip, the unexposed border.",
            )
        )
    return tuple(found)


def scale_by_shape(curve: CharacteristicCurve) -> tuple[float, float]:
    """Least and greatest exposure scale among the shapes that fit about equally well.

    Returns
    -------
    (float, float)
        [log10]
    """
    scales = [
        fit.place(BLACK_POINT)[0] - fit.place(WHITE_POINT)[0]
        for fit in _close_fits(curve)
    ]
    return min(scales), max(scales)


def black_by_shape(
    curve: CharacteristicCurve, *, black_share: float = BLACK_SHARE
) -> tuple[float, float]:
    """Least and greatest log exposure for black among these shapes.

    Returns
    -------
    (float, float)
        [log10]
    """
    point = Point.at_share(black_share)
    places = [fit.place(point)[0] for fit in _close_fits(curve)]
    return min(places), max(places)


def _close_fits(curve: CharacteristicCurve) -> list[ShapeFit]:
    """Fits whose misfit lies within 3.84 noise variances of the best.

    3.84 is the 95 % point of chi-square with one degree of freedom.
    """
    least = min(fit.misfit for fit in curve.fits)
    variance = least / curve.degrees_of_freedom
    return [fit for fit in curve.fits if fit.misfit - least <= 3.84 * variance]


def _strays(curve: CharacteristicCurve) -> list[Finding]:
    limit = max(4.0 * curve.noise, 0.04)
    return [
        Finding(
            severity="warning",
            where=f"reading at log exposure {curve.log_exposure[place]:.2f}",
            what=f"density {curve.density[place]:.2f} lies "
            f"{abs(curve.residual[place]):.2f} off the curve",
            fix="Look at the step for dust or a coating fault; leave it out with "
            "--drop only for a visible cause.",
        )
        for place in np.flatnonzero(np.abs(curve.residual) > limit)
    ]


def _reversal(curve: CharacteristicCurve) -> list[Finding]:
    order = np.argsort(curve.log_exposure)
    density = curve.density[order]
    if len(density) < 8:
        return []
    ends = density[-2:].mean()
    best = max(density[k : k + 2].mean() for k in range(len(density) - 2))
    if best - ends <= max(3.0 * curve.noise, 0.03):
        return []
    return [
        Finding(
            severity="warning",
            where="strip",
            what=f"the clearest steps print {best - ends:.2f} lighter than the ones "
            "before: the shadows reverse",
            fix="Leave those steps out with --drop, and expose less.",
        )
    ]
