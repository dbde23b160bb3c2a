"""The identity that is printed on a target as two strips of cells.

Knows bits and checksums; where the strips lie is in the layout, how they are found in
a scan is left to `negcurve.reading`.
"""

from collections.abc import Iterable

import numpy as np
import numpy.typing as npt

from negcurve.errors import InvalidValueError
from negcurve.target.layout import IDENTITY_COLUMNS

_CRC_POLYNOMIAL = 0x1021
_CRC_START = 0xFFFF


def checksum(data: Iterable[int]) -> int:
    """CRC-16/CCITT-FALSE of bytes.

    Parameters
    ----------
    data : iterable of int
        Bytes, 0..255.

    Returns
    -------
    int
        0..65535.

    Notes
    -----
    Polynomial x^16 + x^12 + x^5 + 1 of ITU-T V.41, start 0xFFFF, not reflected, no
    final exclusive-or. Check value of "123456789": 0x29B1.
    """
    register = _CRC_START
    for byte in data:
        register ^= byte << 8
        for _ in range(8):
            register <<= 1
            if register & 0x10000:
                register ^= 0x10000 | _CRC_POLYNOMIAL
    return register


def identity_bits(identity: int) -> tuple[int, ...]:
    """Bits of a printed strip, left to right on the print as it reads right.

    Both strips of a target carry the same bits. Turned or mirrored, a strip reads
    backwards, complemented or both, and its checksum does not hold.

    Parameters
    ----------
    identity : int
        32 bits.

    Returns
    -------
    tuple of int, length 48
        Identity, then its checksum, most significant bit first. Bit 1: upper cell
        dark, lower white; bit 0: the other way round.

    Raises
    ------
    InvalidValueError
        If the identity does not fit 32 bits.
    """
    if not 0 <= identity < 1 << 32:
        raise InvalidValueError(f"{identity} does not fit 32 bits", where="identity")
    word = identity << 16 | checksum(identity.to_bytes(4, "big"))
    return tuple(word >> place & 1 for place in range(IDENTITY_COLUMNS - 1, -1, -1))


def decode_bits(scores: npt.ArrayLike) -> int | None:
    """Identity from how strongly each column speaks for 1 against 0.

    Parameters
    ----------
    scores : array-like, shape (48,)
        Above 0 for bit 1 (lower cell lighter than the upper), below 0 for bit 0; the
        size says how sure. Of two strips, the sum of their scores.

    Returns
    -------
    int or None
        None where the checksum does not hold.

    Raises
    ------
    InvalidValueError
        If there are not 48 scores.
    """
    sure = np.asarray(scores, dtype=np.float64)
    if sure.shape != (IDENTITY_COLUMNS,):
        raise InvalidValueError(
            f"must have shape ({IDENTITY_COLUMNS},), has {sure.shape}", where="scores"
        )
    word = 0
    for score in sure:
        word = word << 1 | int(score > 0)
    identity = word >> 16
    held = checksum(identity.to_bytes(4, "big")) == word & 0xFFFF
    return identity if held else None
