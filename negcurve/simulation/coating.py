"""Brushed coating: how much sensitizer lies where, and where the brush stopped."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from negcurve.simulation.fields import (
    MM_PER_INCH,
    Image,
    knots_for,
    smooth_field,
    smooth_line,
)
from negcurve.values import FloatArray


@dataclass(frozen=True, kw_only=True)
class Coating:
    """How evenly the sensitizer lies on the sheet; coating weight has mean 1.

    Attributes
    ----------
    streaks : float
        Deviation of the weight from brush streaks along the stroke. [1]
    streak_mm : float
        Distance over which the weight varies across the stroke. [mm]
    clouds : float
        Deviation of the weight from slow unevenness. [1]
    stroke : {"down", "across"}
        Direction of the last brush strokes.
    speed_power : float
        Log exposure gained per log weight. [1]
    d_max_power : float
        Log of the density range gained per log weight. [1]
    edge_mm : float
        How far the ends of the strokes scatter. [mm]
    gaps : float
        Thin lines that the bristles left almost bare, for each 100 mm across the
        strokes. [1]
    """

    streaks: float = 0.02
    streak_mm: float = 3.0
    clouds: float = 0.02
    stroke: Literal["down", "across"] = "down"
    speed_power: float = 0.5
    d_max_power: float = 0.25
    edge_mm: float = 1.2
    gaps: float = 0.0

    def weight(
        self, shape: tuple[int, int], *, resolution_ppi: float, rng: np.random.Generator
    ) -> Image:
        """Coating weight over the sheet, shape (rows, columns), mean 1."""
        rows, columns = (n * MM_PER_INCH / resolution_ppi for n in shape)
        if self.stroke == "across":
            knots = knots_for(rows, self.streak_mm), knots_for(columns, 60)
        else:
            knots = knots_for(rows, 60), knots_for(columns, self.streak_mm)
        streaks = smooth_field(shape, knots=knots, rng=rng)
        slow = knots_for(rows, 70), knots_for(columns, 70)
        clouds = smooth_field(shape, knots=slow, rng=rng)
        streaks *= np.float32(self.streaks)
        clouds *= np.float32(self.clouds)
        streaks += clouds
        streaks += 1
        np.clip(streaks, 0.3, None, out=streaks)
        if self.gaps:
            self._brush_gaps(streaks, resolution_ppi, rng)
        return streaks

    def _brush_gaps(
        self, weight: Image, resolution_ppi: float, rng: np.random.Generator
    ) -> None:
        """Thin the weight along lines of 8 to 50 mm by 0.15 to 0.5 mm, in place."""
        per_mm = resolution_ppi / MM_PER_INCH
        along_it = weight if self.stroke == "down" else weight.T
        rows, columns = along_it.shape
        for _ in range(rng.poisson(self.gaps * columns / per_mm / 100)):
            start, place = rng.uniform(0, rows), rng.uniform(0, columns)
            length = rng.uniform(8, 50) * per_mm
            half = rng.uniform(0.15, 0.5) * per_mm / 2
            left = max(0, int(place - half - 1))
            part = along_it[
                int(start) : int(start + length), left : int(place + half + 2)
            ]
            distance = np.abs(left + np.arange(part.shape[1]) + 0.5 - place)
            share = np.clip(half + 0.5 - distance, 0, 1).astype(np.float32)
            part *= 1 - np.float32(0.9) * share

    def cover(
        self,
        shape: tuple[int, int],
        *,
        inset_mm: float,
        resolution_ppi: float,
        rng: np.random.Generator,
    ) -> Image:
        """Where the sheet is coated: 1 inside, 0 on bare paper, with a brush edge.

        Parameters
        ----------
        shape : (rows, columns)
        inset_mm : float
            Mean distance of the coating's edge from the sheet's. [mm]
        resolution_ppi : float
        rng : Generator

        Returns
        -------
        array, shape (rows, columns)
        """
        per_mm = resolution_ppi / MM_PER_INCH
        down, across = np.arange(shape[0]) / per_mm, np.arange(shape[1]) / per_mm
        mask = np.ones(shape, dtype=np.float32)
        for place, along_px, ends in (
            (down, shape[1], self.stroke == "down"),
            (across, shape[0], self.stroke == "across"),
        ):
            for distance in (place, place[::-1]):
                edge = inset_mm + self._edge(along_px, along_px / per_mm, ends, rng)
                near = distance < inset_mm + 5 * self.edge_mm
                # The brush leaves the paper within a fifth of a millimetre.
                part = (distance[near][:, None] - edge[None, :]) / 0.2 + 0.5
                part = np.clip(part, 0.0, 1.0).astype(np.float32)
                if place is down:
                    mask[near] *= part
                else:
                    mask[:, near] *= part.T
        return mask

    def _edge(
        self, count: int, length_mm: float, ends: bool, rng: np.random.Generator
    ) -> FloatArray:
        """Scatter of an edge in mm, shape (count,): bristles where strokes end."""
        slow = smooth_line(count, knots=knots_for(length_mm, 35), rng=rng)
        if not ends:
            return np.asarray(0.6 * self.edge_mm * slow, dtype=np.float64)
        stroke = smooth_line(count, knots=knots_for(length_mm, 7), rng=rng)
        bristle = smooth_line(count, knots=knots_for(length_mm, 0.8), rng=rng)
        scatter = 0.4 * slow + 0.6 * stroke + 0.35 * bristle
        return np.asarray(self.edge_mm * scatter, dtype=np.float64)
