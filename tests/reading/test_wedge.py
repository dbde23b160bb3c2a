"""Densities set right by a step wedge in the scan."""

from functools import cache

import numpy as np
import pytest

from negcurve.encoding import SRGB, SRGB_GREY, grey_encoding
from negcurve.errors import ReadingsError
from negcurve.reading.placing import place_target
from negcurve.reading.scan import read_placed
from negcurve.reading.wedge import read_wedge
from negcurve.reading.wedge_words import wedge_findings
from tests.reading.prints import small_layout
from tests.reading.wedges import EVEN, UNEVEN, beside, scanned, with_flare

LAYOUT = small_layout()
LINEAR = grey_encoding(1.0)


def automatic(light):
    """Levels stretched between ends of their own, with an S-shaped contrast."""
    level = np.clip((light - 0.008) / 0.95, 0, 1) ** (1 / 2.2)
    return level + 0.06 * np.sin(2 * np.pi * (level - 0.5)) * level * (1 - level) * 4


def gamma(light):
    return light ** (1 / 2.2)


@cache
def scene():
    """An ordinary print with a wedge of 18 steps: light, print, wedge."""
    return beside(LAYOUT, EVEN, ppi=150, noise=0.001)


CURVES = {
    "linear": (lambda light: light, LINEAR),
    "untagged linear": (lambda light: light, None),
    "untagged 2.2": (gamma, None),
    "darkened": (lambda light: 0.8 * light, LINEAR),
    "contrast, tagged": (automatic, grey_encoding(2.2)),
    "contrast, untagged": (automatic, None),
}


def read_with(light, made, laid, source, encoding, **options):
    placed = place_target(source, [made.layout])
    known = options.pop("density", np.sort(laid.density))
    wedge = read_wedge(source, placed, known, encoding=encoding, **options)
    scan = read_placed(source, wedge.encoding, placed, zero="absolute")
    said = wedge_findings(wedge, scan.readings.density, placed, where="scan.tif")
    return wedge, scan.readings, said


def rms(readings, made):
    off = readings.density - made.density_of(readings.negative_level)
    return float(np.sqrt(np.mean(off**2)))


@pytest.mark.parametrize("name", CURVES)
def test_a_wedge_takes_up_flare_and_any_curve(name):
    """The density that a print had before the scanner, whatever its curve."""
    curve, encoding = CURVES[name]
    made_so = scene()
    light = with_flare(made_so[0], 0.006)
    source = scanned(light, made_so[1], curve=curve)
    wedge, readings, said = read_with(*made_so, source, encoding)
    assert rms(readings, made_so[1]) < 0.012
    assert readings.density_zero == "absolute"
    assert wedge.rms < 0.005
    warned = [str(each) for each in said if each.severity == "warning"]
    if name == "contrast, tagged":
        assert "contrast is not what its profile says (auto levels?)" in warned[0]
    elif name == "darkened":
        # The lightest step looks like the lid, and this is nearly one step of 0.1.
        assert "brightness is off by 0.10 D, as if by a step" in warned[0]
    elif encoding is None:
        # Nothing but the list says which step the white one is.
        assert "counted from the other end" in warned.pop()
        assert warned == []
    else:
        assert warned == []
    told = "0.10 D darker than its profile says" in " ".join(map(str, said))
    assert told == (name == "darkened")  # -log10 0.8


def test_without_it_the_same_scan_is_far_off():
    """What the above would be worth nothing without."""
    light, made, _ = scene()
    source = scanned(light, made, curve=automatic)
    placed = place_target(source, [LAYOUT])
    plain = read_placed(source, grey_encoding(2.2), placed)
    assert rms(plain.readings, made) > 0.05


def test_each_channel_has_its_own_curve_and_a_neutral_print_stays_neutral():
    light, made, laid = scene()
    source = scanned(
        light,
        made,
        curve=lambda c: (c * [0.9, 1.0, 0.8]) ** (1 / 2.2),
        colour=(1, 1.1, 0.93),
    )
    wedge, readings, said = read_with(light, made, laid, source, SRGB)
    assert rms(readings, made) < 0.01
    assert not any("coloured" in str(each) for each in said)
    # Three equal channels of a grey are the same grey: weights add up to 1.
    levels = source.codes[::97, ::89].reshape(-1, 3) / 65535
    apart = [curve(levels[:, n]) for n, curve in enumerate(wedge.encoding.curves)]
    assert np.ptp(-np.log10(apart), axis=0).max() < 0.05


def test_a_coloured_print_is_told_and_untagged_warned_about():
    light, made, laid = scene()
    colour = np.ones((*light.shape, 3)) * [1.25, 1.0, 0.7]
    x = np.arange(light.shape[1]) / made.px_per_mm
    colour[:, x > laid.middle_mm[0] - 12] = 1.0  # the wedge is grey
    for encoding, severity in ((SRGB, "note"), (None, "warning")):
        source = scanned(light, made, curve=gamma, colour=colour)
        _, _, said = read_with(light, made, laid, source, encoding)
        (told,) = [each for each in said if "coloured" in each.what]
        assert told.severity == severity
        assert ("sRGB, which are assumed" in told.what) == (encoding is None)


def test_beyond_the_ends_of_the_wedge_a_warning_says_how_far():
    made_so = beside(LAYOUT, EVEN[3:12], ppi=150)  # D 0.35 to 1.15
    light, made, _ = made_so
    wedge, readings, said = read_with(*made_so, scanned(light, made), LINEAR)
    (warned,) = [each for each in said if each.severity == "warning"]
    assert "0.25 D darker than its darkest step" in warned.what
    assert "0.27 D lighter than its lightest" in warned.what
    # A linear scan goes on as it began.
    assert rms(readings, made) < 0.01
    assert len(wedge.density) == 9


def test_clipped_steps_are_left_out():
    light, made, laid = scene()
    source = scanned(light, made, curve=lambda c: (c - 0.025) / 0.8)
    wedge, readings, said = read_with(light, made, laid, source, LINEAR)
    # R above 0.825 is D below 0.08; R below 0.025 is D above 1.60.
    np.testing.assert_allclose(wedge.density, EVEN[1:-2])
    assert wedge.unused == 3
    assert "3 clipped steps left out" in said[0].what
    dark = readings.density < 1.55
    off = readings.density - made.density_of(readings.negative_level)
    assert np.sqrt(np.mean(off[dark] ** 2)) < 0.01


def test_a_wrong_list_is_refused_or_named():
    """Other densities than those of the wedge."""
    light, made, laid = beside(LAYOUT, UNEVEN, ppi=150)
    source = scanned(light, made, curve=gamma)
    wrong = np.array([0.05, 0.3, 0.4, 0.8, 0.9, 1.3, 1.4, 1.7, 1.8])
    with pytest.raises(ReadingsError, match="do not fit what lies in the scan"):
        read_with(light, made, laid, source, None, density=wrong)
    # Half as contrasty: the encoding is known, so this cannot be.
    _, _, said = read_with(light, made, laid, source, SRGB_GREY, density=UNEVEN / 2)
    assert "contrast is not what its profile says" in " ".join(map(str, said))


def test_mostly_clipped_is_refused():
    light, made, laid = scene()
    black = scanned(light, made, curve=lambda c: (c - 0.4) / 0.6)
    with pytest.raises(ReadingsError, match=r"are not clipped|no strip of 18 even"):
        read_with(light, made, laid, black, LINEAR)
