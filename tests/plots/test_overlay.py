import numpy as np
import pytest

from negcurve.plots.overlay import FLAGS, LEGEND_PX, LONGEST, MARK, READ, overlay
from negcurve.reading.scan import read_target
from tests.reading.prints import GammaEncoding, scan_of, small_layout

ENCODING = GammaEncoding(1.0)


def near(picture, colour):
    """Pixels of nearly a colour."""
    off = np.abs(picture.astype(int) - np.array(colour)).max(axis=2)
    return off < 12


def shown(**setup):
    layout = small_layout()
    source, _ = scan_of(layout, ppi=150, **setup)
    reading = read_target(source, ENCODING, [layout])
    return layout, reading, overlay(reading, ENCODING)


@pytest.mark.parametrize(("turn", "mirrored"), [(0, False), (1, False), (3, True)])
def test_it_is_shown_as_the_print_reads_right(turn, mirrored):
    """Every patch outline lies around its patch, whichever way the print lay."""
    layout, _, picture = shown(turn=turn, mirrored=mirrored, tilt_degrees=2)
    page = picture[:-LEGEND_PX]
    assert max(page.shape) == LONGEST
    assert page.shape[1] > page.shape[0]  # wider than high, as the layout is
    rows, columns = np.nonzero(near(page, READ))
    assert np.ptp(columns) > np.ptp(rows)
    # The patch at the top left is drawn in the tone of its level.
    levels = [patch.negative_level for patch in layout.patches]
    pitch = np.ptp(columns) / 9, np.ptp(rows) / 6
    seen = [
        page[
            int(rows.min() + (row + 0.5) * pitch[1]),
            int(columns.min() + (column + 0.5) * pitch[0]),
        ].mean()
        for row in range(6)
        for column in range(9)
    ]
    assert np.corrcoef(levels, seen)[0, 1] < -0.9


def test_marks_are_green_and_a_lost_one_is_not():
    _, _, whole = shown()
    _, reading, lost = shown(brush_outs=[(12, 12, 8)])
    assert len(reading.corners) == 3
    share = near(lost, MARK).sum() / near(whole, MARK).sum()
    assert 0.7 < share < 0.95


def test_a_flagged_patch_stands_out_in_its_colour():
    layout = small_layout()
    stain = (*layout.patches[20].box.center, 3.2, 0.5)
    _, reading, picture = shown(stains=[stain])
    flagged = [each for each in reading.readings.flags if each]
    assert len(flagged) == 1
    first = next(name for name in FLAGS if name in flagged[0])
    assert near(picture, FLAGS[first][0]).sum() > 300


def test_numbers_are_drawn_on_demand():
    layout = small_layout()
    source, _ = scan_of(layout, ppi=150)
    reading = read_target(source, ENCODING, [layout])
    bare = overlay(reading, ENCODING)
    numbered = overlay(reading, ENCODING, numbers=True)
    assert bare.shape == numbered.shape
    assert bare.dtype == np.uint8
    assert (bare != numbered).any(axis=2).sum() > 54 * 20
