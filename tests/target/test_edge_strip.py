"""Strips: what they show, where it stands, that they are the same everywhere."""

import numpy as np
import pytest

from negcurve.errors import InvalidValueError
from negcurve.files.layout_json import layout_from_text, layout_text
from negcurve.target.drawing import draw
from negcurve.target.edge_strip import (
    IDENTITY_ABOVE_MM,
    RAW_LEVELS,
    TONES,
    StripDesign,
    compose_strip,
)
from negcurve.target.placement import correlations

LEVELS = tuple(0.93 * (1 - tone) ** 0.7 + 0.05 for tone in TONES)


@pytest.fixture(scope="module")
def strip():
    design = StripDesign(resolution_ppi=360, tone_levels=LEVELS, table="0a1b2c3d")
    return compose_strip(design)


def test_eleven_tones_through_the_table_and_three_raw_levels(strip):
    toned = {p.image_tone: p.negative_level for p in strip.patches if p.image_tone}
    assert sorted(toned) == [pytest.approx(k / 10) for k in range(1, 11)]
    for tone, level in zip(TONES[1:], LEVELS[1:], strict=True):
        assert toned[tone] == pytest.approx(level, abs=1e-6)
    raw = sorted(p.negative_level for p in strip.patches if p.image_tone is None)
    assert tuple(raw) == RAW_LEVELS
    assert strip.is_strip
    assert strip.table == "0a1b2c3d"


def test_without_a_table_levels_are_even():
    strip = compose_strip(StripDesign(resolution_ppi=360))
    level = sorted(patch.negative_level for patch in strip.patches)
    np.testing.assert_allclose(level, np.arange(14) / 13, atol=1e-6)


@pytest.mark.parametrize("power", [0.5, 1.0, 2.5])
def test_no_slope_or_bow_along_the_strip_looks_like_a_tone(power):
    levels = tuple((1 - tone) ** power for tone in TONES)
    strip = compose_strip(StripDesign(resolution_ppi=360, tone_levels=levels))
    toned = [patch for patch in strip.patches if patch.image_tone is not None]
    for patches, value in (
        (strip.patches, "negative_level"),
        (toned, "image_tone"),
    ):
        found = correlations(
            [patch.box.center for patch in patches],
            [getattr(patch, value) for patch in patches],
        )
        assert max(abs(each) for each in found.values()) < 0.1


def test_parts_do_not_touch(strip):
    boxes = [patch.box for patch in strip.patches]
    boxes += [*strip.identity_boxes, *(text.box for text in strip.lettering())]
    for place, box in enumerate(boxes):
        assert all(not box.grown(0.5).overlaps(other) for other in boxes[place + 1 :])
        for x, y in strip.marks_mm:
            # The finder looks at 6.2 mm of dark ground around a mark.
            dx = max(box.left_mm - x, x - box.right_mm, 0)
            dy = max(box.top_mm - y, y - box.bottom_mm, 0)
            assert np.hypot(dx, dy) > 6.2
    (x0, y0), (x1, _) = strip.marks_mm
    middle = strip.identity_boxes[0].center
    assert middle == pytest.approx(((x0 + x1) / 2, y0 - IDENTITY_ABOVE_MM))


def test_pixels_are_clear_around_and_flat_within(strip):
    codes = draw(strip)
    assert codes.shape == (255, 1928)
    edge = np.concatenate([codes[:15].ravel(), codes[-20:].ravel()])
    assert (edge == 65535).all()
    for patch in strip.patches:
        x, y = (round(each * 360 / 25.4) for each in patch.box.center)
        inside = codes[y - 30 : y + 30, 1928 - x - 30 : 1928 - x + 30]
        assert set(inside.ravel().tolist()) == {round(patch.negative_level * 65535)}


def test_layout_survives_its_text_and_repeats_itself(strip):
    again = layout_from_text(layout_text(strip), where="here")
    assert again == strip
    assert again.identity == strip.identity
    design = StripDesign(resolution_ppi=360, tone_levels=LEVELS, table="0a1b2c3d")
    assert compose_strip(design).canonical_text == strip.canonical_text
    other = StripDesign(resolution_ppi=360, tone_levels=LEVELS, table="0a1b2c3e")
    assert compose_strip(other).identity != strip.identity


def test_8_bits_hold_the_levels_exactly():
    strip = compose_strip(StripDesign(resolution_ppi=300, tone_levels=LEVELS, bits=8))
    codes = np.array([patch.negative_level for patch in strip.patches]) * 255
    np.testing.assert_allclose(codes, np.rint(codes), atol=2e-4)


@pytest.mark.parametrize(
    ("change", "where"),
    [({"resolution_ppi": 40}, "ppi"), ({"tone_levels": (0.5,)}, "tone_levels")],
)
def test_impossible_designs_are_refused(change, where):
    with pytest.raises(InvalidValueError) as caught:
        StripDesign(**{"resolution_ppi": 360, **change})
    assert caught.value.where == where
