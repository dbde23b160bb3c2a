import numpy as np
import pytest

from negcurve.errors import ReadingsError
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


@pytest.mark.parametrize(
    ("densities", "what"),
    [
        ((0.08, 1.4), None),
        ((-0.02, 1.4), "lightest patch reads D -0.02, lighter than"),
        ((0.31, 1.4), "lightest patch reads D 0.31, dark for paper white"),
        ((0.08, 2.5), "D-max reads 2.50"),
    ],
)
def test_a_range_that_paper_does_not_have_is_warned_about(densities, what):
    density = np.linspace(*densities, 5)
    values = [patch_value(reflectance=10**-each) for each in density]
    found = density_findings(density, values, SCAN)
    assert [what in each.what for each in found] == ([] if what is None else [True])


def test_coarse_codes_ask_for_more_bits():
    """At D 1.4 one code of a linear 8-bit scan is 0.043 D: 1 / 255 / R / ln 10."""
    density = np.array([0.1, 1.4])
    values = [patch_value(reflectance=10**-each, code_step=1 / 255) for each in density]
    (found,) = density_findings(density, values, SCAN)
    assert "0.043 D at D 1.40" in found.what
    assert found.fix == "Scan with 16 bits per channel."
