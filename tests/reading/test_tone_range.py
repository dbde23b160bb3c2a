from dataclasses import replace

import numpy as np
import pytest

from negcurve.encoding import LINEAR_GREY, SRGB_GREY, srgb_to_linear
from negcurve.errors import ReadingsError
from negcurve.reading.code_use import CodeUse
from negcurve.reading.tone_range import check_clipping, density_findings
from tests.reading.prints import ArraySource, patch_value

SCAN = ArraySource(np.zeros((10, 10, 1), dtype=np.uint16), resolution_ppi=(300, 300))


def test_a_few_clipped_patches_are_warned_about_many_are_refused():
    good = [patch_value()] * 30
    assert check_clipping(good, SCAN) == []
    some = [*good[:-2], patch_value(clipped_low=0.5), patch_value(clipped_low=0.03)]
    (found,) = check_clipping(some, SCAN)
    assert "blacks are clipped in 2 of 30 patches" in found.what
    many = [*good[:-4], *[patch_value(clipped_high=0.9)] * 4]
    with pytest.raises(ReadingsError) as caught:
        check_clipping(many, SCAN)
    assert str(caught.value) == (
        "scan.tif: the whites are clipped in 4 of 30 patches, so their tones cannot be "
        "told apart\nScan again with automatic exposure, levels and contrast off and "
        "the white point at its widest setting."
    )


NO_SIGN = CodeUse(
    codes=200,
    gaps=0,
    black=0.0,
    white=0.0,
    black_any=0.0,
    white_any=0.0,
    paper=None,
    bits=16,
)


def findings(
    densities, *, encoding=SRGB_GREY, code_step=1 / 65535, set_right=False, **signs
):
    density = np.linspace(*densities, 5)
    values = [
        patch_value(reflectance=10**-each, code_step=code_step) for each in density
    ]
    use = replace(NO_SIGN, **signs)
    return density_findings(density, values, use, encoding, SCAN, set_right=set_right)


@pytest.mark.parametrize(
    ("densities", "what"),
    [
        ((0.08, 1.4), None),
        ((0.03, 1.75), None),
        ((-0.02, 1.4), "lightest patch reads D -0.02, lighter than"),
        ((0.31, 1.4), "lightest patch reads D 0.31, dark for paper white"),
        ((0.2, 2.25), "D-max reads 2.25, more than hand-coated paper shows"),
        ((0.08, 0.85), None),
    ],
)
def test_a_range_that_paper_does_not_have_is_warned_about(densities, what):
    found = findings(densities)
    assert [what in each.what for each in found] == ([] if what is None else [True])


def test_bare_paper_clears_the_scanner_of_dark_whites():
    assert findings((0.31, 1.4), paper=0.93) == []
    (found,) = findings((0.31, 1.4), paper=0.7)
    assert "dark for paper white" in found.what


def read_as(densities, was, given):
    """Densities that codes of one gamma have when they are read with another."""
    return tuple(each * given / was for each in densities)


def test_a_linear_scan_read_as_srgb_is_named():
    """sRGB is nearly gamma 2.2, IEC 61966-2-1: D 0.07 and 1.4 become 0.15 and 2.5."""
    light = srgb_to_linear(10 ** -np.array([0.07, 1.4]))
    (found,) = findings(-np.log10(light))
    assert found.what == (
        "D-max reads 2.51, more than hand-coated paper shows; read as linear it would "
        "be 1.40"
    )
    assert "--gamma 1.0" in found.fix


def test_raised_contrast_is_not_taken_for_a_linear_scan():
    for densities, signs in (((0.03, 2.6), {"black": 1e-3}), ((0.03, 3.9), {})):
        (found,) = findings(densities, code_step=1e-6, **signs)
        assert "linear" not in found.what
        assert "black point" in found.fix
    (found,) = findings((0.05, 2.3), encoding=LINEAR_GREY)
    assert "linear" not in found.what


def test_an_encoded_scan_read_as_linear_is_named():
    (found,) = findings(read_as((0.07, 1.4), 2.2, 1.0), encoding=LINEAR_GREY)
    assert found.what == (
        "D-max reads 0.64, little for a print; read with gamma 2.2 it would be 1.40"
    )
    assert "--gamma 2.2" in found.fix
    assert findings((0.05, 0.7)) == []
    # Paper of D 0.15 is no gamma-encoded white: the print is pale.
    assert findings((0.15, 0.7), encoding=LINEAR_GREY) == []
    assert findings((0.05, 0.3), encoding=LINEAR_GREY) == []


@pytest.mark.parametrize(
    ("densities", "signs", "said"),
    [
        ((0.06, 1.5), {"gaps": 20}, "20 of 200 codes never occur"),
        ((0.005, 2.6), {}, "both ends of the codes, the patches read D 0.01 to 2.60"),
        ((0.05, 2.6), {"paper": 0.99}, "both ends of the codes"),
        ((0.05, 1.8), {"paper": 0.99, "black_any": 1e-3}, "both ends of the codes"),
        ((0.05, 1.8), {"white_any": 1e-3, "black_any": 1e-3}, "both ends"),
        ((0.05, 1.8), {"paper": 0.975, "black_any": 1e-3}, None),
        ((0.05, 1.8), {"paper": 0.99, "white_any": 1e-2}, None),
        ((0.03, 1.8), {"black": 3e-5, "white": 1e-3}, "both ends of the codes"),
        ((0.06, 1.5), {"gaps": 5}, None),
        ((0.06, 1.5), {"white": 1e-3}, None),
        ((0.06, 1.5), {"black": 1e-3}, None),
        ((0.005, 1.5), {}, None),
    ],
)
def test_changed_contrast_is_named(densities, signs, said):
    found = findings(densities, **signs)
    assert len(found) == (said is not None)
    if said:
        assert said in found[0].what
        assert "Turn off automatic exposure, levels, contrast" in found[0].fix


def test_white_paper_is_judged_by_light_not_by_level():
    """Level 0.96 is D 0.02 where codes are linear, and D 0.04 in sRGB."""
    signs = {"paper": 0.96, "black_any": 1e-3}
    assert findings((0.05, 1.8), **signs) == []
    (found,) = findings((0.05, 1.8), encoding=LINEAR_GREY, **signs)
    assert "both ends" in found.what


def test_a_wedge_sets_contrast_right_and_clears_the_range():
    (found,) = findings((0.05, 2.3), set_right=True, gaps=20)
    assert found.severity == "note"
    assert "step wedge set it right" in found.fix
    assert findings((0.3, 0.6), encoding=LINEAR_GREY, set_right=True) == []


def test_coarse_codes_ask_for_more_bits():
    """At D 1.4 one code of a linear 8-bit scan is 0.043 D: 1 / 255 / R / ln 10."""
    (found,) = findings((0.1, 1.4), code_step=1 / 255)
    assert "0.043 D at D 1.40" in found.what
    assert found.fix == "Scan with 16 bits per channel."
