"""A sheet's unevenness in three lines of text."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from negcurve.response.solution import Unevenness
    from negcurve.values import FloatArray


LEAST = 0.0005
"""Below this a field is shown as none. [D]"""


def field_map(field: "Unevenness", *, stops: "FloatArray | None" = None) -> list[str]:
    """Return the field at mid-tone, three rows of three from the top of the print.

    With `stops`, the field of exposure in stops, a second map follows. One line where
    there is nothing to show.
    """
    ninths = field.ninths(field.at_mid_tone)
    if not any(abs(value) >= LEAST for row in ninths for value in row):
        return [f"print {field.sheet}: no unevenness beyond the noise"]
    first = f"print {field.sheet}, unevenness at mid-tone in D, as the print lies:"
    lines = [first, *_rows(ninths)]
    if stops is not None:
        lines += ["  of it exposure, in stops:", *_rows(field.ninths(stops))]
    return lines


def _rows(ninths: "FloatArray") -> list[str]:
    return [
        "  "
        + "  ".join(f"{value:+z.3f}" if value == value else "      " for value in row)
        for row in ninths
    ]
