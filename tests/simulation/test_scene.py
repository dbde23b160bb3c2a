import numpy as np

from negcurve.simulation.scene import coast
from negcurve.simulation.scene_parts import Canvas, polygon


def test_picture_uses_every_tone_and_repeats_by_seed():
    tone = coast(width=240, height=180)
    assert tone.shape == (180, 240)
    counts, _ = np.histogram(tone, bins=10, range=(0, 1))
    assert (counts > 0.005 * tone.size).all()
    assert tone.min() < 0.01
    assert tone.max() > 0.99
    assert np.array_equal(tone, coast(width=240, height=180))
    assert not np.array_equal(tone, coast(width=240, height=180, seed=8))


def test_polygon_covers_its_area():
    canvas = Canvas(width=160, height=120)
    tone = np.zeros(canvas.shape, np.float32)
    # A quarter of the width and half of the height: an eighth of the picture.
    polygon(canvas, tone, [(0.2, 0.2), (0.2 + 1 / 3, 0.2), (0.2 + 1 / 3, 0.7),
                           (0.2, 0.7)], 1.0)  # fmt: skip
    assert abs(tone.mean() - 0.125) < 0.003
    polygon(canvas, tone, [(2.0, 2.0), (2.1, 2.0), (2.1, 2.1)], 1.0)
