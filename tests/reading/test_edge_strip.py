"""Strips in scans: found wherever they lie, read right, never where there is none."""

import numpy as np
import pytest
from scipy import ndimage

from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.files.layout_json import ready_made_layouts
from negcurve.reading.finding import find_targets
from negcurve.reading.geometry import fit_geometry
from negcurve.reading.marks import Mark
from negcurve.reading.scan import read_target
from negcurve.target.edge_strip import TONES, StripDesign, compose_strip
from tests.reading.prints import ArraySource, GammaEncoding, scan_of


def strip_of(table="0a1b2c3d", *, power=1.0):
    levels = tuple(0.9 * (1 - tone) ** power + 0.05 for tone in TONES)
    return compose_strip(
        StripDesign(resolution_ppi=360, tone_levels=levels, table=table)
    )


STRIP = strip_of()
OTHERS = (strip_of("ffffffff"), strip_of(power=1.4))


@pytest.mark.parametrize(
    "setup",
    [
        {},
        {"turn": 1, "tilt_degrees": 2.0},
        {"turn": 2, "ppi": 200.0},
        {"turn": 3, "ppi": 150.0},
        {"mirrored": True},
        {"stated": False},
        {"bow_mm": 0.4, "stretch": (1.0, 1.004)},
        {"ppi": 600.0, "tilt_degrees": -2.0},
        {"glass_mm": (210, 160), "dust": 60, "hairs": 3, "noise": 0.01, "grain": 0.02},
    ],
    ids=str,
)
def test_found_and_read_among_others(setup):
    source, made = scan_of(STRIP, **setup)
    reading = read_target(
        source, GammaEncoding(), [*ready_made_layouts(), *OTHERS, STRIP]
    )
    assert reading.layout == STRIP
    assert reading.geometry.mirrored == setup.get("mirrored", False)
    centres = np.array([patch.box.center for patch in STRIP.patches])
    true = np.column_stack(made.to_scan(*centres.T))
    off = np.hypot(*(reading.geometry.to_scan(centres) - true).T) / made.px_per_mm
    assert off.max() < 0.15  # mm; 1.1 mm of each patch's edge are left out
    level = np.array([patch.negative_level for patch in STRIP.patches])
    np.testing.assert_allclose(
        reading.readings.density, made.density_of(level), atol=0.012
    )
    assert reading.readings.table == "0a1b2c3d"
    assert np.isfinite(reading.readings.image_tone).sum() == 11


def test_print_of_another_size_is_told_by_its_length():
    source, _ = scan_of(STRIP, stretch=(1.012, 1.012))
    (found,) = read_target(source, GammaEncoding(), [STRIP]).readings.findings
    assert "101.2% of its width" in found.what
    assert "height" not in found.what
    source, _ = scan_of(STRIP, stretch=(0.95, 0.95))
    with pytest.raises(ReadingsError, match=r"95\.0% of its width"):
        read_target(source, GammaEncoding(), [STRIP])


def test_an_unknown_strip_is_named():
    source, _ = scan_of(STRIP)
    with pytest.raises(ReadingsError, match=f"this is target {STRIP.identity_text}"):
        read_target(source, GammaEncoding(), OTHERS)


def test_a_lost_mark_is_not_made_up():
    x, y = STRIP.marks_mm[0]
    source, _ = scan_of(STRIP, brush_outs=[(x, y, 8.0)])
    with pytest.raises(ReadingsError, match="1 ring mark seen"):
        read_target(source, GammaEncoding(), [STRIP])


def test_marks_pointed_at_by_hand():
    x, y = STRIP.marks_mm[0]
    source, made = scan_of(STRIP, brush_outs=[(x, y, 6.0)])
    places = np.column_stack(made.to_scan(*np.array(STRIP.marks_mm).T)) + 3.0
    reading = read_target(source, GammaEncoding(), [STRIP], corners_px=places.tolist())
    level = np.array([patch.negative_level for patch in STRIP.patches])
    np.testing.assert_allclose(
        reading.readings.density, made.density_of(level), atol=0.012
    )


def test_two_strips_in_one_scan_are_not_chosen_from():
    codes = scan_of(STRIP)[0].codes
    source = ArraySource(np.concatenate([codes, codes]), resolution_ppi=(300, 300))
    with pytest.raises(ReadingsError, match="2 targets lie in this scan"):
        read_target(source, GammaEncoding(), [STRIP])


def test_nothing_is_found_in_pictures_that_only_have_marks():
    rng = np.random.default_rng(4)
    strips = [strip_of(f"{k:08x}") for k in range(30)]
    for blur in (1.0, 3.0, 6.0):
        picture = ndimage.gaussian_filter(rng.normal(size=(500, 900)), blur)
        picture = (picture > 0).astype(np.float32)
        marks = []
        for _ in range(5):
            x, y, turn = rng.uniform(20, 350), rng.uniform(30, 470), rng.uniform(-1, 1)
            for end in (0, 1):
                marks.append(
                    Mark(
                        x=x + end * 488 * np.cos(0.2 * turn),
                        y=y + end * 488 * np.sin(0.2 * turn),
                        score=0.9,
                        px_per_mm=4.0,
                    )
                )
        assert find_targets(picture, marks, strips) == []


def test_two_marks_carry_shift_turn_scale_and_mirroring():
    turn = 7 * np.exp(0.4j)
    places = np.array(STRIP.marks_mm) @ np.array([1, 1j])
    for mirrored in (False, True):
        seen = turn * (places.conj() if mirrored else places) + (100 + 50j)
        pixels = np.column_stack([seen.real, seen.imag])
        found = fit_geometry(STRIP, pixels, (0, 1), mirrored=mirrored)
        far = (20 + 3j).conjugate() if mirrored else 20 + 3j
        wanted = turn * far + (100 + 50j)
        np.testing.assert_allclose(
            found.to_scan([(20, 3)])[0], [wanted.real, wanted.imag], atol=1e-9
        )
        assert found.mirrored == mirrored
        assert found.px_per_mm == pytest.approx(7)
    with pytest.raises(InvalidValueError, match="two are needed"):
        fit_geometry(STRIP, pixels[:1], (0,))
