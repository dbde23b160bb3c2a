"""The scanner's ICC profile, written byte by byte, and the transfer curve in it.

Knows matrix and grey input profiles of ICC version 2 only; reading profiles is the work
of `negcurve.files`, which shares no code with this.
"""

import struct

import numpy as np
import numpy.typing as npt

from negcurve.values import FloatArray

D50_WHITE = (0.9642, 1.0, 0.8249)
"""XYZ of the profile connection space. Source: ISO 15076-1 (from memory)."""

Matrix = tuple[tuple[float, float, float], ...]

SRGB_TO_XYZ_D50: Matrix = (
    (0.4360747, 0.3850649, 0.1430804),
    (0.2225045, 0.7168786, 0.0606169),
    (0.0139322, 0.0971045, 0.7141733),
)
"""Linear sRGB to XYZ at D50.

Primaries of IEC 61966-2-1, adapted from D65 by the Bradford matrix of ISO 15076-1,
annex E (from memory; recomputed in the tests with a colour library).
"""

LUMINANCE_WEIGHTS = np.array(SRGB_TO_XYZ_D50[1])
"""Y at D50 of linear red, green and blue."""

WIDE_TO_XYZ_D50: Matrix = (
    (0.6000, 0.2300, 0.1342),
    (0.2950, 0.6500, 0.0550),
    (0.0250, 0.0800, 0.7199),
)
"""Linear red, green and blue of an invented scanner, wider than sRGB, to XYZ at D50."""


def encode(light: npt.ArrayLike, gamma: float | None) -> FloatArray:
    """Level that stands for linear light, any shape, 0..1.

    Parameters
    ----------
    light : array, any shape
        0..1.
    gamma : float or None
        Exponent of the decoding power, None for the sRGB curve.

    Returns
    -------
    array, same shape

    Notes
    -----
    Source of the sRGB curve: IEC 61966-2-1:1999, equation 8 (from memory).
    """
    value = np.clip(np.asarray(light, dtype=np.float64), 0.0, 1.0)
    if gamma is not None:
        return np.asarray(value ** (1 / gamma))
    return np.where(
        value <= 0.0031308, 12.92 * value, 1.055 * value ** (1 / 2.4) - 0.055
    )


def input_profile(name: str, *, gamma: float | None, matrix: Matrix | None) -> bytes:
    """ICC version 2 input profile.

    Parameters
    ----------
    name : str
        Description, ASCII.
    gamma : float or None
        Transfer exponent, None for the sRGB curve.
    matrix : array, shape (3, 3), or None
        Linear red, green, blue to XYZ at D50; None for a grey profile.

    Returns
    -------
    bytes

    Notes
    -----
    Source: ICC.1:2001-04, clauses 6.1 (header), 6.3 (tags), 6.5.3 (curves) (from
    memory; opened by two independent readers in the tests).
    """
    curve = _curve(gamma)
    tags = [
        (b"desc", _description(name)),
        (b"cprt", b"text" + bytes(4) + b"Free to use.\0"),
        (b"wtpt", _xyz(D50_WHITE)),
    ]
    if matrix is None:
        tags.append((b"kTRC", curve))
    else:
        for letter, column in zip(
            (b"r", b"g", b"b"), zip(*matrix, strict=True), strict=True
        ):
            tags.append((letter + b"XYZ", _xyz(column)))
            tags.append((letter + b"TRC", curve))
    return _assembled(tags, b"GRAY" if matrix is None else b"RGB ")


def _assembled(tags: list[tuple[bytes, bytes]], space: bytes) -> bytes:
    table, data = struct.pack(">I", len(tags)), b""
    start = 128 + 4 + 12 * len(tags)
    for signature, content in tags:
        table += signature + struct.pack(">II", start + len(data), len(content))
        data += content + bytes(-len(content) % 4)
    size = start + len(data)
    header = struct.pack(">I4sI", size, bytes(4), 0x02400000) + b"scnr" + space
    header += b"XYZ " + struct.pack(">6H", 2026, 1, 1, 0, 0, 0) + b"acsp"
    header += bytes(28) + _fixed(D50_WHITE)
    return b"".join((header.ljust(128, b"\0"), table, data))


def _fixed(values: npt.ArrayLike) -> bytes:
    numbers = np.rint(np.asarray(values, dtype=np.float64) * 65536).astype(int)
    return struct.pack(f">{len(numbers)}i", *numbers.tolist())


def _xyz(values: npt.ArrayLike) -> bytes:
    return b"XYZ " + bytes(4) + _fixed(values)


def _description(name: str) -> bytes:
    text = name.encode("ascii") + b"\0"
    head = b"desc" + bytes(4) + struct.pack(">I", len(text)) + text
    return head + bytes(4 + 4 + 2 + 1 + 67)


def _curve(gamma: float | None) -> bytes:
    if gamma is not None:
        return b"curv" + struct.pack(">IIH", 0, 1, round(gamma * 256))
    level = np.linspace(0.0, 1.0, 4096)
    light = np.where(level <= 0.04045, level / 12.92, ((level + 0.055) / 1.055) ** 2.4)
    codes = np.rint(light * 65535).astype(int).tolist()
    return b"curv" + struct.pack(f">II{len(codes)}H", 0, len(codes), *codes)
