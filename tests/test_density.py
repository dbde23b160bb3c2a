"""Densities and lightness against published tables and colour-science."""

import colour
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from negcurve.density import (
    CIE_EPSILON,
    CIE_KAPPA,
    density_from_lightness,
    density_from_reflectance,
    lightness_from_density,
    lightness_from_reflectance,
    lightness_slope,
    reflectance_from_density,
    reflectance_from_lightness,
)
from negcurve.errors import InvalidValueError

PRINTED_DENSITIES = [
    # (factor, density, tolerance, source); half a unit of the last printed digit
    (0.5, 0.3, 0.05, "US Navy NAVEDTRA 14208 (1995), ch. 2: 5 of 10 units pass"),
    (1, 0, 0.005, "Radiography in Modern Industry (Eastman Kodak), table p. 65"),
    (0.5, 0.30, 0.005, "as above"),
    (0.25, 0.60, 0.005, "as above"),
    (0.1, 1.0, 0.005, "as above"),
    (0.01, 2.0, 0.005, "as above"),
    (0.001, 3.0, 0.005, "as above"),
    (0.0001, 4.0, 0.005, "as above"),
    (1 / 5, 0.70, 0.005, "as above, p. 70: log 5 = 0.70"),
    (1 / 30, 1.48, 0.005, "as above, p. 70: log 30 = 1.48"),
    (1 / 150, 2.18, 0.005, "as above, p. 70: log 150 = 2.18"),
]


@pytest.mark.parametrize(
    ("factor", "expected", "tolerance", "source"), PRINTED_DENSITIES
)
def test_published_densities(factor, expected, tolerance, source):
    np.testing.assert_allclose(
        density_from_reflectance(factor), expected, rtol=0, atol=tolerance
    )
    np.testing.assert_allclose(
        reflectance_from_density(-np.log10(factor)), factor, rtol=1e-14
    )


# L* of a neutral of density D. Source: CIE 15:2004, section 8.2.1.1, worked in decimals
# of 40 digits; the last printed digit is the tenth.
LIGHTNESS_OF_DENSITY = [
    (0.00, 100.0),
    (0.05, 95.6326726622),
    (0.10, 91.4297724629),
    (0.15, 87.3851088235),
    (0.20, 83.4927242365),
    (0.30, 76.1420752280),
    (0.40, 69.3345015173),
    (0.50, 63.0298800107),
]

# Density of a neutral of lightness L*; same source. 8 is where the pieces meet.
DENSITY_OF_LIGHTNESS = [
    (1, 2.9558302295),
    (2, 2.6548002339),
    (5, 2.2568602252),
    (8, 2.0527402425),
    (10, 1.9484539238),
    (15, 1.7192888862),
]


@pytest.mark.parametrize(("density", "lightness"), LIGHTNESS_OF_DENSITY)
def test_lightness_of_density(density, lightness):
    np.testing.assert_allclose(lightness_from_density(density), lightness, atol=5e-11)
    np.testing.assert_allclose(density_from_lightness(lightness), density, atol=1e-11)


@pytest.mark.parametrize(("lightness", "density"), DENSITY_OF_LIGHTNESS)
def test_density_of_lightness(lightness, density):
    np.testing.assert_allclose(density_from_lightness(lightness), density, atol=5e-11)


def test_lightness_against_colour_science():
    factor = np.concatenate([[0], np.logspace(-5, 0, 200)])
    expected = colour.colorimetry.lightness_CIE1976(100 * factor, 100)
    np.testing.assert_allclose(
        lightness_from_reflectance(factor), expected, rtol=0, atol=1e-12
    )
    lightness = np.linspace(0, 100, 201)
    expected = colour.colorimetry.luminance_CIE1976(lightness, 100) / 100
    np.testing.assert_allclose(
        reflectance_from_lightness(lightness), expected, rtol=0, atol=1e-15
    )


def test_constants_of_lightness_fit_each_other():
    # CIE 15:2004: the exact ratios, so that value and slope of both pieces meet.
    assert pytest.approx((6 / 29) ** 3) == CIE_EPSILON
    assert pytest.approx((29 / 3) ** 3) == CIE_KAPPA
    assert pytest.approx(8, abs=1e-12) == CIE_KAPPA * CIE_EPSILON
    assert pytest.approx(CIE_KAPPA) == 116 / 3 * CIE_EPSILON ** (-2 / 3)


@given(st.floats(0, 4.5))
def test_density_and_reflectance_round_trip(density):
    found = density_from_reflectance(reflectance_from_density(density))
    assert found == pytest.approx(density, abs=1e-12)


@given(st.floats(1e-6, 110))
def test_lightness_round_trips(lightness):
    assert lightness_from_reflectance(
        reflectance_from_lightness(lightness)
    ) == pytest.approx(lightness, rel=1e-12)
    assert lightness_from_density(density_from_lightness(lightness)) == pytest.approx(
        lightness, rel=1e-11
    )


@given(st.floats(0, 4))
def test_slope_is_the_derivative(density):
    step = 1e-5
    ends = lightness_from_density(np.array([density - step, density + step]))
    measured = (ends[1] - ends[0]) / (2 * step)
    # Second differences of L* reach 25 per D squared: 25 * step on either side.
    assert lightness_slope(density) == pytest.approx(measured, rel=1e-5, abs=3e-4)


def test_slopes_rounded_as_printed():
    # dL* per 0.01 D at D 0, 0.1, 0.2, 0.3, worked from the CIE formula to three digits.
    np.testing.assert_allclose(
        0.01 * lightness_slope([0, 0.1, 0.2, 0.3]),
        [-0.890, -0.825, -0.764, -0.707],
        atol=0.0005,
    )


def test_order():
    density = np.linspace(0, 4, 1000)
    assert (np.diff(lightness_from_density(density)) < 0).all()
    assert (lightness_slope(density) < 0).all()


@pytest.mark.parametrize("shape", [(), (3,), (2, 3), (2, 3, 4)])
def test_shapes_are_kept(shape):
    values = np.full(shape, 0.5)
    for convert in (
        density_from_reflectance,
        reflectance_from_density,
        lightness_from_reflectance,
        reflectance_from_lightness,
        lightness_from_density,
        density_from_lightness,
        lightness_slope,
    ):
        assert np.shape(convert(values)) == shape


@pytest.mark.parametrize("bad", [0, -0.1, [0.5, 0], float("nan")])
def test_no_density_without_light(bad):
    with pytest.raises(InvalidValueError) as caught:
        density_from_reflectance(bad)
    assert str(caught.value) == "reflectance: must be above 0 to have a density"
    assert caught.value.exit_code == 2


@pytest.mark.parametrize(
    ("convert", "where"),
    [
        (lightness_from_reflectance, "reflectance"),
        (reflectance_from_lightness, "lightness"),
    ],
)
@pytest.mark.parametrize("bad", [-0.1, [0.5, -1], float("nan")])
def test_negative_light_is_refused(convert, where, bad):
    with pytest.raises(InvalidValueError) as caught:
        convert(bad)
    assert str(caught.value) == f"{where}: must not be negative"


def test_lightness_zero_has_no_density():
    with pytest.raises(InvalidValueError, match="above 0"):
        density_from_lightness(0)
