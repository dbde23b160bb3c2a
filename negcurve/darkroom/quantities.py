"""Times, volumes and temperatures as people type and read them.

Knows units only. Lengths and sheet sizes are `negcurve.target.sizes`.
"""

import math
import re
from fractions import Fraction

from negcurve.errors import InvalidValueError

_NUMBER = r"\d+(?:\.\d+)?"
_CLOCK = re.compile(r"(\d+):(\d{2}(?:\.\d+)?)")
_WORDS = re.compile(
    rf"(?:({_NUMBER})\s*h)?\s*(?:({_NUMBER})\s*m(?:in)?)?\s*(?:({_NUMBER})\s*s?)?"
)
_VOLUME = re.compile(rf"({_NUMBER})\s*(ml|l|drops?)?")
_TEMPERATURE = re.compile(rf"(-?{_NUMBER})\s*°?\s*([CF])?", re.IGNORECASE)


def seconds(text: str, *, where: str = "time") -> float:
    """Read a time: `380`, `380s`, `6m20s`, `6:20`, `0.5h`.

    Parameters
    ----------
    text : str
    where : str
        Which option is meant, for the message.

    Returns
    -------
    float
        Above 0. [s]

    Raises
    ------
    InvalidValueError
        If it is not a time above 0.
    """
    plain = text.strip().lower()
    clock, words = _CLOCK.fullmatch(plain), _WORDS.fullmatch(plain)
    total = 0.0
    if clock:
        total = 60 * float(clock[1]) + float(clock[2])
    elif words and plain:
        hours, minutes, rest = (float(each or 0) for each in words.groups())
        total = 3600 * hours + 60 * minutes + rest
    if not total > 0:
        raise InvalidValueError(
            f"{text!r} is not a time above 0",
            where=where,
            fix="Write seconds, or minutes and seconds: 380, 6m20s, 6:20.",
        )
    return total


def time_text(value_s: float) -> str:
    """Write a time to the second, below 10 s to a tenth: `6 min 20 s`."""
    if value_s < 10:
        return f"{value_s:.1f} s"
    whole = round(value_s)
    minutes, rest = divmod(whole, 60)
    if not minutes:
        return f"{rest} s"
    return f"{minutes} min {rest:02d} s" if rest else f"{minutes} min"


def millilitres(text: str, *, where: str = "volume") -> float:
    """Read a volume: `500`, `500ml`, `1.5l`.

    Raises
    ------
    InvalidValueError
        If it is not a volume above 0.
    """
    match = _VOLUME.fullmatch(text.strip().lower())
    unit = match[2] if match else ""
    value = float(match[1]) * (1000.0 if unit == "l" else 1.0) if match else 0.0
    if not value > 0 or unit in ("drop", "drops"):
        raise InvalidValueError(
            f"{text!r} is not a volume above 0",
            where=where,
            fix="Write millilitres or litres: 500ml, 1.5l.",
        )
    return value


def celsius(text: str, *, where: str = "temperature") -> float:
    """Read a temperature in degrees Celsius: `20`, `20C`, `68F`.

    Raises
    ------
    InvalidValueError
        If it is not a temperature.
    """
    match = _TEMPERATURE.fullmatch(text.strip())
    if not match:
        raise InvalidValueError(
            f"{text!r} is not a temperature",
            where=where,
            fix="Write degrees: 20C, 68F.",
        )
    value = float(match[1])
    return (value - 32) / 1.8 if (match[2] or "C").upper() == "F" else value


def stops(text: str, *, where: str = "stops") -> float:
    """Read a number of stops: `1`, `+1/2`, `-0.3`, `1 1/3`.

    Raises
    ------
    InvalidValueError
        If it is not a number of stops.
    """
    plain = text.strip()
    sign = -1.0 if plain.startswith("-") else 1.0
    try:
        total = float(sum(Fraction(part) for part in plain.lstrip("+-").split()))
    except (ValueError, ZeroDivisionError) as error:
        raise InvalidValueError(
            f"{text!r} is not a number of stops",
            where=where,
            fix="Write a number or a fraction: 1, +1/2, -1/3.",
        ) from error
    if not plain or not math.isfinite(total):
        raise InvalidValueError(
            f"{text!r} is not a number of stops",
            where=where,
            fix="Write a number or a fraction: 1, +1/2, -1/3.",
        )
    return sign * total
