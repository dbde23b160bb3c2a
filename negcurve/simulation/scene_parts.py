"""Drawing for the demo's picture: a canvas with its coordinates, blending, polygons."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt
from PIL import Image as Pictures
from PIL import ImageDraw

from negcurve.simulation.fields import Image

FINE = 4
"""Polygons are drawn this many times finer and averaged, for smooth edges."""


@dataclass(frozen=True, kw_only=True)
class Canvas:
    """Pixels with coordinates: x from 0 to 4/3, y from 0 at the top to 1.

    Attributes
    ----------
    width, height : int
        In pixels.
    """

    width: int
    height: int

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.height, self.width

    @cached_property
    def x(self) -> Image:
        """Coordinate across, shape (1, width)."""
        place = (np.arange(self.width) + 0.5) / self.width * (4 / 3)
        return place.astype(np.float32)[None, :]

    @cached_property
    def y(self) -> Image:
        """Coordinate down, shape (height, 1)."""
        place = (np.arange(self.height) + 0.5) / self.height
        return place.astype(np.float32)[:, None]


def blend(tone: Image, over: npt.ArrayLike, opacity: npt.ArrayLike) -> None:
    """Lay a tone over part of the picture, in place.

    Parameters
    ----------
    tone : array, shape (rows, columns)
    over, opacity : arrays that broadcast to that shape
        Tone laid, and its share, 0..1.
    """
    share = np.asarray(opacity, dtype=np.float32)
    tone += share * (np.asarray(over, dtype=np.float32) - tone)


def polygon(
    canvas: Canvas,
    tone: Image,
    corners: Sequence[tuple[float, float]],
    shade: float,
    *,
    opacity: float = 1.0,
) -> None:
    """Fill a polygon, given in the canvas's coordinates, in place."""
    across, down = canvas.width / (4 / 3), canvas.height
    points = np.array([(x * across, y * down) for x, y in corners])
    left, top = np.maximum(np.floor(points.min(axis=0)).astype(int) - 1, 0)
    right, bottom = np.ceil(points.max(axis=0)).astype(int) + 1
    part = tone[top:bottom, left:right]
    if part.size == 0:
        return
    size = part.shape[1] * FINE, part.shape[0] * FINE
    mask = Pictures.new("L", size)
    placed = [((x - left) * FINE, (y - top) * FINE) for x, y in points]
    ImageDraw.Draw(mask).polygon(placed, fill=255)
    share = np.asarray(mask.reduce(FINE), dtype=np.float32) / 255
    blend(part, shade, share * opacity)
