"""A sheet's unevenness in three lines of text."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from negcurve.response.solution import Unevenness
    from negcurve.values import FloatArray


def field_map(field: "Unevenness", *, stops: "FloatArray | None" = None) -> list[str]:
    """Return the field at mid-tone, three rows of three from the top of the print.

    With `stops`, the field of exposure in stops, a second map follows.
    """
    first = f"print {field.sheet}, unevenness at mid-tone in D, as the print lies:"
    lines = [first, *_rows(field.ninths(field.at_mid_tone))]
    if stops is not None:
        lines += ["  of it exposure, in stops:", *_rows(field.ninths(stops))]
    return lines


def _rows(ninths: "FloatArray") -> list[str]:
    return [
        "  "
        + "  ".join(f"{value:+.3f}" if value == value else "      " for value in row)
        for row in ninths
    ]
