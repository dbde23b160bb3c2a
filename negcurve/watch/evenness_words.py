"""Unevenness in words: what, where, how sure, what to do next."""

from negcurve.values import Finding
from negcurve.watch.cause import Cause
from negcurve.watch.evenness import Evenness
from negcurve.watch.shapes import Shape

ACCEPTABLE = 0.05
"""Spread over the sheet that a print bears: about that of a lamp even to 5 % in a
process of usual contrast. Common practice, no source. [D]
"""


def evenness_findings(study: Evenness) -> tuple[Finding, ...]:
    """Put a study into findings, gravest first; what cannot be told comes last."""
    found = [_finding(cause, study) for cause in study.causes]
    if study.spread <= ACCEPTABLE:
        found.insert(
            0,
            Finding(
                severity="note",
                where="sheet",
                what=f"even to {study.spread:.3f} D",
                fix="Nothing to do",
            ),
        )
    elif not study.causes:
        found.append(
            Finding(
                severity="warning",
                where="sheet",
                what=f"uneven by {study.spread:.3f} D, with no cause that stands out",
                fix="Print a second sheet turned by 180 degrees and give both",
            )
        )
    found += [
        Finding(severity="note", where="not told", what=each) for each in study.not_told
    ]
    return tuple(found)


def _finding(cause: Cause, study: Evenness) -> Finding:
    word = "darker" if cause.size > 0 else "lighter"
    size = (
        f"{abs(cause.size):.3f} D {word} at mid-tone (standard error {cause.error:.3f})"
    )
    what, fix = _words(cause, study)
    if cause.mark in ("tilt", "streaks"):
        size = f"{cause.size:.3f} D at mid-tone"
    matters = abs(cause.size) > ACCEPTABLE / 2 and study.spread > ACCEPTABLE
    return Finding(
        severity="warning" if matters else "note",
        where=_where(cause, study),
        what=f"{what}, {size}",
        fix=fix,
    )


def _where(cause: Cause, study: Evenness) -> str:
    sheet = (
        ""
        if cause.sheet is None or len(study.sheets) == 1
        else (f", sheet {study.sheets[cause.sheet].name}")
    )
    return _place(cause.shape) + sheet if cause.shape else f"whole sheet{sheet}"


def _place(shape: Shape) -> str:
    if not shape.center_mm:
        return "whole sheet"
    if shape.mark == "patch":
        x, y = shape.center_mm
        return f"{x:.0f} mm from the left, {y:.0f} mm from the top"
    side = "left" if shape.axis == "x" else "top"
    if shape.mark == "edge":
        far = {"x": ("left", "right"), "y": ("top", "bottom")}["xy"[shape.axis == "y"]]
        return f"{far[shape.side > 0]} side"
    return f"band {shape.center_mm[0]:.0f} mm from the {side}"


def _band(cause: Cause) -> tuple[str, str]:
    height = cause.shape.height_mm if cause.shape else 0.0
    if cause.origin == "coating":
        return (
            f"a straight band about {2 * height:.0f} mm wide that follows the sheet: "
            "coating or negative, not the lamp",
            "Coat with overlapping strokes; look at the negative there",
        )
    sure = (
        ""
        if cause.origin == "lamp"
        else ". A band in the coating would look alike on one sheet"
    )
    fix = (
        "Check that row of lamps: loose, dark or ageing, before the chemistry"
        if cause.origin == "lamp"
        else "Check that row of lamps; then print a second sheet turned by 180 degrees"
    )
    return (
        f"a row of lamps out or weak: a straight band {2 * height:.0f} mm wide at half "
        f"its depth, as of lamps {height:.0f} mm above the print{sure}",
        fix,
    )


def _corners(cause: Cause) -> tuple[str, str]:
    shape = cause.shape
    way = "all edges and corners"
    if shape and shape.axis:
        way = "left and right" if shape.axis == "x" else "top and bottom"
    if cause.origin == "coating":
        return (
            f"coating thins towards {way}: clear patches feel it too",
            "Coat beyond the picture area",
        )
    if cause.origin == "lamp":
        return (
            f"light falls off towards {way}: mid-tones feel it, clear patches do not",
            "Raise the lamp, widen the bank, or move the print about while exposing",
        )
    return (
        f"lighter towards {way}: light falling off, or coating thinner there",
        "Print a target: its clear patches tell coating from light",
    )


def _patch(cause: Cause) -> tuple[str, str]:
    if cause.origin == "lamp":
        return (
            "one soft-edged patch that stays with the lamp or the frame",
            "Check the lamps above it, the glass and the frame's pressure there",
        )
    return (
        "one soft-edged patch: coating, damp, or the negative not lying flat",
        "Look at the sheet there; soft detail means contact, sharp detail coating",
    )


def _tilt(cause: Cause, tilt: tuple[float, float]) -> tuple[str, str]:
    across, down = tilt
    darker = "right" if across > 0 else "left"
    if abs(down) > abs(across):
        darker = "bottom" if down > 0 else "top"
    if cause.origin == "lamp":
        return (
            f"light grows evenly towards the {darker} of the print",
            "Level the lamp over the print, or centre the print under it",
        )
    if cause.origin == "coating":
        return (
            f"coating grows heavier towards the {darker} of the print",
            "Coat both ways and let the sheet dry lying flat",
        )
    return (
        f"darker towards the {darker}: light or coating, one sheet does not tell",
        "Print a second sheet turned by 180 degrees",
    )


def _streaks(cause: Cause) -> tuple[str, str]:
    way = "up and down" if cause.shape and cause.shape.axis == "x" else "across"
    return (
        f"brush or rod streaks running {way}",
        "Coat in two directions, or with more liquid",
    )


_EDGE = (
    "light falls off towards this side, as where a bank of lamps ends",
    "Move the print to the middle of the bank, or the outer rows nearer",
)

_WORDS = {
    "band": _band,
    "corners": _corners,
    "patch": _patch,
    "streaks": _streaks,
}


def _words(cause: Cause, study: Evenness) -> tuple[str, str]:
    """Return what a cause is and what to do."""
    if cause.mark == "tilt":
        own = {"lamp": study.lamp_tilt, "coating": study.coating_tilt}
        return _tilt(cause, own.get(cause.origin) or study.tilt)
    return _EDGE if cause.mark == "edge" else _WORDS[cause.mark](cause)
