import binascii

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from negcurve.errors import InvalidValueError
from negcurve.target.identity import (
    checksum,
    decode_bits,
    identity_bits,
)

identities = st.integers(0, 2**32 - 1)


def scores(bits: tuple[int, ...]) -> np.ndarray:
    return np.array(bits) * 2.0 - 1.0


def test_checksum_of_the_usual_check_text() -> None:
    """Check value of CRC-16/CCITT-FALSE over "123456789", from memory."""
    assert checksum(b"123456789") == 0x29B1


@given(st.binary(max_size=12))
def test_checksum_against_the_standard_library(data: bytes) -> None:
    """`binascii.crc_hqx` is the same polynomial; started with 0xFFFF it agrees."""
    assert checksum(data) == binascii.crc_hqx(data, 0xFFFF)


@given(identities)
def test_both_copies_give_the_identity(identity: int) -> None:
    top = identity_bits(identity, copy="top")
    bottom = identity_bits(identity, copy="bottom")
    assert len(top) == 48
    assert all(one + other == 1 for one, other in zip(top, bottom, strict=True))
    assert decode_bits(scores(top)) == (identity, "top")
    assert decode_bits(scores(bottom)) == (identity, "bottom")


def test_bits_run_from_the_most_significant() -> None:
    assert identity_bits(1 << 31)[0] == 1
    assert identity_bits(1)[:32] == (0,) * 31 + (1,)


@given(identities, st.lists(st.integers(0, 47), min_size=1, max_size=3, unique=True))
def test_unsure_columns_are_turned_over(identity: int, places: list[int]) -> None:
    read = scores(identity_bits(identity))
    read[places] *= -0.1
    assert decode_bits(read) == (identity, "top")


def test_one_sure_wrong_column_is_not_hidden() -> None:
    read = scores(identity_bits(0xE2DF71D1))
    read[7] *= -5
    assert decode_bits(read, repairs=0) is None


@given(identities, st.integers(0, 47))
def test_the_other_strip_outvotes_a_stain(identity: int, start: int) -> None:
    top, bottom = (scores(identity_bits(identity, copy=c)) for c in ("top", "bottom"))
    top[start : start + 12] *= -0.4
    assert decode_bits(top - bottom, repairs=0) == (identity, "top")


def test_noise_is_refused_nearly_always() -> None:
    """Of 16 tries and 2 copies, 2 x 16 in 65536 hold by chance: 0.05 %."""
    noise = np.random.default_rng(1).normal(size=(2000, 48))
    assert sum(decode_bits(each) is not None for each in noise) <= 6


def test_wrong_shapes_are_refused() -> None:
    with pytest.raises(
        InvalidValueError, match=r"must have shape \(48,\), has \(40,\)"
    ):
        decode_bits(np.zeros(40))
    with pytest.raises(InvalidValueError, match="does not fit 32 bits"):
        identity_bits(1 << 32)
