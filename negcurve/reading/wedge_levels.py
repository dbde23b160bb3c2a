"""Levels of a wedge's cells in each channel of a scan, as robust as of patches."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from negcurve.encoding import LINEAR_GREY
from negcurve.reading.patches import CLIPPED_SHARE, read_areas
from negcurve.reading.wedge_place import WedgePlace
from negcurve.values import CodeArray, Finding, FloatArray, ImageSource


@dataclass(frozen=True, eq=False, kw_only=True)
class CellLevels:
    """What a scan shows of a wedge, lightest cell first.

    Attributes
    ----------
    level, error : array, shape (n, channels)
        Mean level and its standard error, 0..1.
    clipped : array of bool, shape (n,)
        Whether any channel stands at its smallest or largest code.
    """

    level: FloatArray
    error: FloatArray
    clipped: npt.NDArray[np.bool_]


def cell_levels(source: ImageSource, place: WedgePlace) -> CellLevels:
    """Read the cells of a wedge.

    Parameters
    ----------
    source : ImageSource
        The scan.
    place : WedgePlace
        Where the wedge lies in it.

    Returns
    -------
    CellLevels
    """
    channels = [
        read_areas(ChannelOf(source, n), LINEAR_GREY, place.geometry, place.boxes)
        for n in range(source.channels)
    ]
    cells = list(zip(*channels, strict=True))
    return CellLevels(
        level=np.array([[each.reflectance for each in cell] for cell in cells]),
        error=np.array([[each.standard_error for each in cell] for cell in cells]),
        clipped=np.array(
            [
                max(max(each.clipped_low, each.clipped_high) for each in cell)
                > CLIPPED_SHARE
                for cell in cells
            ]
        ),
    )


@dataclass(frozen=True, eq=False)
class ChannelOf:
    """One channel of a scan, as a grey picture.

    Attributes
    ----------
    whole : ImageSource
    channel : int
    """

    whole: ImageSource
    channel: int
    channels: int = 1
    profile: bytes | None = None
    description: str = ""
    findings: tuple[Finding, ...] = ()

    @property
    def name(self) -> str:
        """File name."""
        return self.whole.name

    @property
    def height(self) -> int:
        """Rows."""
        return self.whole.height

    @property
    def width(self) -> int:
        """Columns."""
        return self.whole.width

    @property
    def dtype(self) -> np.dtype[Any]:
        """Type of the samples."""
        return self.whole.dtype

    @property
    def resolution_ppi(self) -> tuple[float, float] | None:
        """Pixels per inch."""
        return self.whole.resolution_ppi

    def rows(self, start: int, stop: int) -> CodeArray:
        """Return whole rows."""
        return self._one(self.whole.rows(start, stop))

    def window(self, top: int, left: int, height: int, width: int) -> CodeArray:
        """Return a rectangle."""
        return self._one(self.whole.window(top, left, height, width))

    def close(self) -> None:
        """Leave the scan open: it is someone else's."""

    def _one(self, codes: CodeArray) -> CodeArray:
        return codes[..., self.channel : self.channel + 1]
