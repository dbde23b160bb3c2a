"""Spectra against published tables and colour-science."""

import warnings

import numpy as np
import pytest

from negcurve.density import lightness_from_density
from negcurve.errors import InvalidValueError
from negcurve.spectra import (
    ILLUMINANT_D50,
    STANDARD_OBSERVER,
    WAVELENGTHS_NM,
    spectral_density,
    weights,
)

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import colour

TEN = np.arange(380.0, 731.0, 10.0)

FORMULAS = {
    "flat 0.18": lambda nm: np.full_like(nm, 0.18),
    "flat 0.01": lambda nm: np.full_like(nm, 0.01),
    "ramp": lambda nm: 0.05 + 0.90 * (nm - 380) / 400,
    "warm black": lambda nm: 10 ** -(1.40 - 0.0015 * (nm - 550)),
    "warm mid-tone": lambda nm: 10 ** -(0.60 - 0.0010 * (nm - 550)),
    "blue dark": lambda nm: 10 ** -(0.25 + 1.45 * np.exp(-(((nm - 690) / 140) ** 2))),
    "blue mid": lambda nm: 10 ** -(0.10 + 0.50 * np.exp(-(((nm - 690) / 140) ** 2))),
    "white": lambda nm: 0.88 - 0.10 * np.exp(-(nm - 380) / 60),
}

# Source: colour-science 0.4.7, 1 nm: -log10 Y of CIE A x V (visual) and of D50, L*.
# Tolerances: what 10 nm tables may differ by, ISO 5-3 products against A x V.
DENSITIES = [
    ("flat 0.18", 0.744727, 0.744727, 49.496),
    ("flat 0.01", 2.0, 2.0, 8.991),
    ("ramp", 0.316485, 0.341094, 73.281),
    ("warm black", 1.362336, 1.379940, 24.223),
    ("warm mid-tone", 0.575852, 0.587615, 57.890),
    ("blue dark", 0.879393, 0.799375, 46.806),
    ("blue mid", 0.339337, 0.309851, 75.448),
    ("white", 0.058041, 0.058609, 94.898),
]


@pytest.mark.parametrize(("name", "visual", "luminance", "lightness"), DENSITIES)
@pytest.mark.parametrize("step", [1, 5, 10, 20])
def test_spectra_give_the_published_densities(name, visual, luminance, lightness, step):
    nm = np.arange(380.0, 741.0, step)
    light = FORMULAS[name](nm)[None, :]
    assert spectral_density(nm, light, "visual")[0] == pytest.approx(visual, abs=3e-4)
    density = spectral_density(nm, light, "luminance")[0]
    assert density == pytest.approx(luminance, abs=2e-4)
    assert lightness_from_density(density) == pytest.approx(lightness, abs=0.02)


def test_measured_grey_patches():
    """Six grey patches shipped with colour-science, -log10 Y computed by it at 1 nm."""
    patches = colour.SDS_COLOURCHECKERS["BabelColor Average"]
    expected = {
        "white 9.5 (.05 D)": (0.0390, 0.0396),
        "neutral 8 (.23 D)": (0.2308, 0.2303),
        "neutral 6.5 (.44 D)": (0.4449, 0.4444),
        "neutral 5 (.70 D)": (0.7196, 0.7186),
        "neutral 3.5 (1.05 D)": (1.0501, 1.0487),
        "black 2 (1.5 D)": (1.4948, 1.4948),
    }
    for name, (visual, luminance) in expected.items():
        spectrum = patches[name]
        light = np.array([spectrum.values])
        nm = np.asarray(spectrum.wavelengths)
        assert spectral_density(nm, light, "visual")[0] == pytest.approx(
            visual, abs=3e-4
        )
        assert spectral_density(nm, light, "luminance")[0] == pytest.approx(
            luminance, abs=3e-4
        )


def test_the_tables_are_those_of_the_standards():
    """Retyped CIE tables against colour-science's, to the digits printed."""
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    nm = np.arange(380.0, 751.0, 10.0)
    np.testing.assert_allclose(STANDARD_OBSERVER, observer[nm][:, 1], atol=5e-6)
    light = colour.SDS_ILLUMINANTS["D50"]
    np.testing.assert_allclose(ILLUMINANT_D50, light[nm], atol=5e-3)


def test_visual_products_are_illuminant_a_times_the_observer():
    """ISO 5-3 builds them so: an independent relation of two published tables."""
    light = colour.SDS_ILLUMINANTS["A"][TEN]
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"][TEN][:, 1]
    products = light * observer
    inner = (TEN >= 420) & (TEN <= 720)
    ratio = weights("visual")[inner] / (products / products.sum())[inner]
    np.testing.assert_allclose(ratio, 1, atol=0.006)


@pytest.mark.parametrize("kind", ["luminance", "visual"])
def test_a_flat_spectrum_keeps_its_value(kind):
    assert weights(kind).sum() == pytest.approx(1)
    light = np.full((1, len(WAVELENGTHS_NM)), 0.25)
    assert spectral_density(TEN, light, kind)[0] == pytest.approx(-np.log10(0.25))


@pytest.mark.parametrize(
    ("nm", "said"),
    [
        (np.arange(420.0, 701.0, 10), "reach from 420 to 700 nm"),
        (np.arange(380.0, 741.0, 40), "leave a gap of 40 nm"),
        (np.arange(730.0, 379.0, -10), "must rise"),
    ],
)
def test_spectra_that_do_not_suffice_are_refused(nm, said):
    with pytest.raises(InvalidValueError, match=said):
        spectral_density(nm, np.full((1, len(nm)), 0.5), "luminance")
