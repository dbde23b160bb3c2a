import numpy as np
import pytest
from numpy.testing import assert_allclose
from PIL import Image, ImageFilter

from negcurve.errors import InvalidValueError
from negcurve.simulation.software import ScanSoftware


def picture(seed=1, shape=(200, 300, 3)):
    return np.random.default_rng(seed).uniform(0.2, 0.7, shape).astype(np.float32)


def test_nothing_is_changed_by_default():
    levels = picture()
    assert_allclose(ScanSoftware().applied(levels), levels)


def test_auto_levels_stretch_between_percentiles():
    levels = picture()
    levels[..., 2] *= 0.5
    software = ScanSoftware(auto_levels="channels", black_percent=1, white_percent=2)
    found = software.applied(levels)
    for channel in range(3):
        assert_allclose((found[..., channel] == 0).mean(), 0.01, atol=0.004)
        assert_allclose((found[..., channel] == 1).mean(), 0.02, atol=0.006)
    together = ScanSoftware(auto_levels="picture").applied(levels)
    assert together[..., 2].max() < 0.5
    assert together[..., 0].max() == 1


def test_the_curve_is_steepest_in_the_middle_and_keeps_its_ends():
    level = np.linspace(0, 1, 1001, dtype=np.float32).reshape(1, -1, 1)
    bent = ScanSoftware(contrast=4).applied(level).ravel()
    assert_allclose(bent[[0, 500, 1000]], [0, 0.5, 1], atol=1e-6)
    slope = np.diff(bent) * 1000
    assert (slope > 0).all()
    # Logistic curve of steepness 4: 1 / tanh(1) in the middle.
    assert_allclose(slope.max(), 1 / np.tanh(1), atol=0.01)


def test_sharpening_is_an_unsharp_mask():
    # Reference: Pillow's UnsharpMask, whose radius is a standard deviation and whose
    # gaussian is approximated by three box blurs of 8-bit codes.
    edge = np.full((60, 60), 90, np.uint8)
    edge[:, 30:] = 150
    expected = np.asarray(
        Image.fromarray(edge).filter(ImageFilter.UnsharpMask(2, 80, 0))
    )
    software = ScanSoftware(sharpening=0.8, sharpening_px=2)
    found = software.applied((edge / np.float32(255))[..., None])[..., 0] * 255
    assert found.max() > 165
    assert_allclose(found, expected, atol=2.5)


def test_less_than_nothing_is_refused():
    with pytest.raises(InvalidValueError, match="0 or more"):
        ScanSoftware(sharpening=-1)
