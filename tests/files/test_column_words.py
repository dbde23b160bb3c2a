"""Names of columns as instruments, programs and people write them."""

import numpy as np
import pytest

from negcurve.files.column_words import Meaning, meaning, wavelength


def said(name, among=()):
    """The meaning of a name as it stands in a file."""
    return meaning("_".join(name.lower().replace("-", " ").split()), among)


@pytest.mark.parametrize(
    "name",
    [
        *("L*", "L *", "L", "Lab L", "LAB_L", "Lab L*", "CIE L*", "CIELAB L", "cieL"),
        *("LCH_L", "Lightness", "lstar", "L_star", "L* (D50)", "L*(D50/2)", "mean L*"),
    ],
)
def test_lightness(name):
    assert said(name) == Meaning(scale="lightness")


@pytest.mark.parametrize(
    ("name", "percent"),
    [
        *((name, None) for name in ("XYZ_Y", "Y", "XYY_CAPY", "CIE Y", "Y (D50)")),
        *((name, None) for name in ("Luminance factor", "Reflectance", "R")),
        *((name, True) for name in ("R%", "R (%)", "Reflectance [%]", "% R", "Y%")),
    ],
)
def test_shares_of_light(name, percent):
    assert said(name) == Meaning(scale="factor", percent=percent)


@pytest.mark.parametrize(
    ("kind", "names"),
    [
        ("visual", "D_VIS|Dvis|DV|D-V|Density V|Density (visual)|visual density"),
        ("visual", "Visual|Vis|ISO visual|Status A visual|D_K|Visual [D]"),
        ("red", "D_RED|Dr|D_R|Density red|red density|Status T red|StatusT_R|D cyan"),
        ("green", "D_GREEN|dg|Density G|Status M Green|Magenta density"),
        ("blue", "D_BLUE|db|Density B|Status A B|D_Y|Yellow density"),
        ("luminance", "luminance density"),
    ],
)
def test_densities_of_a_channel(kind, names):
    for name in names.split("|"):
        assert said(name) == Meaning(scale="density", kind=kind), name


@pytest.mark.parametrize(
    "name",
    [
        "Density",
        "D",
        "OD",
        "density [D]",
        "Optical density",
        "Density (M0)",
        "Abs. density",
    ],
)
def test_densities_of_no_said_kind(name):
    assert said(name) == Meaning(scale="density", named=False)


@pytest.mark.parametrize(
    "name",
    [
        *("patch", "negative_level", "image_tone", "standard_error", "x_mm", "y_mm"),
        *("tablet_density", "flags", "ink", "repeat", "step", "sample id", "LAB_A"),
        *("LAB_B", "XYZ_X", "XYZ_Z", "RGB_R", "CMYK_Y", "STDEV_L", "D_MAJOR_FILTER"),
        *("Red", "V", "C", "D 2", "density error", "L* of what", "remark", "%", ""),
    ],
)
def test_what_is_no_quantity_of_a_print(name):
    assert said(name) is None


def test_coordinates_and_channels_are_told_from_quantities():
    assert said("r", ("r", "g", "b")) is None
    assert said("y", ("c", "m", "y", "k")) is None
    for letter in "vcmy":
        assert said(letter, ("v", "c", "m", "y")).scale == "density"
    assert said("y", ("x", "y", "density")) is None
    assert said("y", ("x", "y", "z")) == Meaning(scale="factor")


@pytest.mark.parametrize(
    ("name", "percent"),
    [
        *((name, None) for name in ("380", "380.0", "380nm", "380_nm", "nm380")),
        *((name, None) for name in ("spectral_nm380", "nm_380", "spectral_380")),
        *((name, None) for name in ("r_380", "r380", "r(380)", "r[380_nm]", "λ380")),
        *((name, None) for name in ("spec_380", "refl_380", "spectral_nm_380")),
        *(
            (name, True)
            for name in ("spectral_pct_380", "r%_380", "r_%_380nm", "380nm_[%]")
        ),
        *((name, False) for name in ("spectral_dec380", "spectral_dec_380")),
    ],
)
def test_bands_of_spectra(name, percent):
    assert wavelength(name) == (380.0, percent)


@pytest.mark.parametrize(
    "name", ["d_380", "patch_380", "r38", "rgb_400", "s1_380", "x"]
)
def test_what_is_no_band(name):
    assert wavelength(name) is None


def test_infrared_bands_are_known():
    found = [wavelength(f"r_{nm}") for nm in range(300, 1110, 100)]
    np.testing.assert_array_equal([each[0] for each in found], range(300, 1110, 100))
