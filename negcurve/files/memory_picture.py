"""A picture held in memory as an `ImageSource`: PNG, JPEG, and what tests draw."""

from dataclasses import dataclass
from typing import Any, Self

import numpy as np

from negcurve.errors import InvalidValueError
from negcurve.files.upright import check_window
from negcurve.values import CodeArray, Finding


@dataclass(frozen=True, eq=False, kw_only=True)
class MemoryPicture:
    """An upright picture in memory.

    Attributes
    ----------
    name : str
        For messages.
    array : array of uint8, uint16 or float32, shape (rows, columns, 1 or 3)
        Codes, 0 is black. A two-dimensional array is taken as grey.
    resolution_ppi : pair of float or None
        Across and down. [pixels per inch]
    profile : bytes or None
        ICC profile.
    description : str
    findings : tuple of Finding
        What was done to the file on the way in.
    """

    name: str
    array: CodeArray
    resolution_ppi: tuple[float, float] | None = None
    profile: bytes | None = None
    description: str = ""
    findings: tuple[Finding, ...] = ()

    def __post_init__(self) -> None:
        array = np.asarray(self.array)
        if array.ndim == 2:
            array = array[..., np.newaxis]
        if array.ndim != 3 or array.shape[2] not in (1, 3) or array.size == 0:
            raise InvalidValueError(
                f"has shape {array.shape}, not (rows, columns, 1 or 3)", where=self.name
            )
        if array.dtype not in (np.uint8, np.uint16, np.float32):
            raise InvalidValueError(
                f"has samples of type {array.dtype}", where=self.name
            )
        object.__setattr__(self, "array", array)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @property
    def height(self) -> int:
        """Rows of the picture, in pixels."""
        return int(self.array.shape[0])

    @property
    def width(self) -> int:
        """Columns of the picture, in pixels."""
        return int(self.array.shape[1])

    @property
    def channels(self) -> int:
        """1 for grey, 3 for RGB."""
        return int(self.array.shape[2])

    @property
    def dtype(self) -> np.dtype[Any]:
        """Type of the samples: uint8, uint16 or float32."""
        return self.array.dtype

    @property
    def in_any_order(self) -> bool:
        """Whether threads may read rows in any order at no extra cost."""
        return True

    def rows(self, start: int, stop: int) -> CodeArray:
        """Return a copy of whole rows start..stop-1."""
        return self.window(start, 0, stop - start, self.width)

    def window(self, top: int, left: int, height: int, width: int) -> CodeArray:
        """Return a copy of a rectangle that lies inside the picture."""
        window = (top, left, height, width)
        check_window(window, height=self.height, width=self.width, name=self.name)
        return self.array[top : top + height, left : left + width].copy()

    def close(self) -> None:
        """Do nothing; the picture goes with its last user."""
