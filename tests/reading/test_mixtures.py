"""A print of ink mixtures is found and read like any other."""

from dataclasses import replace

import numpy as np
import pytest

from negcurve.files.readings_csv import read_readings, write_readings
from negcurve.reading.averaging import average
from negcurve.reading.flags import stray_repeats
from negcurve.reading.scan import read_target
from negcurve.target.mixtures import ink_mixtures
from tests.reading.prints import GammaEncoding, scan_of, small_layout


def mixture_layout():
    """Twenty-seven mixtures twice, scattered as the levels of the small layout."""
    layout = small_layout()
    inks = ink_mixtures(27)
    patches = tuple(
        replace(patch, negative_level=0.0, ink=inks[round(26 * patch.negative_level)])
        for patch in layout.patches
    )
    return replace(layout, mode="rgb", patches=patches)


def held_back(ink):
    """An invented film: magenta and yellow hold light back, cyan hardly does."""
    cyan, magenta, yellow = (1 - np.array(ink.codes) / 255).tolist()
    return 1 - np.exp(-0.2 * cyan - 1.1 * magenta - 1.8 * yellow)


def printed(layout, **setup):
    """A scan of a print whose patches are as dark as the inks let them be."""
    shown = tuple(
        replace(patch, ink=None, negative_level=1 - held_back(patch.ink))
        for patch in layout.patches
    )
    shadow = replace(layout, patches=shown)
    vars(shadow)["identity"] = layout.identity  # the strips name the real one
    return scan_of(shadow, **setup)


@pytest.mark.parametrize("turn", [0, 2])
def test_a_print_of_mixtures_is_read(turn, tmp_path):
    layout = mixture_layout()
    source, made = printed(layout, ppi=150, turn=turn, noise=0.002, tilt_degrees=1)
    scan = read_target(source, GammaEncoding(), [small_layout(), layout])
    readings = scan.readings
    assert scan.layout is layout
    assert readings.has_mixtures
    assert readings.ink == tuple(patch.ink.text for patch in layout.patches)
    truth = [made.density_of(1 - held_back(patch.ink)) for patch in layout.patches]
    np.testing.assert_allclose(readings.density, truth, atol=0.01)
    assert not any(readings.flags)
    write_readings(readings, tmp_path / "r.csv")
    again = read_readings(tmp_path / "r.csv")
    assert again.ink == readings.ink
    np.testing.assert_array_equal(again.density, readings.density)
    assert average([readings, again]).ink == readings.ink


def test_a_layout_names_the_inks_of_typed_densities(tmp_path):
    layout = mixture_layout()
    lines = "\n".join(f"{n},{0.1 + n / 100}" for n in range(1, 55))
    (tmp_path / "typed.csv").write_text(f"patch,density\n{lines}\n")
    readings = read_readings(tmp_path / "typed.csv", layout)
    assert readings.ink[3] == layout.patches[3].ink.text
    assert readings.chosen([3, 5]).ink == (readings.ink[3], readings.ink[5])


def test_only_of_three_repeats_can_one_be_stray():
    groups = ("a", "a", "b", "b", "b", "c", "c", "c")
    density = np.array([0.2, 0.9, 0.5, 0.51, 1.1, 0.3, 0.31, 0.3])
    stray = stray_repeats(groups, density)
    assert stray.tolist() == [False] * 4 + [True] + [False] * 3
