"""The one-dimensional curves of ICC profiles, exactly.

Source: ICC.1:2010 (ISO 15076-1), clause 10.5 curveType and 10.15
parametricCurveType; clause numbers from memory.
"""

import struct

import numpy as np

from negcurve.encoding import TransferCurve
from negcurve.values import FloatArray

_PARAMETERS = {0: 1, 1: 3, 2: 4, 3: 5, 4: 7}
"""Number of parameters of each parametric form."""


class CurveDamagedError(Exception):
    """A part of a profile cannot be used; turned into a FileError by `icc`."""


def parse_curve(tag: bytes) -> TransferCurve:
    """Turn a curve tag into a function of level.

    Parameters
    ----------
    tag : bytes
        A `curv` or `para` tag.

    Returns
    -------
    TransferCurve
        Linear light, 0..1, from level, 0..1.

    Raises
    ------
    CurveDamagedError
        If the tag is of another type, cut off, or out of range.
    """
    try:
        if tag[:4] == b"curv":
            return _sampled(tag)
        if tag[:4] == b"para":
            return _parametric(tag)
    except struct.error as error:
        raise CurveDamagedError("a curve is cut off") from error
    raise CurveDamagedError("a curve is of no known type")


def _sampled(tag: bytes) -> TransferCurve:
    (count,) = struct.unpack_from(">I", tag, 8)
    if count == 0:
        return lambda level: np.asarray(level, dtype=np.float64)
    if count == 1:
        (fixed,) = struct.unpack_from(">H", tag, 12)
        return lambda level: np.power(level, fixed / 256)
    if 12 + 2 * count > len(tag):
        raise CurveDamagedError("a curve is cut off")
    values = np.frombuffer(tag, dtype=">u2", count=count, offset=12) / 65535
    rises = np.diff(values)

    def curve(level: FloatArray) -> FloatArray:
        # Even places need no search, which `np.interp` would make for each value.
        place = np.clip(level, 0.0, 1.0) * (count - 1)
        before = np.minimum(place.astype(np.intp), count - 2)
        return np.asarray(values[before] + (place - before) * rises[before])

    return curve


def _parametric(tag: bytes) -> TransferCurve:
    (form,) = struct.unpack_from(">H", tag, 8)
    if form not in _PARAMETERS:
        raise CurveDamagedError(f"a curve has the unknown form {form}")
    count = _PARAMETERS[form]
    fixed = struct.unpack_from(f">{count}i", tag, 12)
    # Forms 0 to 3 are form 4 with a = 1, the others 0, where they are not given.
    g, a, b, c, d, e, f = _all_seven(form, [each / 65536 for each in fixed])

    def curve(level: FloatArray) -> FloatArray:
        x = np.asarray(level, dtype=np.float64)
        power = np.power(np.maximum(a * x + b, 0), g) + e
        return np.clip(np.where(x >= d, power, c * x + f), 0.0, 1.0)

    return curve


def _all_seven(form: int, given: list[float]) -> tuple[float, ...]:
    """Return g, a, b, c, d, e, f of Y = (aX + b)^g + e for X >= d, else cX + f."""
    if form == 0:
        return given[0], 1.0, 0.0, 0.0, 0.0, 0.0, 0.0
    if form in (1, 2):
        g, a, b = given[:3]
        if a == 0:
            raise CurveDamagedError("a curve has a slope of 0")
        offset = given[3] if form == 2 else 0.0
        return g, a, b, 0.0, -b / a, offset, offset
    if form == 3:
        return (*given, 0.0, 0.0)
    return tuple(given)
