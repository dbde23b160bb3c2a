"""Dithered 8-bit codes keep every mean and show no coarse pattern."""

import numpy as np
import pytest

from negcurve.negative.dither import TILE, Dither, threshold_tile


def test_each_threshold_comes_once() -> None:
    tile = threshold_tile()
    steps = np.sort(tile.ravel()) * TILE * TILE
    np.testing.assert_allclose(steps, np.arange(TILE * TILE) + 0.5, atol=2e-3)


def test_pattern_has_little_coarse_structure() -> None:
    power = np.abs(np.fft.fft2(threshold_tile() - 0.5)) ** 2
    frequency = np.hypot(*np.meshgrid(np.fft.fftfreq(TILE), np.fft.fftfreq(TILE)))
    coarse = power[(frequency > 0) & (frequency < 0.1)].mean()
    fine = power[frequency > 0.3].mean()
    assert coarse < 0.02 * fine  # white noise has 1


@pytest.mark.parametrize("code", [0, 1, 100, 12_345, 32_768, 65_000, 65_534, 65_535])
def test_a_flat_tone_keeps_its_mean(code: int) -> None:
    rows = np.full((TILE, TILE), code, np.uint16)
    codes = Dither(TILE).codes(rows, top=0)
    assert abs(codes.mean() - code / 257) <= 1.01 / TILE**2
    assert codes.max() - codes.min() <= 1


def test_whole_codes_stay_whole() -> None:
    rows = np.tile(np.arange(256, dtype=np.uint16) * 257, (TILE, 1))
    codes = Dither(256).codes(rows, top=0)
    np.testing.assert_array_equal(codes, np.tile(np.arange(256), (TILE, 1)))


def test_a_cut_into_strips_changes_nothing() -> None:
    rows = np.random.default_rng(1).integers(0, 65536, (300, 70), dtype=np.uint16)
    dither = Dither(70)
    strips = [dither.codes(rows[top : top + 37], top=top) for top in range(0, 300, 37)]
    np.testing.assert_array_equal(np.concatenate(strips), dither.codes(rows, top=0))


def test_seeds_give_different_patterns() -> None:
    assert (threshold_tile(1) != threshold_tile(2)).mean() > 0.9
    np.testing.assert_array_equal(threshold_tile(5), threshold_tile(5))
