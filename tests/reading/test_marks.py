import numpy as np
import pytest
from scipy import ndimage

from negcurve.reading.marks import Mark, find_marks, refine_mark
from negcurve.reading.reduced import block_means, reduce_source
from tests.reading.prints import ArraySource

PLACES_MM = ((20.0, 22.3), (61.7, 20.1), (25.2, 70.4))


def drawn_marks(px_per_mm, *, noise=0.0, black=0.04, white=0.85, size_mm=(80, 90)):
    """Marks as the contract gives them: 5.0 white, 3.6 dark, 2.2 white; on dark."""
    rows, columns = (round(side * px_per_mm) for side in size_mm[::-1])
    light = np.full((rows, columns), black, dtype=np.float32)
    for cx, cy in PLACES_MM:
        top, left = int((cy - 6) * px_per_mm), int((cx - 6) * px_per_mm)
        part = light[top : top + int(12 * px_per_mm), left : left + int(12 * px_per_mm)]
        y, x = np.indices(part.shape) + 0.5
        radius = np.hypot(x + left - cx * px_per_mm, y + top - cy * px_per_mm)
        # Share of a pixel inside an edge, taken as straight across the pixel.
        inside = [np.clip(r * px_per_mm - radius + 0.5, 0, 1) for r in (5.0, 3.6, 2.2)]
        part += (white - black) * (inside[0] - inside[1] + inside[2])
    rng = np.random.default_rng(1)
    light = ndimage.gaussian_filter(light, 0.5)
    noisy = light + noise * rng.standard_normal(light.shape, dtype=np.float32)
    return noisy.astype(np.float32)


def source_of(light):
    codes = np.rint(np.clip(light, 0, 1) * 65535).astype(np.uint16)
    return ArraySource(codes[:, :, None])


def distances(marks, px_per_mm):
    return [
        min(np.hypot(mark.x / px_per_mm - x, mark.y / px_per_mm - y) for mark in marks)
        for x, y in PLACES_MM
    ]


@pytest.mark.parametrize("px_per_mm", [3.0, 5.9, 11.8])
@pytest.mark.parametrize("known", [True, False])
def test_marks_are_found_at_any_scale(px_per_mm, known):
    light = drawn_marks(px_per_mm)
    marks = find_marks(light, px_per_mm=px_per_mm if known else None)
    assert max(distances(marks[:3], px_per_mm)) < 0.1
    if known:
        assert len(marks) == 3
    for mark in marks[:3]:
        assert mark.px_per_mm == pytest.approx(px_per_mm, rel=0.07)


def test_a_weak_noisy_print_still_shows_its_marks():
    light = drawn_marks(5.9, black=0.35, white=0.5, noise=0.05)
    marks = find_marks(light, px_per_mm=5.9)
    assert max(distances(marks[:3], 5.9)) < 0.1


def test_marks_of_the_wrong_polarity_are_found_only_when_asked_for():
    light = drawn_marks(4.0)
    assert all(mark.score < 0.6 for mark in find_marks(1 - light, px_per_mm=4.0))
    exchanged = find_marks(1 - light, px_per_mm=4.0, inverted=True)
    assert max(distances(exchanged[:3], 4.0)) < 0.1


@pytest.mark.parametrize("px_per_mm", [4.0, None])
def test_nothing_is_found_on_blank_paper_or_in_noise(px_per_mm):
    rng = np.random.default_rng(3)
    noise = rng.random((300, 260)).astype(np.float32)
    assert find_marks(np.full_like(noise, 0.8), px_per_mm=px_per_mm) == ()
    assert all(m.score < 0.6 for m in find_marks(noise, px_per_mm=px_per_mm))


@pytest.mark.parametrize("px_per_mm", [5.9, 11.8, 23.6])
def test_refined_centres_are_true_to_a_few_hundredths_of_a_millimetre(px_per_mm):
    source = source_of(drawn_marks(px_per_mm, noise=0.01))
    rough = Mark(
        x=20.4 * px_per_mm, y=22.0 * px_per_mm, score=1, px_per_mm=1.04 * px_per_mm
    )
    fine = refine_mark(source, rough)
    assert fine.x / px_per_mm == pytest.approx(20.0, abs=0.02)
    assert fine.y / px_per_mm == pytest.approx(22.3, abs=0.02)
    assert fine.px_per_mm == pytest.approx(px_per_mm, rel=0.01)
    assert fine.score > 0.95


def test_a_half_covered_mark_keeps_its_centre():
    light = drawn_marks(11.8, noise=0.005)
    light[:, : int(20.0 * 11.8)] = 0.85  # brushed out left of the middle
    rough = Mark(x=20.3 * 11.8, y=22.1 * 11.8, score=1, px_per_mm=11.8)
    fine = refine_mark(source_of(light), rough)
    assert fine.x / 11.8 == pytest.approx(20.0, abs=0.05)
    assert fine.y / 11.8 == pytest.approx(22.3, abs=0.05)
    assert 0.3 < fine.score < 0.7


def test_a_mark_that_is_not_there_says_so():
    light = np.full((200, 200), 0.04, dtype=np.float32)
    rough = Mark(x=100, y=100, score=1, px_per_mm=11.8)
    fine = refine_mark(source_of(light), rough)
    assert (fine.x, fine.y, fine.score) == (100, 100, 0)


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16, np.float32])
def test_the_small_picture_holds_block_means(dtype):
    rng = np.random.default_rng(2)
    largest = 1 if dtype is np.float32 else np.iinfo(dtype).max
    codes = (rng.random((65, 43, 3)) * largest).astype(dtype)
    wanted = codes[:64, :40].astype(float).reshape(16, 4, 10, 4, 3).mean(axis=(1, 3))
    np.testing.assert_allclose(block_means(codes[:64], 4), wanted, rtol=1e-6)
    small = reduce_source(ArraySource(codes), longest=33)
    assert small.factor == 2
    assert small.levels.shape == (32, 21, 3)
    wanted = codes[:64, :42].astype(float).reshape(32, 2, 21, 2, 3).mean(axis=(1, 3))
    np.testing.assert_allclose(small.levels, wanted / largest, atol=1e-6)
    np.testing.assert_allclose(small.grey, small.levels.mean(axis=2), atol=1e-6)


@pytest.mark.parametrize("factor", [1, 2, 3, 4, 5, 6, 7, 8])
def test_blocks_are_averaged_about_their_middle(factor):
    """On a slope every block shows the level of its middle: nothing is shifted."""
    y, x = np.indices((factor * 12, factor * 10))
    codes = (100 * y + 37 * x).astype(np.uint16)[:, :, None]
    small = reduce_source(ArraySource(codes), longest=12)
    assert small.factor == factor
    row, column = np.indices((12, 10))
    middle = (factor - 1) / 2
    wanted = 100 * (factor * row + middle) + 37 * (factor * column + middle)
    np.testing.assert_allclose(small.grey * 65535, wanted, rtol=1e-5)
