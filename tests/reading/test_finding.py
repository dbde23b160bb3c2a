from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest

from negcurve.reading.finding import (
    LEAST_ORDER,
    find_targets,
    identify,
    level_order,
)
from negcurve.reading.geometry import fit_geometry
from negcurve.reading.marks import find_marks
from negcurve.reading.numbers import read_number
from negcurve.reading.reduced import reduce_source
from negcurve.reading.registration import register
from negcurve.reading.strips import all_scores, match_strips, sample
from tests.reading.prints import scan_of, small_layout


@pytest.fixture(scope="module")
def seen(layout):
    """Small picture of a plain scan, its marks and the true geometry."""
    source, made = scan_of(layout, ppi=150, tilt_degrees=2)
    small = reduce_source(source)
    assert small.factor == 1
    grey = small.grey
    true = np.column_stack(made.to_scan(*np.array(layout.marks_mm).T))
    return grey, find_marks(grey, px_per_mm=150 / 25.4), fit_geometry(layout, true)


def test_strips_say_their_own_number_and_no_other(layout, seen):
    grey, _, geometry = seen
    scores = all_scores(grey, geometry, layout)
    own = match_strips(scores, layout.identity)
    assert own.right == 48
    assert own.agreement > 0.9
    rng = np.random.default_rng(4)
    for identity in rng.integers(0, 1 << 32, 200).tolist():
        other = match_strips(scores, identity)
        assert other.right < 42
        assert abs(other.agreement) < 0.75


def test_a_target_is_found_among_others(layout, seen):
    grey, marks, geometry = seen
    others = [small_layout(seed=seed) for seed in (5, 6)]
    found = find_targets(grey, marks, [*others, layout])
    assert [each.layout for each in found] == [layout]
    assert sorted(found[0].corners) == [0, 1, 2, 3]
    centres = np.array([patch.box.center for patch in layout.patches])
    np.testing.assert_allclose(
        found[0].geometry.to_scan(centres), geometry.to_scan(centres), atol=1.0
    )
    assert find_targets(grey, marks, others) == []


def test_only_the_right_one_of_24_arrangements_is_believed(layout, seen):
    """Strips may look alike upside down and mirrored; the patches do not."""
    grey, _, geometry = seen
    places = geometry.to_scan(np.array(layout.marks_mm))
    marks = [
        type(seen[1][0])(x=x, y=y, score=1.0, px_per_mm=geometry.px_per_mm)
        for x, y in places.tolist()
    ]
    believed = [
        order
        for order in permutations(range(4))
        if identify(grey, layout, {c: marks[place] for c, place in enumerate(order)})
    ]
    assert believed == [(0, 1, 2, 3)]
    flipped = fit_geometry(layout, places[[3, 2, 1, 0]])
    assert level_order(grey, flipped, layout) < LEAST_ORDER
    assert level_order(grey, geometry, layout) > 0.99


@pytest.mark.parametrize("lost", range(4))
def test_any_three_marks_are_enough(layout, seen, lost):
    grey, _, geometry = seen
    places = geometry.to_scan(np.array(layout.marks_mm))
    marks = [
        type(seen[1][0])(x=x, y=y, score=1.0, px_per_mm=geometry.px_per_mm)
        for corner, (x, y) in enumerate(places.tolist())
        if corner != lost
    ]
    found = find_targets(grey, marks, [layout])
    assert len(found) == 1
    assert sorted(found[0].corners) == [c for c in range(4) if c != lost]


def test_the_number_of_an_unknown_target_is_read(layout, seen):
    grey, marks, _ = seen
    assert read_number(grey, marks) == layout.identity
    assert read_number(grey[:, ::-1], find_marks(grey[:, ::-1], px_per_mm=5.9)) == (
        layout.identity
    )


def test_no_number_is_read_where_there_is_none(seen):
    grey, marks, _ = seen
    rng = np.random.default_rng(5)
    noise = rng.random(grey.shape).astype(np.float32)
    assert read_number(noise, marks) is None
    assert read_number(np.full_like(grey, 0.5), marks) is None


def test_samples_outside_the_picture_are_unknown():
    picture = np.arange(12, dtype=np.float32).reshape(3, 4)
    values = sample(picture, np.array([[0.5, 0.5], [2.0, 1.5], [-1, 1], [2, 3.5]]))
    np.testing.assert_allclose(values[:2], [0, 5.5])
    assert np.isnan(values[2:]).all()


@pytest.mark.parametrize(("bow", "keystone"), [(0.8, 0.0), (-0.6, 0.01), (0.0, -0.01)])
def test_patch_edges_take_up_bow_and_keystone(layout, bow, keystone):
    source, made = scan_of(layout, ppi=150, bow_mm=bow, keystone=keystone)
    grey = reduce_source(source).grey
    kept = (0, 2, 3)  # one mark is lost as well
    marks = np.array([layout.marks_mm[corner] for corner in kept])
    rough = fit_geometry(layout, np.column_stack(made.to_scan(*marks.T)), kept)
    centres = np.array([patch.box.center for patch in layout.patches])
    truth = np.column_stack(made.to_scan(*centres.T))
    scale = made.px_per_mm

    def error(geometry):
        return np.hypot(*(geometry.to_scan(centres) - truth).T).max() / scale

    assert error(rough) > 0.3
    fine = register(grey, rough, layout, held=kept)
    assert error(fine.geometry) < 0.1
    assert fine.agreement > 0.95
    assert fine.largest_shift_mm > 0.3


def test_where_marks_are_right_patch_edges_change_nothing(layout, seen):
    grey, _, geometry = seen
    fine = register(grey, geometry, layout, held=(0, 1, 2, 3))
    assert fine.largest_shift_mm < 0.08


def test_light_that_spreads_over_edges_shifts_nothing(layout):
    """Patches printed smaller all round, the lighter the more, lie where they lay."""
    shrunk = [
        replace(patch, box=patch.box.grown(-0.2 * (1 - patch.negative_level)))
        for patch in layout.patches
    ]
    source, made = scan_of(replace(layout, patches=tuple(shrunk)), ppi=100, gamma=2.5)
    true = np.column_stack(made.to_scan(*np.array(layout.marks_mm).T))
    geometry = fit_geometry(layout, true)
    fine = register(reduce_source(source).grey, geometry, layout, held=(0, 1, 2, 3))
    # Taken for shifts alone, the edges move the field by 0.2 mm here.
    assert fine.largest_shift_mm < 0.08
