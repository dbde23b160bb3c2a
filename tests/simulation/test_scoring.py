import numpy as np
from numpy.testing import assert_allclose

from negcurve.density import density_from_lightness
from negcurve.simulation.scoring import printed_error


def even(negative_level):
    """A response whose lightness falls straight with the level, 95 to 25."""
    return density_from_lightness(95 - 70 * np.asarray(negative_level))


def test_exact_table_scores_nothing():
    score = printed_error(even, lambda tone: 1 - tone)
    assert_allclose([score.rms, score.worst, score.range_kept], [0, 0, 1], atol=1e-9)
    assert_allclose(score.aim[[0, -1]], [25, 95])
    assert len(score.image_tone) == 256


def test_known_differences_are_scored_as_they_are():
    # Level 0.9 - 0.9 tone prints 7 (1 - tone) too light: rms 7 / sqrt(3), worst 7.
    score = printed_error(even, lambda tone: 0.9 - 0.9 * tone)
    n = 255
    mean_square = 49 * (2 * n + 1) / (6 * n)
    assert_allclose(score.rms, np.sqrt(mean_square), rtol=1e-9)
    assert_allclose(score.worst, 7.0, rtol=1e-9)
    assert_allclose(score.range_kept, 0.9, rtol=1e-9)


def test_end_rule_moves_the_black_of_the_aim():
    low, high = even(0.0), even(1.0)
    black = low + 0.98 * (high - low)
    score = printed_error(even, lambda tone: 1 - tone, black_share=0.98)
    assert_allclose(density_from_lightness(score.aim[0]), black, rtol=1e-9)
    assert score.range_kept > 1
