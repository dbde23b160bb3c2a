import numpy as np
import pytest

from negcurve.errors import ReadingsError
from negcurve.reading.geometry import Geometry
from negcurve.reading.patches import PatchValue
from negcurve.reading.quality import (
    check_clipping,
    check_scale,
    density_findings,
    patch_flags,
    stray_readings,
    taped_white_findings,
)
from tests.reading.prints import ArraySource

BLANK = np.zeros((10, 10, 1), dtype=np.uint16)


def scan_at(ppi):
    return ArraySource(BLANK, resolution_ppi=None if ppi is None else (ppi, ppi))


def geometry(across=1.0, down=1.0):
    scale = 300 / 25.4
    return Geometry(matrix=np.diag([scale * across, scale * down, 1]), size_mm=(90, 70))


def value(**changes):
    usual = {
        "reflectance": 0.2,
        "standard_error": 0.001,
        "scatter": 0.002,
        "left_out": 0.0,
        "clipped_low": 0.0,
        "clipped_high": 0.0,
        "code_step": 1 / 65535,
    }
    return PatchValue(**{**usual, **changes})


def test_a_true_size_is_no_finding():
    assert list(check_scale(geometry(1.006, 0.994), scan_at(300))) == []


def test_a_print_one_percent_off_is_warned_about():
    (found,) = check_scale(geometry(0.99, 1.0), scan_at(300))
    assert str(found) == (
        "warning: scan.tif: the target was printed at 99.0% of its width and 100.0% of "
        "its height. Negatives made the same way will be off by as much: look for a "
        "fit-to-page setting of the driver."
    )


def test_a_print_made_to_fit_is_refused():
    with pytest.raises(ReadingsError) as caught:
        list(check_scale(geometry(0.96, 0.96), scan_at(300)))
    assert str(caught.value) == (
        "scan.tif: the target was printed at 96.0% of its width and 96.0% of its "
        "height\nPrint it at 100 % with every fit-to-page setting off. If the print is "
        "right, the resolution that the scan states is wrong."
    )


def test_a_resolution_that_cannot_be_true_is_no_size_of_the_print():
    (found,) = check_scale(geometry(), scan_at(72))
    assert "states 72 ppi, the marks say about 300" in found.what
    (found,) = check_scale(geometry(), scan_at(None))
    assert found.severity == "note"
    assert "states no resolution" in found.what


def test_a_few_clipped_patches_are_warned_about_many_are_refused():
    good = [value()] * 30
    assert check_clipping(good, scan_at(300)) == []
    some = [*good[:-2], value(clipped_low=0.5), value(clipped_low=0.03)]
    (found,) = check_clipping(some, scan_at(300))
    assert "blacks are clipped in 2 of 30 patches" in found.what
    many = [*good[:-4], *[value(clipped_high=0.9)] * 4]
    with pytest.raises(ReadingsError) as caught:
        check_clipping(many, scan_at(300))
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
    values = [value(reflectance=10**-each) for each in density]
    found = density_findings(density, values, scan_at(300))
    assert [what in each.what for each in found] == ([] if what is None else [True])


def test_coarse_codes_ask_for_more_bits():
    """At D 1.4 one code of a linear 8-bit scan is 0.043 D: 1 / 255 / R / ln 10."""
    density = np.array([0.1, 1.4])
    values = [value(reflectance=10**-each, code_step=1 / 255) for each in density]
    (found,) = density_findings(density, values, scan_at(300))
    assert "0.043 D at D 1.40" in found.what
    assert found.fix == "Scan with 16 bits per channel."


@pytest.mark.parametrize(
    ("taped", "severity", "said"),
    [
        (0.07, "note", "reads D 0.07, the lightest patch is 0.01 above it"),
        (0.03, "warning", "reads D 0.03, the lightest patch is 0.05 above it"),
        (0.09, "note", "reads D 0.09, the lightest patch is no darker"),
        (1.38, None, ""),
    ],
)
def test_a_taped_white_is_compared_with_the_lightest_patch(taped, severity, said):
    density = np.linspace(0.08, 1.4, 9)
    found = taped_white_findings(value(reflectance=10**-taped), density, scan_at(300))
    assert [each.severity for each in found] == ([severity] if severity else [])
    assert all(said in each.what for each in found)


def response(level):
    return 0.1 + 1.3 * level**1.5


def test_a_stray_reading_is_found_and_no_other():
    rng = np.random.default_rng(1)
    level = np.repeat(np.linspace(0, 1, 25), 2)
    density = response(level) + rng.normal(0, 0.01, 50)
    order = rng.permutation(50)
    assert not stray_readings(level[order], density[order]).any()
    density[20] += 0.2
    np.testing.assert_array_equal(
        np.flatnonzero(stray_readings(level[order], density[order])),
        np.flatnonzero(order == 20),
    )


def test_steep_and_uneven_prints_have_no_strays():
    level = np.linspace(0, 1, 21)
    steep = 0.1 + 1.3 / (1 + np.exp(-30 * (level - 0.5)))
    assert not stray_readings(level, steep).any()
    rng = np.random.default_rng(2)
    uneven = response(np.repeat(level, 2)) + rng.uniform(-0.1, 0.1, 42)
    assert not stray_readings(np.repeat(level, 2), uneven).any()


def test_of_two_repeats_the_stray_one_is_told_by_its_neighbours():
    level = np.repeat(np.linspace(0, 1, 9), 2)
    density = response(level)
    density[9] += 0.35
    assert np.flatnonzero(stray_readings(level, density)).tolist() == [9]


def test_flags_say_what_is_wrong_with_a_patch():
    level = np.linspace(0, 1, 12)
    density = response(level)
    values = [
        value(reflectance=10**-each, scatter=0.01 * 10**-each) for each in density
    ]
    assert not any(patch_flags(level, density, values))
    values[2] = value(reflectance=10 ** -density[2], left_out=0.4)
    values[5] = value(reflectance=10 ** -density[5], scatter=0.2 * 10 ** -density[5])
    values[8] = value(reflectance=10 ** -density[8], clipped_low=0.1)
    flags = patch_flags(level, density, values)
    assert {place: set(each) for place, each in enumerate(flags) if each} == {
        2: {"covered"},
        5: {"uneven"},
        8: {"clipped"},
    }
