"""Colours on the screen against colour-science; L* is the one of the density."""

import colour
import numpy as np
import pytest

from negcurve.density import lightness_from_density
from negcurve.errors import InvalidValueError
from negcurve.negative.display import (
    linear_srgb_from_lab,
    linear_srgb_from_xyz,
    print_colours,
    srgb_codes,
)

D50 = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"]


def test_matrix_meets_published_values() -> None:
    # ICC, sRGB v4 profiles: D50 columns of the sRGB primaries, inverted. The forward
    # matrix as printed in the header of the ICC's sRGB profile (from memory).
    forward = [
        [0.43607, 0.38515, 0.14307],
        [0.22249, 0.71687, 0.06061],
        [0.01392, 0.09708, 0.71410],
    ]
    product = linear_srgb_from_xyz() @ np.array(forward)
    np.testing.assert_allclose(product, np.eye(3), atol=4e-4)


@pytest.mark.parametrize(
    "lab", [(95, 0, 2), (60, 8, 16), (40, -9, -20), (20, 4, -26), (5, 1, 1)]
)
def test_lab_to_srgb_meets_colour_science(lab: tuple[float, float, float]) -> None:
    xyz = colour.Lab_to_XYZ(lab, D50)
    wanted = colour.XYZ_to_sRGB(
        xyz, illuminant=D50, chromatic_adaptation_transform="Bradford"
    )
    lightness, a, b = (np.array([each], dtype=float) for each in lab)
    codes = srgb_codes(linear_srgb_from_lab(lightness, a, b))[0]
    np.testing.assert_allclose(codes, 255 * np.clip(wanted, 0, 1), atol=0.75)


@pytest.mark.parametrize("name", ["neutral", "warm", "blue"])
def test_lightness_is_that_of_the_density(name: str) -> None:
    density = np.linspace(0.06, 1.6, 200)
    codes = print_colours(density, (0.06, 1.6), name)  # type: ignore[arg-type]
    xyz = colour.sRGB_to_XYZ(
        codes / 255, illuminant=D50, chromatic_adaptation_transform="Bradford"
    )
    shown = colour.XYZ_to_Lab(xyz, D50)
    np.testing.assert_allclose(shown[:, 0], lightness_from_density(density), atol=0.5)


def test_colours_differ_as_their_names_say() -> None:
    density = np.array([0.8])
    warm = print_colours(density, (0.1, 1.5), "warm")[0].astype(int)
    blue = print_colours(density, (0.1, 1.5), "blue")[0].astype(int)
    neutral = print_colours(density, (0.1, 1.5), "neutral")[0].astype(int)
    assert warm[0] > warm[2] + 20
    assert blue[2] > blue[0] + 20
    assert np.ptp(neutral) <= 4


def test_another_colour_is_refused() -> None:
    with pytest.raises(InvalidValueError, match="Use neutral, warm, blue"):
        print_colours(np.array([1.0]), (0.0, 2.0), "green")  # type: ignore[arg-type]
