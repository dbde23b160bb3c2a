import numpy as np
import pytest

from negcurve.simulation.scoring import printed_error
from negcurve.simulation.setups import demo_set_up, random_set_up


@pytest.mark.parametrize("seed", range(20))
def test_random_set_ups_could_be_real(seed):
    darkroom = random_set_up(seed).darkroom
    density = darkroom.density(np.linspace(0, 1, 1001))
    assert (np.diff(density) >= 0).all()
    # Papers of hand-coated processes: white 0.04 to 0.25 and black 1.1 to 1.7.
    # Common practice, no source.
    assert 0.04 < density[0] < 0.25
    assert 1.1 < density[-1] < 1.7


def test_set_ups_differ_and_repeat():
    assert random_set_up(3) == random_set_up(3)
    names = {random_set_up(seed).darkroom.paper.colour.name for seed in range(20)}
    encodings = {random_set_up(seed).scanner.encoding.name for seed in range(20)}
    assert len(names) == 4
    assert len(encodings) >= 5


def test_demo_has_something_to_correct():
    darkroom = demo_set_up().darkroom
    straight = printed_error(darkroom.density, lambda tone: 1 - tone, black_share=0.98)
    assert straight.rms > 5


def test_scan_of_a_print_is_made_by_the_scanner():
    set_up = demo_set_up()
    codes = np.full((200, 150), 65535, np.uint16)
    sheet = set_up.darkroom.print_sheet(codes, resolution_ppi=100, seed=1)
    scan = set_up.scan_print(sheet, seed=2)
    assert scan.codes.dtype == np.uint16
    assert scan.codes.shape[2] == 3
    assert scan.resolution_ppi == set_up.scanner.resolution_ppi
    assert scan.profile is not None
