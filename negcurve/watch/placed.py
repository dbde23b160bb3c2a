"""Readings with places: what each differs by from an even sheet.

Knows one sheet; finding causes is left to `evenness`.
"""

from dataclasses import dataclass, fields

import numpy as np

from negcurve.errors import ReadingsError
from negcurve.values import FloatArray, frozen

MOST = 170
"""Readings kept of one sheet; more are averaged over cells, which changes no band or
patch that could be seen.
"""


@dataclass(frozen=True, eq=False, kw_only=True)
class PlacedSheet:
    """What the readings of one print differ by from an even print of it.

    Attributes
    ----------
    x_mm, y_mm : array, shape (n,)
        From the top left of the print as it reads right, y down. [mm]
    difference : array, shape (n,)
        Measured less what an even sheet would give there. [D]
    exposure_weight : array, shape (n,)
        How strongly exposure acts on this tone, 1 at mid-tone. [1]
    coating_weight : array, shape (n,)
        How strongly coating weight acts on this tone, 1 at mid-tone. [1]
    width_mm, height_mm : float
        Of the sheet. [mm]
    turned : bool
        Whether the sheet lay under the lamp turned by 180 degrees.
    name : str
    """

    x_mm: FloatArray
    y_mm: FloatArray
    difference: FloatArray
    exposure_weight: FloatArray
    coating_weight: FloatArray
    width_mm: float
    height_mm: float
    turned: bool = False
    name: str = "1"

    def __post_init__(self) -> None:
        arrays = [each.name for each in fields(self)][:5]
        for name in arrays:
            object.__setattr__(self, name, frozen(getattr(self, name), name))
        lengths = {len(getattr(self, name)) for name in arrays}
        if len(lengths) != 1 or lengths.pop() < 12:
            raise ReadingsError(
                f"{len(self.x_mm)} placed readings are too few to tell unevenness",
                where=f"sheet {self.name}",
                fix="Use a target or an even sheet with 12 or more readings.",
            )
        spread = min(
            np.ptp(self.x_mm) / self.width_mm, np.ptp(self.y_mm) / self.height_mm
        )
        if spread < 0.3:
            raise ReadingsError(
                "the readings do not spread over the sheet",
                where=f"sheet {self.name}",
                fix="Read patches in every part of it.",
            )

    @property
    def even(self) -> bool:
        """Whether all readings are of one tone, so that weights tell nothing."""
        ratio = self.coating_weight - self.exposure_weight
        return bool(np.ptp(ratio) < 0.2)

    def in_lamp(
        self, x_mm: FloatArray, y_mm: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Return places as the lamp sees them: turned back by 180 degrees."""
        if not self.turned:
            return x_mm, y_mm
        return self.width_mm - x_mm, self.height_mm - y_mm

    def reduced(self) -> "PlacedSheet":
        """Average over square cells until few enough readings are left."""
        count = len(self.x_mm)
        if count <= MOST:
            return self
        size = float(np.sqrt(self.width_mm * self.height_mm / MOST)) * 1.02
        columns = int(np.ceil(self.width_mm / size))
        cell = (self.y_mm // size).astype(int) * columns + (self.x_mm // size).astype(
            int
        )
        _, group = np.unique(cell, return_inverse=True)
        sizes = np.bincount(group)

        def mean(values: FloatArray) -> FloatArray:
            return np.asarray(np.bincount(group, values) / sizes)

        return PlacedSheet(
            x_mm=mean(self.x_mm),
            y_mm=mean(self.y_mm),
            difference=mean(self.difference),
            exposure_weight=mean(self.exposure_weight),
            coating_weight=mean(self.coating_weight),
            width_mm=self.width_mm,
            height_mm=self.height_mm,
            turned=self.turned,
            name=self.name,
        )
