"""The aim: which print density each image tone should have.

Knows tones and densities; the readings and the response are left to `solving`.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from negcurve.density import (
    density_from_lightness,
    density_from_reflectance,
    lightness_from_density,
    reflectance_from_density,
)
from negcurve.errors import InvalidValueError
from negcurve.values import FloatArray, frozen

Scale = Literal["lightness", "density", "luminance"]


@dataclass(frozen=True, eq=False, kw_only=True)
class Aim:
    """Wanted print density against image tone; falls.

    Attributes
    ----------
    name : str
        `lightness`, `density`, `luminance`, or what the aim was taken from.
    tone_nodes : array, shape (n,)
        Image tones, strictly increasing from 0 to 1. [1]
    density_nodes : array, shape (n,)
        Wanted print density, not rising. [D]
    scale : {"lightness", "density", "luminance"}
        The scale in which the aim runs straight between its nodes.
    """

    name: str
    tone_nodes: FloatArray
    density_nodes: FloatArray
    scale: Scale = "lightness"

    def __post_init__(self) -> None:
        for name in ("tone_nodes", "density_nodes"):
            object.__setattr__(self, name, frozen(getattr(self, name), name))
        tone, density = self.tone_nodes, self.density_nodes
        if len(tone) != len(density) or len(tone) < 2:
            raise InvalidValueError(
                f"{len(tone)} tones and {len(density)} densities", where="aim"
            )
        if tone[0] != 0 or tone[-1] != 1 or not (np.diff(tone) > 0).all():
            raise InvalidValueError(
                "image tones must rise from 0 to 1 without repeating",
                where=f"aim {self.name}",
                fix="Give the first row image_tone 0 (black), the last 1 (white).",
            )
        if (np.diff(density) > 0).any() or not density[0] > density[-1]:
            raise InvalidValueError(
                "must get lighter from image tone 0 to 1", where=f"aim {self.name}"
            )

    def density(self, image_tone: npt.ArrayLike) -> FloatArray:
        """Return the wanted print density for each image tone.

        Parameters
        ----------
        image_tone : array, any shape
            0 black to 1 white. [1]

        Returns
        -------
        array, same shape
            [D]
        """
        tone = np.asarray(image_tone, dtype=np.float64)
        nodes = _to_scale(self.density_nodes, self.scale)
        return _from_scale(np.interp(tone, self.tone_nodes, nodes), self.scale)

    def lightness(self, image_tone: npt.ArrayLike) -> FloatArray:
        """Return the wanted print L* for each image tone, same shape."""
        return lightness_from_density(self.density(image_tone))


def _to_scale(density: npt.ArrayLike, scale: Scale) -> FloatArray:
    if scale == "lightness":
        return lightness_from_density(density)
    if scale == "luminance":
        return reflectance_from_density(density)
    return np.asarray(density, dtype=np.float64)


def _from_scale(value: npt.ArrayLike, scale: Scale) -> FloatArray:
    if scale == "lightness":
        return density_from_lightness(value)
    if scale == "luminance":
        return density_from_reflectance(value)
    return np.asarray(value, dtype=np.float64)
