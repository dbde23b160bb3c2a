"""Dust and hairs on the scanner's glass, between it and the print."""

import math

import numpy as np

from negcurve.simulation.fields import MM_PER_INCH, Image


def add_dust(
    image: Image,
    *,
    resolution_ppi: float,
    dust_count: int,
    hair_count: int,
    rng: np.random.Generator,
) -> None:
    """Lay specks and hairs on a picture in place.

    Parameters
    ----------
    image : array, shape (rows, columns)
        Luminance factors, changed.
    resolution_ppi : float
    dust_count, hair_count : int
    rng : Generator
    """
    per_mm = resolution_ppi / MM_PER_INCH
    rows, columns = image.shape
    for number in range(dust_count):
        place = rng.uniform(0, rows), rng.uniform(0, columns)
        radius = rng.uniform(0.06, 0.3) * per_mm
        _dab(image, place, radius, 0.75 if number % 3 else 0.05)
    for _ in range(hair_count):
        length = rng.uniform(4, 18) * per_mm
        bend = rng.normal(0, 2.5 / length)
        place, angle = (
            (rng.uniform(0, rows), rng.uniform(0, columns)),
            rng.uniform(0, 2 * math.pi),
        )
        for _ in range(int(length)):
            angle += bend
            place = place[0] + math.sin(angle), place[1] + math.cos(angle)
            _dab(image, place, 0.04 * per_mm, 0.35)


def _dab(image: Image, place: tuple[float, float], radius: float, light: float) -> None:
    """Lay a speck of a luminance factor on the image, soft at its rim."""
    y, x = place
    reach = radius + 1
    top, left = max(0, int(y - reach)), max(0, int(x - reach))
    part = image[top : max(0, int(y + reach) + 2), left : max(0, int(x + reach) + 2)]
    if part.size == 0:
        return
    down, across = np.ogrid[: part.shape[0], : part.shape[1]]
    distance = np.hypot(down + top - y, across + left - x)
    share = np.clip(radius + 0.5 - distance, 0, 1).astype(np.float32)
    part *= 1 - share
    part += share * np.float32(light)
