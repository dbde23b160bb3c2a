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
def test_the_bits_give_the_identity(identity: int) -> None:
    bits = identity_bits(identity)
    assert len(bits) == 48
    assert decode_bits(scores(bits)) == identity


@given(identities)
def test_no_way_of_turning_or_mirroring_a_strip_reads(identity: int) -> None:
    """Upside down the two cells of a column change places: the complement."""
    bits = scores(identity_bits(identity))
    assert decode_bits(-bits) is None
    assert decode_bits(bits[::-1]) != identity or (bits == bits[::-1]).all()
    assert decode_bits(-bits[::-1]) != identity or (bits == -bits[::-1]).all()


def test_bits_run_from_the_most_significant() -> None:
    assert identity_bits(1 << 31)[0] == 1
    assert identity_bits(1)[:32] == (0,) * 31 + (1,)


def test_one_wrong_column_is_not_hidden() -> None:
    read = scores(identity_bits(0xE2DF71D1))
    read[7] *= -5
    assert decode_bits(read) is None


@given(identities, st.integers(0, 47))
def test_the_other_strip_outvotes_a_stain(identity: int, start: int) -> None:
    clean = scores(identity_bits(identity))
    stained = clean.copy()
    stained[start : start + 12] *= -0.4
    assert decode_bits(stained + clean) == identity


def test_noise_is_refused_nearly_always() -> None:
    """One in 65536 holds by chance."""
    noise = np.random.default_rng(1).normal(size=(20000, 48))
    assert sum(decode_bits(each) is not None for each in noise) <= 3


def test_wrong_shapes_are_refused() -> None:
    with pytest.raises(
        InvalidValueError, match=r"must have shape \(48,\), has \(40,\)"
    ):
        decode_bits(np.zeros(40))
    with pytest.raises(InvalidValueError, match="does not fit 32 bits"):
        identity_bits(1 << 32)
