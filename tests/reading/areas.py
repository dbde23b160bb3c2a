"""One patch alone, drawn as light, for the tests of reading areas."""

import numpy as np
from scipy import ndimage

from negcurve.reading.geometry import Geometry
from negcurve.reading.patches import read_areas
from negcurve.target.layout import Box
from tests.reading.prints import ArraySource, GammaEncoding

PX_PER_MM = 12.0
BOX = Box(left_mm=2, top_mm=2, width_mm=12, height_mm=10)
GREY = GammaEncoding(1.0)


def area(picture, *, bits=16, angle=0.0, encoding=GREY):
    """Read the one patch of a picture of 16 x 14 mm."""
    largest = 2**bits - 1
    kind = np.uint8 if bits == 8 else np.uint16
    codes = np.rint(np.clip(picture, 0, 1) * largest).astype(kind)
    if codes.ndim == 2:
        codes = codes[:, :, None]
    turn = np.radians(angle)
    middle = np.array([8.0, 7.0])
    matrix = np.eye(3)
    matrix[:2, :2] = PX_PER_MM * np.array(
        [[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]
    )
    matrix[:2, 2] = PX_PER_MM * middle - matrix[:2, :2] @ middle
    geometry = Geometry(matrix=matrix, size_mm=(16, 14))
    return read_areas(ArraySource(codes), encoding, geometry, [BOX])[0]


def flat(value):
    return np.full((round(14 * PX_PER_MM), round(16 * PX_PER_MM)), value)


def texture(seed, grain_mm=0.15):
    rng = np.random.default_rng(seed)
    coarse = ndimage.gaussian_filter(
        rng.normal(size=flat(0).shape), grain_mm * PX_PER_MM
    )
    return coarse / coarse.std()
