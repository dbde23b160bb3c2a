"""Reflection step wedge on the glass: known neutral densities beside a print.

Knows what the wedge looks like and where it was laid; the scanner sees it with the
print, and what it says about the scan is the work of `negcurve.reading`.
"""

import math
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from negcurve.errors import InvalidValueError
from negcurve.simulation.fields import MM_PER_INCH, Image, grain, sampled

Places = npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class ReflectionWedge:
    """A matt, neutral step wedge.

    Attributes
    ----------
    density : tuple of float
        Of each step, as its maker states it, in order. [D]
    step_mm, width_mm : float
        Length of a step along the wedge, and the wedge's width. [mm]
    border_mm : float
        Width of the wedge's own border; 0 for a wedge cut to its steps. [mm]
    border_density : float
        Of that border. [D]
    grain : float
        Deviation of density by texture. [D]
    grain_mm : float
        Size of the texture. [mm]
    """

    density: tuple[float, ...] = tuple(round(0.05 + 0.1 * k, 2) for k in range(20))
    step_mm: float = 6.0
    width_mm: float = 12.0
    border_mm: float = 0.0
    border_density: float = 0.06
    grain: float = 0.004
    grain_mm: float = 0.08

    def __post_init__(self) -> None:
        if len(self.density) < 2 or min(self.density) < 0:
            raise InvalidValueError("needs two densities of 0 or more", where="density")

    @property
    def size_mm(self) -> tuple[float, float]:
        """Length and width in mm, with the border."""
        length = len(self.density) * self.step_mm
        return length + 2 * self.border_mm, self.width_mm + 2 * self.border_mm

    def reflectance_image(self, *, resolution_ppi: float, seed: int) -> Image:
        """Draw the wedge, first step at the left.

        Parameters
        ----------
        resolution_ppi : float
        seed : int
            Of the texture.

        Returns
        -------
        array, shape (rows, columns)
            Luminance factor, 0..1.
        """
        per_mm = resolution_ppi / MM_PER_INCH
        columns, rows = (max(1, round(side * per_mm)) for side in self.size_mm)
        along = (np.arange(columns) + 0.5) / per_mm - self.border_mm
        across = (np.arange(rows) + 0.5) / per_mm - self.border_mm
        step = np.floor(along / self.step_mm).astype(int)
        inside = (step >= 0) & (step < len(self.density))
        steps = np.array(self.density)[np.clip(step, 0, len(self.density) - 1)]
        density = np.where(inside, steps, self.border_density)[None, :]
        within = ((across >= 0) & (across < self.width_mm))[:, None]
        density = np.where(within, density, self.border_density).astype(np.float32)
        noise = grain(
            (rows, columns),
            size_px=self.grain_mm * per_mm,
            rng=np.random.default_rng(seed),
        )
        # The maker measured the mean reflectance, which even grain would raise.
        density += np.float32(self.grain) * noise
        density += np.float32(self.grain**2 * math.log(10) / 2)
        return np.asarray(np.float32(10.0) ** -density)


@dataclass(frozen=True, kw_only=True)
class LaidWedge:
    """A wedge beside a print on the glass.

    Attributes
    ----------
    wedge : ReflectionWedge
    side : {"left", "right", "top", "bottom"}
        Of the print, as it reads right.
    gap_mm : float
        Between the print's edge and the wedge, where they are nearest. [mm]
    along : float
        Where along that side, 0 at its left or upper end, 1 at the other.
    quarter_turns : int
        Of the wedge, counter-clockwise; at 0 its first step is at its left.
    askew_deg : float
        Turn against the print, clockwise. [degree]
    """

    wedge: ReflectionWedge
    side: Literal["left", "right", "top", "bottom"] = "right"
    gap_mm: float = 4.0
    along: float = 0.5
    quarter_turns: int = 1
    askew_deg: float = 0.0

    @property
    def _spans(self) -> tuple[float, float]:
        """How far it reaches across and down in mm, askew as it lies."""
        long, wide = self.wedge.size_mm
        angle = math.radians(90 * self.quarter_turns - self.askew_deg)
        along, across = abs(math.cos(angle)), abs(math.sin(angle))
        return long * along + wide * across, long * across + wide * along

    def centre_mm(self, size_mm: tuple[float, float]) -> tuple[float, float]:
        """Middle of the wedge in mm, from the top left of a print of a size."""
        width, height = size_mm
        across, down = self._spans
        if self.side in ("left", "right"):
            away = self.gap_mm + across / 2
            x = -away if self.side == "left" else width + away
            return x, _within(height, down, self.along)
        away = self.gap_mm + down / 2
        y = -away if self.side == "top" else height + away
        return _within(width, across, self.along), y

    def box_mm(self, size_mm: tuple[float, float]) -> tuple[float, float, float, float]:
        """Left, top, right and bottom in mm, from the top left of the print."""
        x, y = self.centre_mm(size_mm)
        across, down = self._spans
        return x - across / 2, y - down / 2, x + across / 2, y + down / 2

    def place(
        self, x_mm: npt.ArrayLike, y_mm: npt.ArrayLike, *, size_mm: tuple[float, float]
    ) -> tuple[Places, Places]:
        """Where a place beside a print of a size lies on the wedge.

        Parameters
        ----------
        x_mm, y_mm : arrays of one shape
            From the top left of the print. [mm]
        size_mm : (width, height)
            Of the print. [mm]

        Returns
        -------
        along, across : arrays, same shape
            From the wedge's corner at its first step. [mm]
        """
        centre = self.centre_mm(size_mm)
        x = np.asarray(x_mm, dtype=np.float64) - centre[0]
        y = np.asarray(y_mm, dtype=np.float64) - centre[1]
        angle = math.radians(self.askew_deg - 90 * self.quarter_turns)
        along = math.cos(angle) * x + math.sin(angle) * y
        across = math.cos(angle) * y - math.sin(angle) * x
        length, width = self.wedge.size_mm
        return along + length / 2, across + width / 2


def _within(side: float, span: float, along: float) -> float:
    """Middle of a span on a side; one longer than the side is centred on it."""
    if span >= side:
        return side / 2
    return span / 2 + along * (side - span)


def drawn_wedge(wedge: LaidWedge | None, resolution_ppi: float, seed: int) -> Image:
    """Draw a wedge as it lies straight; nothing, of no size, where there is none."""
    if wedge is None:
        return np.empty((0, 0), dtype=np.float32)
    return wedge.wedge.reflectance_image(resolution_ppi=resolution_ppi, seed=seed)


def lay_wedge(
    image: Image, drawn: Image, x: npt.NDArray[Any], y: npt.NDArray[Any]
) -> None:
    """Lay a drawn wedge on part of a scan in place.

    Parameters
    ----------
    image : array, shape (rows, columns)
        Luminance factors, changed.
    drawn : array
        The wedge.
    x, y : arrays, shape (rows, columns)
        Where on the wedge each pixel of the image looks. [px of `drawn`]
    """
    rows, columns = drawn.shape
    # Half covered at its edge, soft over one pixel.
    inside = np.minimum(np.minimum(x, columns - x), np.minimum(y, rows - y)) + 0.5
    near = inside > 0
    share = np.clip(inside[near], 0, 1).astype(np.float32)
    place = np.clip(x[near], 0.5, columns - 0.5), np.clip(y[near], 0.5, rows - 0.5)
    image[near] = (1 - share) * image[near] + share * sampled(drawn, *place, 0.0)
