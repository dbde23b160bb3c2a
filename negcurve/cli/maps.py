"""A sheet's unevenness in three lines of text."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from negcurve.response.solution import Unevenness


def field_map(field: "Unevenness") -> list[str]:
    """Return the field at mid-tone, three rows of three from the top of the print."""
    rows = [
        "  ".join(f"{value:+.3f}" if value == value else "      " for value in row)
        for row in field.ninths_at_mid_tone
    ]
    first = f"print {field.sheet}, unevenness at mid-tone in D, as the print lies:"
    return [first, *(f"  {row}" for row in rows)]
