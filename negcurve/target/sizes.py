"""Names of sheets and lengths with a unit, in exact units of 1/200 mm.

Counting in whole units keeps the placement the same on every platform.
"""

import re
from fractions import Fraction

from negcurve.errors import InvalidValueError

UNITS_PER_MM = 200
"""A unit is 0.005 mm: a hundredth of a millimetre can be halved."""

A_SERIES_MM = {
    "A2": (420, 594),
    "A3": (297, 420),
    "A4": (210, 297),
    "A5": (148, 210),
    "A6": (105, 148),
}
"""Trimmed sizes, portrait. Source: ISO 216:2007, main ISO-A series (from memory)."""

_MM_PER = {"mm": Fraction(1), "cm": Fraction(10), "in": Fraction(254, 10)}
_NUMBER = r"(\d+(?:\.\d+)?)"
_LENGTH = re.compile(rf"{_NUMBER}\s*(mm|cm|in)")
_SHEET = re.compile(rf"{_NUMBER}\s*x\s*{_NUMBER}\s*(mm|cm|in)")

SMALLEST_MM, LARGEST_MM = 60, 2000


def sheet_size(name: str) -> tuple[int, int]:
    """Width and height of a named sheet.

    Parameters
    ----------
    name : str
        `A2` to `A6`, or width x height with a unit: `8x10in`, `20x25cm`, `297x210mm`.

    Returns
    -------
    (int, int)
        Width and height. [1/200 mm]

    Raises
    ------
    InvalidValueError
        If the name is not understood or the size is not one of a sheet.
    """
    named = A_SERIES_MM.get(name.strip().upper())
    if named:
        return named[0] * UNITS_PER_MM, named[1] * UNITS_PER_MM
    match = _SHEET.fullmatch(name.strip().lower())
    if not match:
        raise InvalidValueError(
            f"{name!r} is not a sheet size",
            where="sheet",
            fix="Write A2 to A6, or width x height and a unit: 8x10in, 20x25cm.",
        )
    width, height = (_units(each, match[3]) for each in match.group(1, 2))
    for side in (width, height):
        if not SMALLEST_MM * UNITS_PER_MM <= side <= LARGEST_MM * UNITS_PER_MM:
            raise InvalidValueError(
                f"{name!r} has a side of {side / UNITS_PER_MM:g} mm",
                where="sheet",
                fix=f"Sheets have sides of {SMALLEST_MM} to {LARGEST_MM} mm.",
            )
    return width, height


def sheet_name(name: str) -> str:
    """Write a sheet's name in one way: `A4`, `8x10in`."""
    sheet_size(name)
    plain = "".join(name.split())
    return plain.upper() if plain.upper() in A_SERIES_MM else plain.lower()


def length_units(text: str, *, where: str) -> int:
    """Length with its unit, such as `12mm`, `0.5in` or `1.2 cm`.

    Parameters
    ----------
    text : str
        A number and mm, cm or in.
    where : str
        Which option is meant, for the message.

    Returns
    -------
    int
        [1/200 mm]

    Raises
    ------
    InvalidValueError
        If the unit is missing or not known.
    """
    match = _LENGTH.fullmatch(text.strip().lower())
    if not match:
        raise InvalidValueError(
            f"{text!r} is not a length with a unit",
            where=where,
            fix="Write a number and mm, cm or in: 12mm, 0.5in.",
        )
    return _units(match[1], match[2])


def _units(number: str, unit: str) -> int:
    """Whole hundredths of a millimetre, counted in units."""
    hundredths = Fraction(number) * _MM_PER[unit] * 100
    return round(hundredths) * UNITS_PER_MM // 100
