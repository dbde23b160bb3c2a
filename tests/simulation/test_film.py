import dataclasses

import numpy as np
import pytest
from numpy.testing import assert_allclose

from negcurve.errors import InvalidValueError
from negcurve.simulation.film import Film, soft_step

PLAIN = Film(
    name="plain",
    full_ink_density=1.5,
    base_density=0.1,
    dot_gain=0.0,
    spread=1.0,
    blur_mm=0.0,
    graininess=0.0,
    dust_count=0,
)


def test_soft_step_meets_its_two_straight_lines():
    assert_allclose(soft_step([-1.0, 0.0, 1.0], 0.05), [0.0, 0.05 * np.log(2), 1.0],
                    atol=1e-8)  # fmt: skip


@pytest.mark.parametrize("coverage", [0.0, 0.25, 0.5, 0.9, 1.0])
def test_without_spread_the_halftone_follows_murray_and_davies(coverage):
    # Murray 1936, J. Franklin Institute 221 (from memory): the dot area is
    # (1 - 10^-Dt) / (1 - 10^-Ds), with Dt and Ds above the base.
    tint = PLAIN.density_of_coverage(coverage) - PLAIN.base_density
    area = (1 - 10**-tint) / (1 - 10**-PLAIN.full_ink_density)
    assert_allclose(area, coverage, atol=1e-12)


def test_with_much_spread_density_follows_coverage():
    film = dataclasses.replace(PLAIN, spread=1000.0)
    assert_allclose(film.density_of_coverage(0.5), 0.1 + 0.75, atol=0.002)


def test_dot_gain_is_named_at_half_coverage():
    film = dataclasses.replace(PLAIN, dot_gain=0.18)
    assert_allclose(film.coverage([1.0, 0.5, 0.0]), [0.0, 0.68, 1.0], atol=1e-12)


def test_ink_limit_flattens_the_end_only():
    film = dataclasses.replace(PLAIN, ink_limit=0.8)
    assert_allclose(film.coverage([0.0, 0.05, 0.6]), [0.8, 0.8, 0.4], atol=0.001)


def test_kink_changes_the_slope_where_the_denser_ink_takes_over():
    film = dataclasses.replace(PLAIN, kink_ink=0.5, kink_strength=0.5)
    below = np.diff(film.coverage([0.8, 0.7]))
    above = np.diff(film.coverage([0.3, 0.2]))
    assert_allclose(above / below, 1.5, rtol=1e-3)
    assert_allclose(film.coverage([1.0, 0.0]), [0.0, 1.0], atol=1e-6)


def test_even_tone_lets_through_what_its_density_says():
    film = dataclasses.replace(PLAIN, graininess=0.02, blur_mm=0.05, spread=3.0)
    codes = np.full((200, 200), 30000, np.uint16)
    light = film.transmittance_image(codes, resolution_ppi=360, seed=1)
    expected = float(film.density(30000 / 65535))
    # 0.1 / sqrt(40 000) of relative light is 0.0002 D; three times that is allowed.
    assert_allclose(-np.log10(light.mean(dtype=float)), expected, atol=0.0007)
    assert light.std() > 0


def test_dust_is_opaque_and_repeats_by_seed():
    film = dataclasses.replace(PLAIN, dust_count=5)
    codes = np.full((150, 150), 65535, np.uint16)
    first = film.transmittance_image(codes, resolution_ppi=300, seed=4)
    assert 5 < (first < 0.01).sum() < 300
    again = film.transmittance_image(codes, resolution_ppi=300, seed=4)
    assert np.array_equal(first, again)


def test_impossible_ink_is_refused():
    with pytest.raises(InvalidValueError, match=r"dot_gain: must lie in 0\.\.0\.24"):
        dataclasses.replace(PLAIN, dot_gain=0.3)
    with pytest.raises(InvalidValueError, match="spread must be 1 or more"):
        dataclasses.replace(PLAIN, spread=0.5)


def test_banding_scatters_the_density_of_ink_down_the_film():
    film = Film(
        name="banded",
        full_ink_density=2.0,
        blur_mm=0.001,
        graininess=0.0,
        dust_count=0,
        banding=0.02,
    )
    codes = np.zeros((400, 60), np.uint16)
    codes[:, 30:] = 65535
    light = film.transmittance_image(codes, resolution_ppi=100, seed=1)
    density = -np.log10(light) - film.base_density
    inked = density[:, :29]
    assert_allclose(inked.std(axis=0), 0.04, rtol=0.05)
    assert_allclose(inked, inked[:, :1].repeat(29, axis=1), atol=1e-4)
    assert_allclose(density[:, 32:], 0, atol=1e-5)
