import numpy as np
import pytest

from negcurve.reading.code_use import code_use, depth_findings
from negcurve.reading.geometry import Geometry
from tests.reading.prints import ArraySource, small_layout

PX_PER_MM = 6.0
LAYOUT = small_layout()
GEOMETRY = Geometry(
    matrix=np.diag([PX_PER_MM, PX_PER_MM, 1]),
    size_mm=(LAYOUT.width_mm, LAYOUT.height_mm),
)


def ramp(*, dtype=np.float64):
    """Levels from 0.15 to 0.95 over the sheet, with noise of four 8-bit codes."""
    shape = (round(LAYOUT.height_mm * PX_PER_MM), round(LAYOUT.width_mm * PX_PER_MM))
    across = np.linspace(0.15, 0.95, shape[1])
    noise = np.random.default_rng(1).normal(0, 4 / 255, shape)
    return np.clip(across + noise, 0.14, 0.96)[:, :, None].astype(dtype)


def used(codes):
    source = ArraySource(codes)
    return code_use(source, GEOMETRY, LAYOUT), source


def test_a_scan_uses_all_codes_between_its_ends():
    use, source = used(np.rint(255 * ramp()).astype(np.uint8))
    assert (use.gaps, use.black, use.white, use.bits) == (0, 0.0, 0.0, 8)
    assert use.codes > 150
    assert not use.is_combed
    assert depth_findings(use, source) == []


@pytest.mark.parametrize("factor", [1.05, 1.3, 1.9, 2.6])
def test_a_stretch_in_eight_bits_leaves_its_share_of_gaps(factor):
    """n codes spread over factor n leave 1 - 1 / factor of them empty."""
    codes = np.rint(255 * ramp() / factor)
    use, _ = used(np.rint(codes * factor).astype(np.uint8))
    assert use.is_combed
    assert use.gaps / use.codes == pytest.approx(1 - 1 / factor, abs=0.03)


def test_a_stretch_before_rounding_leaves_none():
    use, _ = used(np.rint(255 * (ramp() - 0.1) * 1.15).astype(np.uint8))
    assert use.gaps == 0


def test_codes_beside_a_crowded_tone_are_not_missing():
    """Broad tones with sharp ends, ten codes apart."""
    place = np.arange(ramp().size).reshape(ramp().shape)
    codes = 50 + 20 * (place // 500 % 8) + place % 11
    use, _ = used(codes.astype(np.uint8))
    assert use.gaps == 0


def test_rare_codes_are_not_missing_ones():
    """Three flat tones, with nothing between them."""
    flat = np.array([60, 130, 200], dtype=np.uint8)
    place = np.arange(ramp().size).reshape(ramp().shape) // 200 % 3
    use, _ = used(flat[place])
    assert not use.is_combed


@pytest.mark.parametrize("factor", [256, 257])
def test_eight_bits_in_a_file_of_sixteen(factor):
    eight = np.rint(255 * ramp()).astype(np.uint16)
    use, source = used((eight * factor).astype(np.uint16))
    assert use.bits == 8
    (found,) = depth_findings(use, source)
    assert found.what == "the file has 16 bits, its codes only 8"
    use, source = used(np.rint(65535 * ramp()).astype(np.uint16))
    assert use.bits == 16
    assert depth_findings(use, source) == []
    combed, _ = used((np.rint(np.rint(eight * 0.6) * 1.5) * factor).astype(np.uint16))
    assert combed.is_combed


def test_ends_count_where_all_channels_stand_there():
    codes = np.rint(255 * np.repeat(ramp(), 3, axis=2)).astype(np.uint8)
    codes[::2, :, 0] = 0
    use, _ = used(codes)
    assert use.black == 0
    codes[::2, ::5] = 0
    codes[1::2, ::5] = 255
    use, _ = used(codes)
    assert use.black == pytest.approx(0.1, abs=0.01)
    assert use.white == pytest.approx(0.1, abs=0.01)
