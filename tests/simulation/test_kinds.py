import numpy as np
import pytest

from negcurve.errors import InvalidValueError
from negcurve.simulation.kinds import set_up_of_kind


def each(kind):
    return [set_up_of_kind(kind, seed) for seed in range(30)]


def test_one_seed_is_one_set_up():
    assert set_up_of_kind("hard", 3) == set_up_of_kind("hard", 3)
    assert set_up_of_kind("hard", 3) != set_up_of_kind("hard", 4)


def test_ordinary_scans_are_tagged_and_fine():
    for set_up in each("ordinary"):
        scanner = set_up.scanner
        assert scanner.encoding.tagged
        assert scanner.encoding.bits == 16 or scanner.resolution_ppi == 300
        assert scanner.software is None


def test_hard_prints_are_weak_or_streaked():
    weak = streaked = 0
    for set_up in each("hard"):
        assert set_up.scanner.encoding.bits == 8
        assert set_up.scanner.resolution_ppi <= 240
        darkroom = set_up.darkroom
        weak += darkroom.paper.curve.d_max <= 1.1
        streaked += darkroom.lamp.streaks > 0 and darkroom.film.banding > 0
    assert weak + streaked == 30
    assert min(weak, streaked) > 8


def test_very_hard_scans_are_corrected_untagged_and_cropped():
    seen = each("very hard")
    for set_up in seen:
        assert not set_up.scanner.encoding.tagged
        assert set_up.scanner.software.auto_levels != "off"
        assert set_up.scanner.software.sharpening > 0
        assert set_up.darkroom.paper.relief > 0
    assert sum(max(one.scanner.crop_mm) > 4 for one in seen) > 10


def test_wedges_go_up_and_lie_on_every_side():
    sides = set()
    for set_up in each("ordinary"):
        density = set_up.wedge.wedge.density
        assert (np.diff(density) > 0.05).all()
        assert density[0] < 0.09
        assert density[-1] > 1.8
        sides.add((set_up.wedge.side, set_up.wedge.quarter_turns))
    assert len(sides) == 8


def test_other_kinds_are_refused():
    with pytest.raises(InvalidValueError, match="very hard"):
        set_up_of_kind("easy", 1)
