import io

import colour
import numpy as np
import pytest
from numpy.testing import assert_allclose
from PIL import Image, ImageCms

from negcurve.density import lightness_from_reflectance
from negcurve.simulation.profile import (
    D50_WHITE,
    SRGB_TO_XYZ_D50,
    WIDE_TO_XYZ_D50,
    encode,
    input_profile,
)


def test_matrix_is_srgb_adapted_to_d50():
    # Reference: colour-science, sRGB primaries through its Bradford adaptation.
    space = colour.RGB_COLOURSPACES["sRGB"]
    d65 = colour.xy_to_XYZ(space.whitepoint)
    bradford = colour.adaptation.matrix_chromatic_adaptation_VonKries(
        d65, np.array(D50_WHITE), transform="Bradford"
    )
    expected = bradford @ colour.normalised_primary_matrix(
        space.primaries, space.whitepoint
    )
    # The published D50 white and the primaries are rounded to four digits.
    assert_allclose(SRGB_TO_XYZ_D50, expected, atol=3e-4)


@pytest.mark.parametrize("matrix", [SRGB_TO_XYZ_D50, WIDE_TO_XYZ_D50])
def test_white_of_a_scanner_is_the_connection_white(matrix):
    # The published sRGB matrix rests on a D50 of Z 0.82521, the profiles' is 0.8249.
    assert_allclose(np.sum(matrix, axis=1), D50_WHITE, atol=4e-4)


def test_srgb_curve_agrees_with_a_colour_library():
    light = np.linspace(0, 1, 101)
    assert_allclose(encode(light, None), colour.eotf_inverse(light, "sRGB"), atol=2e-7)


@pytest.mark.parametrize("gamma", [None, 1.0, 1.80078125, 2.19921875])
@pytest.mark.parametrize("matrix", [None, SRGB_TO_XYZ_D50, WIDE_TO_XYZ_D50])
def test_littlecms_reads_the_light_back(gamma, matrix):
    # Reference: LittleCMS through Pillow, neutral codes to L* of the Lab space.
    profile = ImageCms.ImageCmsProfile(
        io.BytesIO(input_profile("Test scanner", gamma=gamma, matrix=matrix))
    )
    assert ImageCms.getProfileDescription(profile).strip() == "Test scanner"
    light = np.linspace(0.0, 1.0, 21)
    codes = np.rint(encode(light, gamma) * 255).astype(np.uint8)
    mode = "L" if matrix is None else "RGB"
    picture = Image.fromarray(codes[None, :]).convert(mode)
    transform = ImageCms.buildTransform(
        profile, ImageCms.createProfile("LAB"), mode, "LAB", renderingIntent=1
    )
    lab = np.asarray(ImageCms.applyTransform(picture, transform))
    # 8-bit Lab holds L* in steps of 100 / 255; 8-bit codes coarsen linear darks.
    exact = _decoded(codes / 255, gamma)
    expected = lightness_from_reflectance(exact) * 2.55
    assert_allclose(lab[0, :, 0], expected, atol=1.1)


def _decoded(level, gamma):
    return colour.eotf(level, "sRGB") if gamma is None else level**gamma
