"""The one map: exact for every code, whatever the encoding."""

from dataclasses import dataclass

import colour
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from negcurve.encoding import (
    GREY_ENCODINGS,
    LIGHTNESS_GREY,
    SRGB,
    SRGB_GREY,
    CurveEncoding,
    grey_encoding,
    image_tone,
)
from negcurve.errors import InvalidValueError
from negcurve.negative.tones import (
    STRAIGHT,
    Light,
    code_map,
    rounded_codes,
    weighted,
)
from negcurve.response.table import LookupTable
from negcurve.values import FloatArray
from tests.negative.pictures import print_table


def test_straight_table_on_a_lightness_picture_turns_every_code_over() -> None:
    codes = code_map(LIGHTNESS_GREY, STRAIGHT, 16)
    np.testing.assert_array_equal(codes, 65535 - np.arange(65536))


def test_eight_bit_codes_are_levels_of_255() -> None:
    codes = code_map(LIGHTNESS_GREY, STRAIGHT, 8)
    np.testing.assert_array_equal(codes, 65535 - 257 * np.arange(256))


@pytest.mark.parametrize("code", [0, 1, 1000, 2650, 20000, 32768, 50000, 65535])
def test_srgb_codes_meet_an_independent_library(code: int) -> None:
    # colour-science: sRGB decoding of IEC 61966-2-1 and CIE 1976 L*.
    light = colour.models.eotf_sRGB(code / 65535)
    lightness = float(colour.colorimetry.lightness_CIE1976(100 * light))
    wanted = 65535 * (1 - lightness / 100)
    assert abs(float(code_map(SRGB_GREY, STRAIGHT)[code]) - wanted) <= 0.5 + 1e-6


@pytest.mark.parametrize("name", sorted(GREY_ENCODINGS))
@pytest.mark.parametrize("bits", [8, 16])
def test_map_never_rises_and_is_right_to_half_a_code(name: str, bits: int) -> None:
    encoding, table = GREY_ENCODINGS[name], print_table()
    codes = code_map(encoding, table, bits)  # type: ignore[arg-type]  # 8 or 16
    assert codes.dtype == np.uint16
    assert (np.diff(codes.astype(int)) <= 0).all()
    level = np.linspace(0, 1, 2**bits)[:, np.newaxis]
    exact = 65535 * table.negative_level(image_tone(encoding, level))
    assert np.abs(codes - exact).max() <= 0.5 + 1e-9


@given(
    st.floats(0.3, 4),
    st.lists(st.floats(0.001, 1), min_size=3, max_size=20),
)
def test_map_never_rises_for_any_gamma_and_table(
    gamma: float, steps: list[float]
) -> None:
    falls = np.cumsum(steps) / sum(steps)
    table = LookupTable(
        tone_nodes=np.linspace(0, 1, len(steps)), level_nodes=1 - 0.99 * falls
    )
    codes = code_map(grey_encoding(gamma), table, 8)
    assert (np.diff(codes.astype(int)) <= 0).all()


def test_codes_are_clipped_and_rounded_half_to_even() -> None:
    level = np.array([-0.1, 0.5 / 65535, 1.5 / 65535, 2.5 / 65535, 1.1])
    np.testing.assert_array_equal(rounded_codes(level), [0, 0, 2, 2, 65535])


def test_weights_pass_light_as_a_filter_does() -> None:
    red = weighted(SRGB, (2.0, 0.0, 0.0))
    level = np.array([[0.5, 0.1, 0.9], [1.0, 1.0, 1.0], [0.0, 1.0, 1.0]])
    light = red.luminance(level)
    wanted = [float(colour.models.eotf_sRGB(0.5)), 1.0, 0.0]
    np.testing.assert_allclose(light, wanted, atol=1e-9)


@pytest.mark.parametrize("weights", [(0.0, 0.0, 0.0), (1.0, -0.1, 0.2)])
def test_weights_that_weigh_nothing_are_refused(
    weights: tuple[float, float, float],
) -> None:
    with pytest.raises(InvalidValueError, match="cannot weigh the channels"):
        weighted(SRGB, weights)


@dataclass(frozen=True)
class Mixed:
    """An encoding whose channels do not add up, as a table profile's do not."""

    name: str = "mixed"
    channels: int = 3

    def luminance(self, level: FloatArray) -> FloatArray:
        return level.mean(axis=-1) ** 2


def test_weights_need_separate_channels() -> None:
    with pytest.raises(InvalidValueError, match="no separate red, green and blue"):
        weighted(Mixed(), (1.0, 1.0, 1.0))


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16, np.float32])
@pytest.mark.parametrize("encoding", [SRGB, Mixed()])
def test_light_is_the_root_of_luminance(encoding: CurveEncoding, dtype: type) -> None:
    rng = np.random.default_rng(4)
    level = rng.random((20, 30, 3))
    level[0], level[1] = 0, 1
    largest = 1 if dtype is np.float32 else np.iinfo(dtype).max
    block = (level * largest).astype(dtype)
    wanted = np.sqrt(encoding.luminance(block.astype(np.float64) / largest))
    light = Light(encoding, dtype).reader().of(block)
    np.testing.assert_allclose(light, wanted, atol=2e-7)


def test_black_of_a_print_profile_is_scaled_to_black() -> None:
    # Black at Y 0.02, above L* 1: white stays, black becomes 0.
    raised = CurveEncoding(
        name="print", curves=(lambda level: 0.02 + 0.98 * level**2.2,)
    )
    codes = code_map(raised, STRAIGHT, 16)
    np.testing.assert_array_equal(codes, code_map(grey_encoding(2.2), STRAIGHT, 16))
    kept = code_map(raised, STRAIGHT, 16, scale_black=False)
    assert kept[0] < 65535
    block = np.array([[[0], [65535]]], dtype=np.uint16)
    np.testing.assert_allclose(
        Light(raised, np.uint16).reader().of(block), [[0, 1]], atol=1e-7
    )
