"""The identity that is printed on a target as two strips of cells.

Knows bits and checksums; where the strips lie is in the layout, how they are found in
a scan is left to `negcurve.reading`.
"""

from collections.abc import Iterable, Sequence
from typing import Literal

import numpy as np
import numpy.typing as npt

from negcurve.errors import InvalidValueError
from negcurve.target.layout import IDENTITY_COLUMNS

Copy = Literal["top", "bottom"]

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


def identity_bits(identity: int, *, copy: Copy = "top") -> tuple[int, ...]:
    """Bits of one printed strip, left to right on the print as it reads right.

    Parameters
    ----------
    identity : int
        32 bits.
    copy : {"top", "bottom"}
        The bottom copy is the complement of the top copy, so that a stain or a
        gradient cannot forge both.

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
    flip = int(copy == "bottom")
    places = range(IDENTITY_COLUMNS - 1, -1, -1)
    return tuple((word >> place & 1) ^ flip for place in places)


def decode_bits(scores: npt.ArrayLike, *, repairs: int = 4) -> tuple[int, Copy] | None:
    """Identity from how strongly each column speaks for 1 against 0.

    Parameters
    ----------
    scores : array-like, shape (48,)
        Above 0 for bit 1 (lower cell lighter than the upper), below 0 for bit 0; the
        size says how sure. Of two strips, the top's scores less the bottom's.
    repairs : int
        How many of the least sure columns may be turned over to make the checksum
        hold, 0..8. Every doubling of the tries doubles the odds of a false match, so
        match a repaired identity against the layouts that are known.

    Returns
    -------
    (int, {"top", "bottom"}) or None
        Identity and which copy it was read from; None where no checksum holds.
    """
    sure = np.asarray(scores, dtype=np.float64)
    if sure.shape != (IDENTITY_COLUMNS,):
        raise InvalidValueError(
            f"must have shape ({IDENTITY_COLUMNS},), has {sure.shape}", where="scores"
        )
    word = 0
    for score in sure:
        word = word << 1 | int(score > 0)
    weakest = np.argsort(np.abs(sure), kind="stable")[:repairs]
    masks = [1 << int(IDENTITY_COLUMNS - 1 - place) for place in weakest]
    for flips in _likeliest_first(masks, np.abs(sure)[weakest]):
        found = _checked(word ^ flips)
        if found is not None:
            return found
    return None


def _likeliest_first(
    masks: Sequence[int], doubts: npt.NDArray[np.float64]
) -> list[int]:
    """Every union of the masks, those that overrule the least score first."""
    unions = [(0.0, 0, 0)]
    for mask, doubt in zip(masks, doubts, strict=True):
        unions += [
            (cost + float(doubt), count + 1, union | mask)
            for cost, count, union in unions
        ]
    return [union for _, _, union in sorted(unions)]


def _checked(word: int) -> tuple[int, Copy] | None:
    copies: tuple[Copy, Copy] = ("top", "bottom")
    for copy in copies:
        plain = word if copy == "top" else ~word & (1 << IDENTITY_COLUMNS) - 1
        identity = plain >> 16
        if checksum(identity.to_bytes(4, "big")) == plain & 0xFFFF:
            return identity, copy
    return None
