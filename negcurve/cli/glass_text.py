"""What `read` prints of the scanner's own unevenness."""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from negcurve.reading.glass import GlassField


def glass_lines(glass: "GlassField | None") -> list[str]:
    """Return a line of what several scans told, none where they told nothing."""
    if glass is None or glass.fit is None:
        return []
    done = "taken out" if glass.corrected else "left in"
    size = f"{glass.span:.3f} D over the print, {done}"
    return [f"scanner's unevenness: {size if glass.significant else 'none seen'}"]


def glass_plain(glass: "GlassField | None") -> dict[str, Any] | None:
    """Return what several scans told, for JSON; None with fewer than two scans."""
    if glass is None:
        return None
    return {
        "moves": [
            {"turn_degrees": turn, "shift_mm": shift if glass.same_area else None}
            for turn, shift in glass.moves
        ],
        "told": [
            {
                "part": part.name,
                "span": part.span,
                "standard_error": part.standard_error,
            }
            for part in glass.parts
        ],
        "not_told": glass.untold,
        "span": glass.span,
        "significant": glass.significant,
        "differs_by_tone": glass.by_tone,
        "corrected": glass.corrected,
    }
