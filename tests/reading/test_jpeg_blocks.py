import io

import numpy as np
import pytest
from PIL import Image

from negcurve.reading.jpeg_blocks import block_findings, block_trace
from negcurve.reading.scan import read_target
from tests.reading.prints import ArraySource, GammaEncoding, Print, SetUp

GAMMA = 2.2


@pytest.fixture(scope="module")
def codes(layout):
    made = Print(
        layout, SetUp(ppi=150, bits=8, scan_gamma=GAMMA, noise=0.004, grain=0.02)
    )
    return made.codes()[:, :, 0]


def through_jpeg(codes, quality):
    held = io.BytesIO()
    Image.fromarray(codes).save(held, "jpeg", quality=quality)
    return np.asarray(Image.open(held))


def read(codes, layout):
    channels = codes.reshape(*codes.shape[:2], -1)
    source = ArraySource(channels, resolution_ppi=(150, 150))
    encoding = GammaEncoding(GAMMA, channels=channels.shape[2])
    found = read_target(source, encoding, [layout])
    return block_trace(source, found.geometry, layout), found.readings.findings


@pytest.mark.parametrize(
    ("quality", "step"),
    # Table K.1 has 16 for the mean; scaled by 2 - quality / 50 or 50 / quality, over 8.
    [(80, 6 / 8), (74, 8 / 8), (65, 11 / 8), (50, 16 / 8), (30, 27 / 8)],
)
def test_the_rounding_of_a_jpeg_saved_as_another_file(layout, codes, quality, step):
    """Against the table in ITU-T T.81, annex K, scaled as Pillow's library does."""
    passed = through_jpeg(codes, quality)[5:, 3:]
    trace, findings = read(passed, layout)
    assert trace.mean_step == pytest.approx(step)
    assert trace.edges > 1.3
    warned = [each.what for each in findings if "JPEG" in each.what]
    assert len(warned) == (step > 1)


def test_colour_and_sixteen_bits(layout, codes):
    coloured = np.stack([codes, codes, (codes * 0.8).astype(np.uint8)], axis=2)
    passed = through_jpeg(coloured, 50).astype(np.uint16) * 257
    trace, _ = read(passed, layout)
    assert trace.mean_step == pytest.approx(2.0)


def test_scans_without_jpeg_show_none(layout, codes):
    trace, findings = read(codes, layout)
    assert trace.edges < 1.1
    assert trace.mean_step == 0
    assert block_findings(trace, ArraySource(codes[:, :, None])) == []
    assert findings == ()
    mild, findings = read(through_jpeg(codes, 95), layout)
    assert mild.mean_step < 1
    assert findings == ()


@pytest.mark.parametrize(("quality", "step"), [(50, 2.0), (30, 27 / 8)])
def test_even_patches_tell_it_too(layout, quality, step):
    """A scan with hardly any noise: most blocks come out even."""
    made = Print(
        layout, SetUp(ppi=150, bits=8, scan_gamma=GAMMA, noise=0.001, grain=0.005)
    )
    trace, _ = read(through_jpeg(made.codes()[:, :, 0], quality), layout)
    assert trace.mean_step == pytest.approx(step)


@pytest.mark.parametrize("quality", [50, 30])
@pytest.mark.parametrize("grain", [0.005, 0.03])
def test_patches_of_a_jpeg_are_read_with_honest_errors(layout, quality, grain):
    """Blocks of an even patch all round alike: their scatter does not show it."""
    made = Print(
        layout, SetUp(ppi=200, bits=8, scan_gamma=GAMMA, noise=0.002, grain=grain)
    )
    found = read_readings(made.codes()[:, :, 0], layout)
    passed = read_readings(through_jpeg(made.codes()[:, :, 0], quality), layout)
    assert not any(passed.flags)
    z = (passed.density - found.density) / passed.standard_error
    assert np.sqrt(np.mean(z**2)) < 1.5


def read_readings(codes, layout):
    source = ArraySource(codes[:, :, None], resolution_ppi=(200, 200))
    return read_target(source, GammaEncoding(GAMMA), [layout]).readings
