import numpy as np

from negcurve.reading.flags import patch_flags, stray_readings
from tests.reading.prints import patch_value


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
        patch_value(reflectance=10**-each, scatter=0.01 * 10**-each) for each in density
    ]
    assert not any(patch_flags(level, density, values))
    values[2] = patch_value(reflectance=10 ** -density[2], left_out=0.4)
    values[5] = patch_value(
        reflectance=10 ** -density[5], scatter=0.2 * 10 ** -density[5]
    )
    values[8] = patch_value(reflectance=10 ** -density[8], clipped_low=0.1)
    flags = patch_flags(level, density, values)
    assert {place: set(each) for place, each in enumerate(flags) if each} == {
        2: {"covered"},
        5: {"uneven"},
        8: {"clipped"},
    }
