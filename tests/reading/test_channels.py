"""Channels of a scan read one by one, against the curves they are made of."""

import numpy as np
import pytest

from negcurve.encoding import (
    LIGHTNESS_GREY,
    SRGB,
    SRGB_GREY,
    CurveEncoding,
    gamma_to_linear,
    rgb_encoding,
    srgb_to_linear,
)
from negcurve.errors import InvalidValueError
from negcurve.reading.channels import (
    CHANNELS,
    channel_finding,
    channel_weights,
    curves_encoding,
    grey_light,
    one_channel,
)
from negcurve.values import FloatArray

UNEQUAL = CurveEncoding(
    name="unequal",
    curves=(gamma_to_linear(1.0), gamma_to_linear(1.8), srgb_to_linear),
    weights=(0.25, 0.7, 0.05),
)


class OpaqueEncoding:
    """An encoding without curves, with a black that is not 0, as of a LUT profile."""

    name = "opaque"
    channels = 3

    def luminance(self, level: FloatArray) -> FloatArray:
        return np.asarray(0.01 + 0.99 * UNEQUAL.luminance(level))


@pytest.mark.parametrize("place", [0, 1, 2])
def test_one_channel_sees_its_own_curve_only(place: int) -> None:
    levels = np.random.default_rng(4).random((200, 3))
    seen = one_channel(UNEQUAL, CHANNELS[place]).luminance(levels)
    np.testing.assert_allclose(seen, UNEQUAL.curves[place](levels[:, place]), atol=2e-7)


def test_one_channel_of_srgb_at_published_levels() -> None:
    # IEC 61966-2-1:1999, 5.2: level 0.5 stands for ((0.5 + 0.055) / 1.055)^2.4.
    red = one_channel(SRGB, "red").luminance(np.array([[0.5, 0.1, 0.9]]))
    np.testing.assert_allclose(red, [0.21404114], atol=1e-7)


def test_one_channel_of_any_encoding_is_exact_for_neutrals() -> None:
    greys = np.repeat(np.linspace(0, 1, 37)[:, np.newaxis], 3, 1)
    for channel in CHANNELS:
        np.testing.assert_allclose(
            one_channel(OpaqueEncoding(), channel).luminance(greys),
            OpaqueEncoding().luminance(greys),
            atol=2e-7,
        )


def test_a_channel_without_a_curve_of_its_own_is_told() -> None:
    (told,) = channel_finding(OpaqueEncoding(), where="scan.tif")
    assert str(told) == (
        "note: scan.tif: its profile mixes the channels, so one channel is read on the "
        "curve that neutrals have"
    )
    assert channel_finding(UNEQUAL, where="scan.tif") == ()


@pytest.mark.parametrize("encoding", [UNEQUAL, OpaqueEncoding()])
def test_weights_are_the_shares_of_luminance(encoding: CurveEncoding) -> None:
    np.testing.assert_allclose(channel_weights(encoding), (0.25, 0.7, 0.05))


def test_grey_has_one_weight_and_its_own_light() -> None:
    assert channel_weights(SRGB_GREY) == (1.0,)
    light = grey_light(LIGHTNESS_GREY)
    # CIE 15:2004, 8.2.1: L* 50 is Y = ((50 + 16) / 116)^3.
    middle = np.interp(0.5, np.linspace(0, 1, len(light)), light)
    np.testing.assert_allclose(middle, (66 / 116) ** 3, atol=1e-7)


def test_curves_and_weights_rebuild_an_encoding() -> None:
    encoding = rgb_encoding(2.2)
    rebuilt = curves_encoding(
        "again", [grey_light(encoding)] * 3, channel_weights(encoding)
    )
    levels = np.random.default_rng(5).random((6, 4, 3))
    np.testing.assert_allclose(
        rebuilt.luminance(levels), encoding.luminance(levels), atol=2e-7
    )


def test_channels_that_are_not_there_are_refused() -> None:
    with pytest.raises(InvalidValueError, match="has no red channel, it is grey"):
        one_channel(SRGB_GREY, "red")
    with pytest.raises(InvalidValueError, match=r"'cyan' is not known.*\n?.*Use red"):
        one_channel(SRGB, "cyan")
