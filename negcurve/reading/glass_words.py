"""What the scans of a print say of the scanner's unevenness, in sentences."""

from negcurve.density import lightness_slope
from negcurve.reading.glass import GlassField, GlassPart
from negcurve.values import Finding

WIDE_D = 0.02
"""Unevenness of a scanner from which a warning is given. [D]"""

ALIKE_DEGREES, ALIKE_MM = 2.0, 2.0
"""Moves of the print that are not named."""


def glass_findings(
    glass: GlassField, tones: tuple[float, float]
) -> tuple[Finding, ...]:
    """Say what was found of the scanner and what was done about it.

    Parameters
    ----------
    glass : GlassField
    tones : (lightest, middle)
        Densities of the print at which to give the size in L*. [D]

    Returns
    -------
    tuple of Finding
    """
    if glass.significant:
        return (_uneven(glass, tones),)
    if not glass.parts:
        return (_nothing_told(glass),)
    return (_even(glass),)


def moves_text(glass: GlassField) -> str:
    """Say how the print lay in the further scans: `turned by 180 degrees`."""
    moves = (_move_text(*move, same=glass.same_area) for move in glass.moves)
    return " and ".join(dict.fromkeys(filter(None, moves))) or "laid alike"


def part_text(part: GlassPart) -> str:
    """Say one part of the field in words: `tilt 0.012 D, darker to the left`."""
    size = f"{part.name} {abs(part.span):.3f} D"
    ways = {
        "tilt across": ("right", "left"),
        "tilt down": ("bottom", "top"),
        "bend across": ("sides", "middle"),
        "bend down": ("ends", "middle"),
    }
    if part.name not in ways:
        return size
    return f"{size}, darker at the {ways[part.name][0 if part.span > 0 else 1]}"


def _move_text(turn: float, shift: float, *, same: bool) -> str:
    said = []
    if abs(turn) >= ALIKE_DEGREES:
        said.append(f"turned by {abs(turn):.0f} degrees")
    if same and shift >= ALIKE_MM:
        said.append(f"shifted by {shift:.0f} mm")
    return ", ".join(said)


def _even(glass: GlassField) -> Finding:
    limits = (abs(part.span) + 2 * part.standard_error for part in glass.parts)
    names = ", ".join(part.name for part in glass.parts)
    return Finding(
        severity="note",
        where="scanner",
        what=f"the print {moves_text(glass)} shows no unevenness of the scanner's own "
        f"beyond {max(limits):.3f} D, as far as it tells: {names}{_untold_text(glass)}",
    )


def _untold_text(glass: GlassField) -> str:
    if not glass.untold:
        return ""
    return f"; not told apart from the print: {', '.join(glass.untold)}"


def _nothing_told(glass: GlassField) -> Finding:
    lay = moves_text(glass)
    what = f"the print {lay} tells nothing of the scanner's own unevenness"
    if not glass.same_area:
        what += "; the scans show different areas of the glass, so no shift is known"
    return Finding(
        severity="note",
        where="scanner",
        what=what,
        fix="Scan the whole glass, once with the print turned by 180 degrees on it "
        "(tells a tilt), by 90 degrees or shifted by a third (tells bends); leave the "
        "files as the scanner wrote them",
    )


def _uneven(glass: GlassField, tones: tuple[float, float]) -> Finding:
    white, middle = (abs(float(lightness_slope(tone))) * glass.span for tone in tones)
    parts = sorted(glass.parts, key=lambda part: -abs(part.span))
    sure = [part for part in parts if abs(part.span) > 3 * part.standard_error]
    listed = "; ".join(part_text(part) for part in sure) or "a mixture of bends"
    done = "taken out of the readings"
    fix = ""
    if glass.by_tone:
        done = "not taken out, as dark patches show another unevenness than light ones"
        fix = "Clean the glass, keep stray light off, and scan at the glass's middle"
    elif not glass.corrected:
        done = "left in the readings, as wanted"
    return Finding(
        severity="warning" if glass.span >= WIDE_D or glass.by_tone else "note",
        where="scanner",
        what=f"the print {moves_text(glass)} shows the scanner's own unevenness: "
        f"{glass.span:.3f} D where the print lay ({white:.1f} L* in its white, "
        f"{middle:.1f} L* at D {tones[1]:.2f}), of it {listed}; {done}"
        + _untold_text(glass),
        fix=fix,
    )
