import re
from dataclasses import replace

import numpy as np
import pytest

from negcurve.errors import ReadingsError
from negcurve.reading.scan import read_target
from tests.reading.prints import ArraySource, GammaEncoding, scan_of, small_layout

LINEAR = GammaEncoding(1.0)


def centre_error(reading, made):
    centres = np.array([patch.box.center for patch in reading.layout.patches])
    truth = np.column_stack(made.to_scan(*centres.T))
    off = reading.geometry.to_scan(centres) - truth
    return float(np.hypot(off[:, 0], off[:, 1]).max() / made.px_per_mm)


def density_error(reading, made):
    true = made.density_of(reading.readings.negative_level)
    return np.abs(reading.readings.density - true).max()


def test_a_clean_scan_at_300_ppi_reads_true(layout):
    source, made = scan_of(layout, ppi=300, tilt_degrees=1.3)
    read = read_target(source, LINEAR, [layout])
    assert centre_error(read, made) < 0.1
    assert density_error(read, made) < 0.002
    assert read.readings.findings == ()
    readings = read.readings
    assert readings.target == layout.identity_text
    assert readings.density_zero == "scanner"
    assert readings.density_kind == "luminance"
    assert readings.patch[:3] == ("1", "2", "3")
    assert readings.printer_path == layout.printer_path
    x = [patch.box.center[0] for patch in layout.patches]
    np.testing.assert_allclose(readings.x_mm, x, atol=0.0006)
    assert (readings.standard_error > 0).all()
    assert not any(readings.flags)


@pytest.mark.parametrize("turn", range(4))
@pytest.mark.parametrize("mirrored", [False, True])
def test_any_way_up_reads_the_same(layout, turn, mirrored):
    source, made = scan_of(
        layout, ppi=150, turn=turn, mirrored=mirrored, tilt_degrees=-3
    )
    read = read_target(source, LINEAR, [layout])
    assert centre_error(read, made) < 0.1
    assert density_error(read, made) < 0.003
    warned = [each.what for each in read.readings.findings]
    assert warned == (["the print reads mirrored"] if mirrored else [])


def test_a_hard_scan_is_read(layout):
    """Weak, 8 bits, 150 ppi, turned, bowed, stretched, dusty, one mark brushed out."""
    source, made = scan_of(
        layout,
        ppi=150,
        d_max=0.9,
        bits=8,
        scan_gamma=2.2,
        turn=1,
        tilt_degrees=9,
        keystone=0.01,
        bow_mm=0.5,
        stretch=(1.005, 0.998),
        grain=0.05,
        noise=0.004,
        dust=60,
        hairs=6,
        lid=0.05,
        glass_mm=(160, 190),
        place=(1, 0),
        brush_outs=[(12, 12, 8)],
    )
    read = read_target(source, GammaEncoding(2.2), [small_layout(seed=3), layout])
    assert read.layout is layout
    assert sorted(read.corners) == [1, 2, 3]
    assert centre_error(read, made) < 0.3
    assert density_error(read, made) < 0.03


@pytest.mark.parametrize("gamma", [0.05, 12.0])
def test_a_badly_exposed_print_is_read_all_the_same(layout, gamma):
    """Nearly all patches black, or nearly all white: the first try of many users."""
    source, made = scan_of(layout, ppi=150, gamma=gamma, noise=0.003)
    read = read_target(source, LINEAR, [layout])
    assert centre_error(read, made) < 0.1
    assert density_error(read, made) < 0.01


@pytest.mark.parametrize("powers", [(1.4, 1.0, 0.6), (0.8, 1.0, 1.3)])
def test_a_coloured_print_reads_its_luminance(layout, powers):
    """A blue and a brown print; the encoding weighs the channels as it likes."""
    source, made = scan_of(layout, ppi=150, turn=1)
    grey = source.codes.astype(float) / 65535
    codes = np.rint(65535 * grey ** np.array(powers)).astype(np.uint16)
    coloured = ArraySource(codes, resolution_ppi=(150, 150))
    read = read_target(coloured, GammaEncoding(1.0, channels=3), [layout])
    assert centre_error(read, made) < 0.1
    light = 10 ** -made.density_of(read.readings.negative_level)
    true = -np.log10(np.mean([light**power for power in powers], axis=0))
    np.testing.assert_allclose(read.readings.density, true, atol=0.004)


@pytest.mark.parametrize("stated", [None, 72.0, 300.0])
def test_a_missing_or_false_resolution_does_not_matter(layout, stated):
    source, made = scan_of(layout, ppi=150, stated=False)
    source.resolution_ppi = None if stated is None else (stated, stated)
    read = read_target(source, LINEAR, [layout])
    assert centre_error(read, made) < 0.1
    (found,) = read.readings.findings
    assert "printed size was not checked" in found.what


def test_a_stain_and_a_fleck_are_flagged(layout):
    box = layout.patches[20].box
    stain = (*box.center, 3.2, 0.5)
    source, _ = scan_of(layout, ppi=200, stains=[stain])
    read = read_target(source, LINEAR, [layout])
    flagged = [place for place, each in enumerate(read.readings.flags) if each]
    assert flagged == [20]
    assert any("patch 21" in each.where for each in read.readings.findings)


def test_corners_by_hand(layout):
    """All four rings are lost, so nothing is found until they are pointed at."""
    lost = [(x, y, 8.0) for x, y in layout.marks_mm]
    source, made = scan_of(layout, ppi=150, tilt_degrees=4, turn=2, brush_outs=lost)
    with pytest.raises(ReadingsError, match="three of four are needed") as caught:
        read_target(source, LINEAR, [layout])
    assert "--corner X,Y" in str(caught.value)
    x, y = made.to_scan(*np.array(layout.marks_mm).T)
    rng = np.random.default_rng(1)
    by_hand = [
        (a, b)
        for a, b in zip(x + rng.normal(0, 2, 4), y + rng.normal(0, 2, 4), strict=True)
    ]
    read = read_target(
        source, LINEAR, [small_layout(seed=4), layout], corners_px=by_hand[::-1]
    )
    assert centre_error(read, made) < 0.1
    with pytest.raises(ReadingsError, match="between the corners given"):
        read_target(
            source,
            LINEAR,
            [layout],
            corners_px=[(10, 10), (99, 10), (99, 99), (10, 99)],
        )


def error_of(codes, layouts, ppi=150.0):
    source = ArraySource(codes, resolution_ppi=(ppi, ppi))
    with pytest.raises(ReadingsError) as caught:
        read_target(source, LINEAR, layouts)
    assert caught.value.exit_code == 4
    return str(caught.value)


@pytest.fixture(scope="module")
def made_plain(layout):
    return scan_of(layout, ppi=150)[1]


@pytest.fixture(scope="module")
def plain(made_plain):
    return made_plain.codes()


def test_another_target_is_named(plain, layout):
    other = small_layout(seed=2)
    assert error_of(plain, [other]) == (
        f"scan.tif: this is target {layout.identity_text}; looked for "
        f"{other.identity_text}\nName the file it was printed from: --target OUT.tif."
    )


def test_a_target_that_is_cut_off_is_refused(plain, made_plain, layout):
    upper = plain[: int(plain.shape[0] * 0.72)]
    assert error_of(upper, [layout]) == (
        f"scan.tif: this is target {layout.identity_text}, but too little of it was "
        "found in place: three of its four marks and most of its patches are needed\n"
        "Is part of it cut off or covered? Scan the whole print, or point at the four "
        "marks with --corner X,Y four times."
    )
    # Both marks on the left are gone, and with them no strip has two marks.
    x, y = made_plain.to_scan(*np.array(layout.marks_mm[1:3]).T)
    message = error_of(plain[:, 110:], [layout])
    said = re.findall(r"(\d+),(\d+)", message)
    said = np.array(sorted(said, key=lambda each: int(each[1])), dtype=float)
    np.testing.assert_allclose(said, np.column_stack([x - 110, y]), atol=2)
    assert "2 ring marks seen at" in message
    assert "three of four are needed" in message


def test_missing_patches_are_counted(plain, layout):
    """Patches beyond the edge of the scan, all four marks still on it."""
    first = layout.patches[0]
    moved = replace(first, box=replace(first.box, left_mm=0, top_mm=0))
    odd = replace(layout, patches=(moved, *layout.patches[1:]))
    codes = scan_of(odd, ppi=150)[0].codes
    message = error_of(codes[42:, 42:], [odd])
    assert "1 of 54 patches lie outside the scan (1)" in message
    assert "larger scan area" in message


def test_a_card_over_the_print_is_told(made_plain, plain, layout):
    """All four marks are seen, but not all patches."""
    boxes = [patch.box for patch in layout.patches]
    top = sorted({box.top_mm for box in boxes})[0]
    low, high = top - 2.5, top + boxes[0].height_mm + 2.5
    x, y = made_plain.to_scan([5, layout.width_mm - 5], [low, high])
    codes = plain.copy()
    codes[int(y[0]) : int(y[1]), int(x[0]) : int(x[1])] = 63_000
    message = error_of(codes, [layout])
    assert "part of the target is covered: 9 of 54 patches" in message
    assert "with nothing else over it" in message


def test_an_inverted_scan_is_told(plain, layout):
    assert error_of(65535 - plain, [layout]) == (
        "scan.tif: black and white are exchanged in this scan\n"
        "Scan the print as a positive. If the print itself looks so, the target was "
        "inverted on its way to the film."
    )


def test_blank_paper_and_noise_are_told(layout):
    rng = np.random.default_rng(7)
    blank = (50000 + rng.normal(0, 200, (700, 800, 1))).astype(np.uint16)
    assert "nearly blank, its levels lie between 0.76 and 0.76" in error_of(
        blank, [layout]
    ).replace("0.77", "0.76")
    noise = rng.integers(0, 65535, (700, 800, 1)).astype(np.uint16)
    message = error_of(noise, [layout])
    assert message.startswith("scan.tif: no target found: no ring marks seen")


def test_two_prints_on_the_glass_are_refused_unless_one_is_named(plain, layout):
    other = small_layout(seed=2)
    second = scan_of(other, ppi=150)[0].codes
    both = np.vstack([plain, second])
    message = error_of(both, [layout, other])
    assert "2 targets lie in this scan" in message
    read = read_target(ArraySource(both, resolution_ppi=(150, 150)), LINEAR, [other])
    assert read.layout is other


def test_clipped_blacks_are_refused(layout, plain):
    crushed = np.clip((plain.astype(float) - 9000) * 1.16, 0, 65535).astype(np.uint16)
    assert "the blacks are clipped in" in error_of(crushed, [layout])


def test_patches_out_of_place_are_not_read(layout, plain):
    """Marks and number are right, but the patches are another layout's."""
    boxes = [
        replace(patch, box=replace(patch.box, top_mm=patch.box.top_mm * 0.5 + 26))
        for patch in layout.patches
    ]
    squeezed = replace(layout, patches=tuple(boxes))
    object.__setattr__(squeezed, "identity", layout.identity)
    message = error_of(plain, [squeezed])
    assert "scan.tif" in message or layout.identity_text in message
