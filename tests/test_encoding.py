"""Encodings against IEC 61966-2-1, published values and colour-science."""

import colour
import numpy as np
import pytest

from negcurve.encoding import (
    GREY_ENCODINGS,
    LINEAR,
    LINEAR_GREY,
    SRGB,
    SRGB_GREY,
    SRGB_WEIGHTS,
    CurveEncoding,
    black_is_scaled,
    black_luminance,
    gamma_to_linear,
    grey_encoding,
    image_tone,
    luminance_weights,
    rgb_encoding,
    srgb_to_linear,
)
from negcurve.errors import InvalidValueError

LEVELS = np.linspace(0, 1, 256)


def test_srgb_curve_against_colour_science():
    expected = colour.models.eotf_sRGB(LEVELS)
    np.testing.assert_allclose(srgb_to_linear(LEVELS), expected, rtol=0, atol=1e-15)


@pytest.mark.parametrize(
    ("code", "expected", "tolerance"),
    [
        # IEC 61966-2-1:1999, 5.2, worked by hand from its two formulas.
        (0, 0.0, 0),
        (10, 10 / 255 / 12.92, 1e-15),  # last code on the straight part
        (11, ((11 / 255 + 0.055) / 1.055) ** 2.4, 1e-15),
        (255, 1.0, 1e-15),
        # The common middle: code 188 is half the light to two digits (0.5029).
        (188, 0.503, 0.0005),
    ],
)
def test_srgb_codes(code, expected, tolerance):
    found = SRGB_GREY.luminance(np.array([[code / 255]]))
    np.testing.assert_allclose(found, [expected], rtol=0, atol=tolerance)


def test_the_two_pieces_of_srgb_meet():
    ends = srgb_to_linear(np.array([0.04045, np.nextafter(0.04045, 1)]))
    assert abs(np.diff(ends)[0]) < 3e-8  # the standard's own rounding


def test_srgb_weights_are_those_of_the_profile():
    # Published: Y of the D50-adapted primaries in the sRGB v2 profile (HP/Microsoft
    # 1998), stored with 16 bits of fraction: 0.2225, 0.7169, 0.0606. From memory.
    np.testing.assert_allclose(SRGB_WEIGHTS, [0.2225, 0.7169, 0.0606], atol=5e-5)
    assert sum(SRGB_WEIGHTS) == pytest.approx(1, abs=1e-12)


@pytest.mark.parametrize("name", ["sRGB", "Adobe RGB (1998)", "ProPhoto RGB"])
def test_weights_against_colour_science(name):
    space = colour.RGB_COLOURSPACES[name]
    # colour-science's D50 differs from the profile connection space in the fifth digit.
    adapted = colour.adaptation.matrix_chromatic_adaptation_VonKries(
        colour.xy_to_XYZ(space.whitepoint),
        np.array([0.9642, 1.0, 0.8249]),
        transform="Bradford",
    )
    to_xyz = colour.normalised_primary_matrix(space.primaries, space.whitepoint)
    expected = (adapted @ to_xyz)[1]
    primaries = [(float(x), float(y)) for x, y in space.primaries]
    white = (float(space.whitepoint[0]), float(space.whitepoint[1]))
    found = luminance_weights(primaries, white)
    np.testing.assert_allclose(found, expected, rtol=0, atol=1e-12)


def test_luminance_of_colours():
    levels = np.random.default_rng(3).random((100, 3))
    expected = colour.models.eotf_sRGB(levels) @ np.array(SRGB_WEIGHTS)
    np.testing.assert_allclose(SRGB.luminance(levels), expected, atol=1e-14)


def test_equal_channels_are_grey():
    three = np.repeat(LEVELS[:, np.newaxis], 3, axis=1)
    np.testing.assert_allclose(
        SRGB.luminance(three), SRGB_GREY.luminance(LEVELS[:, np.newaxis]), atol=1e-14
    )
    np.testing.assert_allclose(
        SRGB.luminance(LEVELS[:, np.newaxis]), SRGB.luminance(three), atol=1e-14
    )


@pytest.mark.parametrize("gamma", [1.0, 1.8, 2.2, 2.4])
def test_gamma(gamma):
    levels = LEVELS[:, np.newaxis]
    expected = LEVELS**gamma
    np.testing.assert_allclose(grey_encoding(gamma).luminance(levels), expected)
    np.testing.assert_allclose(rgb_encoding(gamma).luminance(levels), expected)


@pytest.mark.parametrize("gamma", [0, -1, 7, float("nan")])
def test_gamma_out_of_range(gamma):
    with pytest.raises(InvalidValueError) as caught:
        gamma_to_linear(gamma)
    assert str(caught.value) == (
        f"gamma: {gamma:g} lies outside 0.2..5\n"
        "Linear scans have gamma 1, most others 1.8 or 2.2."
    )


@pytest.mark.parametrize("encoding", [SRGB, SRGB_GREY, LINEAR, LINEAR_GREY])
def test_ends_and_order(encoding):
    levels = np.repeat(LEVELS[:, np.newaxis], encoding.channels, axis=1)
    light = encoding.luminance(levels)
    np.testing.assert_allclose(light[[0, -1]], [0, 1], atol=1e-12)
    assert (np.diff(light) > 0).all()


def test_levels_outside_are_clipped():
    found = SRGB_GREY.luminance(np.array([[-0.2], [1.3]]))
    np.testing.assert_allclose(found, [0, 1])


def test_wrong_channels_are_refused():
    with pytest.raises(InvalidValueError, match="takes 3 channels"):
        SRGB.luminance(np.zeros((4, 2)))
    with pytest.raises(InvalidValueError, match="takes 1 channels"):
        SRGB_GREY.luminance(np.zeros((4, 3)))
    with pytest.raises(InvalidValueError, match="one of each for grey or three"):
        CurveEncoding(name="odd", curves=(srgb_to_linear,), weights=(0.5, 0.5))


def test_image_tone_of_a_lightness_encoding_is_the_level():
    found = image_tone(GREY_ENCODINGS["lightness"], LEVELS[:, np.newaxis])
    np.testing.assert_allclose(found, LEVELS, atol=1e-14)


def test_image_tone_against_colour_science():
    xyz = colour.models.eotf_sRGB(LEVELS)[:, np.newaxis] * np.array(
        [0.9642, 1.0, 0.8249]
    )
    lab = colour.XYZ_to_Lab(xyz, illuminant=colour.XYZ_to_xy([0.9642, 1.0, 0.8249]))
    found = image_tone(SRGB_GREY, LEVELS[:, np.newaxis])
    np.testing.assert_allclose(100 * found, lab[:, 0], atol=1e-10)


def test_image_tone_keeps_shape():
    levels = np.random.default_rng(2).random((5, 7, 3))
    assert image_tone(SRGB, levels).shape == (5, 7)


def lifted(black):
    return CurveEncoding(
        name="lifted", curves=(lambda level: black + (1 - black) * level,)
    )


@pytest.mark.parametrize(
    ("black", "scaled"),
    # L* 1 is Y = 27 / 24389 (CIE 15:2004, 8.2.1.1).
    [(0.0, False), (1.0 * 27 / 24389, False), (1.01 * 27 / 24389, True), (0.02, True)],
)
def test_a_black_above_lightness_one_is_scaled(black, scaled):
    encoding = lifted(black)
    assert black_luminance(encoding) == pytest.approx(black, abs=1e-15)
    assert black_is_scaled(encoding) == scaled
    tones = image_tone(encoding, LEVELS[:, np.newaxis])
    assert tones[-1] == pytest.approx(1)
    assert (tones[0] == 0) == (scaled or black == 0)
    assert (np.diff(tones) > 0).all()
    if scaled:  # scaled straight in light: the lift is gone altogether
        expected = image_tone(LINEAR_GREY, LEVELS[:, np.newaxis])
        np.testing.assert_allclose(tones, expected, atol=1e-10)
