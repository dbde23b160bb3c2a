"""The aim: which print density each image tone should have.

Knows tones and densities; the readings and the response are left to `solving`.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from negcurve.density import (
    density_from_lightness,
    density_from_reflectance,
    lightness_from_density,
    reflectance_from_density,
)
from negcurve.errors import InvalidValueError, SolveError
from negcurve.values import Finding, FloatArray, frozen

Scale = Literal["lightness", "density", "luminance"]

AIMS: tuple[Scale, ...] = ("lightness", "density", "luminance")

NODES = 513
"""Even image tones at which an aim that was cut or stretched is kept."""

UNSEEN = 0.005
"""Difference from an aim that nobody sees. [D]"""


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
                "must get lighter from image tone 0 to 1",
                where=f"aim {self.name}",
                fix="Image tone 0 is black, 1 white; density falls, lightness rises.",
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

    def document(self) -> dict[str, Any]:
        """Return plain values that `from_document` makes the same aim of."""
        return {
            "name": self.name,
            "tone_nodes": self.tone_nodes.tolist(),
            "density_nodes": self.density_nodes.tolist(),
            "scale": self.scale,
        }

    @classmethod
    def from_document(cls, document: Mapping[str, Any]) -> "Aim":
        """Return the aim of plain values."""
        return cls(**document)


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


def straight_aim(name: str, *, black_density: float, white_density: float) -> Aim:
    """Make the aim that runs straight between two densities in one scale.

    Parameters
    ----------
    name : {"lightness", "density", "luminance"}
    black_density, white_density : float
        Of image tones 0 and 1. [D]

    Returns
    -------
    Aim
    """
    if name not in AIMS:
        raise InvalidValueError(
            f"{name!r} is not known", where="aim", fix=f"Use {', '.join(AIMS)}."
        )
    return Aim(
        name=name,
        tone_nodes=np.array([0.0, 1.0]),
        density_nodes=np.array([black_density, white_density]),
        scale=next(each for each in AIMS if each == name),
    )


def scaled_aim(aim: Aim, *, black_density: float, white_density: float) -> Aim:
    """Stretch an aim in lightness to new ends; its tones keep their relations.

    Parameters
    ----------
    aim : Aim
    black_density, white_density : float
        New ends. [D]

    Returns
    -------
    Aim
    """
    tone = np.linspace(0, 1, NODES)
    old = aim.lightness(tone)
    share = (old - old[0]) / (old[-1] - old[0])
    black, white = lightness_from_density([black_density, white_density])
    return Aim(
        name=aim.name,
        tone_nodes=tone,
        density_nodes=density_from_lightness(black + share * (white - black)),
        scale="lightness",
    )


def reachable_aim(
    aim: Aim, *, black_density: float, white_density: float
) -> tuple[Aim, tuple[Finding, ...]]:
    """Cut an aim to what the print reaches, and say what it does not.

    Parameters
    ----------
    aim : Aim
    black_density, white_density : float
        Darkest and lightest within reach. [D]

    Returns
    -------
    Aim, tuple of Finding
    """
    tone = np.linspace(0, 1, NODES)
    wanted = aim.density(tone)
    reached = np.clip(wanted, white_density, black_density)
    findings = [
        Finding(
            severity="warning",
            where=f"aim {aim.name}",
            what=f"asks for D {wanted[end]:.2f}, {word} than this print reaches; "
            f"{beyond.mean():.0%} of the tones get D {reached[end]:.2f} "
            f"(L* {float(lightness_from_density(reached[end])):.1f}) instead",
        )
        for word, end, beyond in (
            ("darker", 0, wanted > black_density + UNSEEN),
            ("lighter", -1, wanted < white_density - UNSEEN),
        )
        if beyond.any()
    ]
    if reached[0] <= reached[-1]:
        raise SolveError(
            f"asks for D {wanted[0]:.2f} to {wanted[-1]:.2f}, all beyond what the "
            f"print reaches (D {black_density:.2f} to {white_density:.2f})",
            where=f"aim {aim.name}",
            fix="Ask for densities within that, or stretch the aim with --scale-aim.",
        )
    if not findings and (wanted == reached).all():
        return aim, ()
    cut = Aim(name=aim.name, tone_nodes=tone, density_nodes=reached, scale=aim.scale)
    return cut, tuple(findings)
