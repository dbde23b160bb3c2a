"""Small values that every room shares: checked arrays, findings, image protocols.

Knows nothing of densities, files or targets.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Literal, Protocol, runtime_checkable

import numpy as np
import numpy.typing as npt

from negcurve.errors import InvalidValueError

FloatArray = npt.NDArray[np.float64]
CodeArray = npt.NDArray[Any]

Progress = Callable[[str, float], None]
"""Called with what is being done and the share of it that is done, 0..1."""


def no_progress(what: str, share: float) -> None:
    """Report nothing; the default wherever a `Progress` is taken."""


def first_of(items: Sequence[object], most: int) -> str:
    """List the first of some items in a message: `a, b, c and more`.

    Parameters
    ----------
    items : sequence
    most : int
        So many are listed.
    """
    more = " and more" if len(items) > most else ""
    return ", ".join(str(each) for each in items[:most]) + more


def frozen(
    values: npt.ArrayLike, name: str, *, unknown_allowed: bool = False
) -> FloatArray:
    """Copy to a read-only one-dimensional float64 array.

    Parameters
    ----------
    values : array-like, shape (n,)
        Any real numbers.
    name : str
        What they are, for the message.
    unknown_allowed : bool
        Accept NaN as "not known". Infinity is refused either way.

    Returns
    -------
    array, shape (n,)
        Read-only copy.

    Raises
    ------
    InvalidValueError
        If the values are not one-dimensional or not finite.
    """
    array = np.array(values, dtype=np.float64)
    if array.ndim != 1:
        raise InvalidValueError(
            f"must be one-dimensional, has shape {array.shape}", where=name
        )
    bad = np.isinf(array) if unknown_allowed else ~np.isfinite(array)
    if bad.any():
        place = int(np.flatnonzero(bad)[0])
        raise InvalidValueError(
            f"must be finite, value {place + 1} is {array[place]}", where=name
        )
    array.setflags(write=False)
    return array


@dataclass(frozen=True, kw_only=True)
class Finding:
    """Something the reader of a result should know; the result stands.

    Attributes
    ----------
    severity : {"note", "warning"}
        A warning wants an action or a decision, a note does not.
    where : str
        File, patch or part that is meant; may be empty.
    what : str
        What was found, with figures.
    fix : str
        What to do; may be empty for a note.
    """

    severity: Literal["note", "warning"]
    what: str
    where: str = ""
    fix: str = ""

    def __str__(self) -> str:
        """Return `severity: where: what. fix`."""
        parts = [self.severity, self.where, self.what]
        text = ": ".join(part for part in parts if part)
        return f"{text}. {self.fix}" if self.fix else text


class ImageSource(Protocol):
    """A picture that is read in pieces, upright: file orientation already applied.

    Codes are as light as they look: 0 is black whatever the file's own convention.
    `rows` and `window` return shape (rows, columns, channels) with 1 (grey) or 3 (RGB)
    channels, dtype uint8, uint16 or float32 (levels, 0..1).
    """

    @property
    def name(self) -> str:
        """File name, for messages."""
        ...

    @property
    def height(self) -> int:
        """Rows of the upright picture, in pixels."""
        ...

    @property
    def width(self) -> int:
        """Columns of the upright picture, in pixels."""
        ...

    @property
    def channels(self) -> int:
        """1 for grey, 3 for RGB."""
        ...

    @property
    def dtype(self) -> np.dtype[Any]:
        """Type of the samples: uint8, uint16 or float32."""
        ...

    @property
    def resolution_ppi(self) -> tuple[float, float] | None:
        """Pixels per inch across and down, None where the file states no unit."""
        ...

    @property
    def profile(self) -> bytes | None:
        """Embedded ICC profile."""
        ...

    @property
    def description(self) -> str:
        """Image description, empty where there is none."""
        ...

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What was done to the file on the way in: alpha flattened and the like."""
        ...

    def rows(self, start: int, stop: int) -> CodeArray:
        """Return whole rows start..stop-1."""
        ...

    def window(self, top: int, left: int, height: int, width: int) -> CodeArray:
        """Return a rectangle that lies inside the picture."""
        ...

    def close(self) -> None:
        """Let go of the file."""
        ...


class StripSink(Protocol):
    """An image that is written from top to bottom in strips."""

    def write(self, rows: CodeArray) -> None:
        """Append rows, shape (rows, columns) for grey or (rows, columns, 3)."""
        ...


@runtime_checkable
class PlacedSink(StripSink, Protocol):
    """A sink that may take rows in any order and from any thread."""

    @property
    def in_any_order(self) -> bool:
        """Whether it does; `write_at` is of use only then."""
        ...

    def write_at(self, top: int, rows: CodeArray) -> None:
        """Write rows in their place, the first of them row `top`; each row once."""
        ...


def placed(sink: StripSink) -> PlacedSink | None:
    """Return a sink as one that takes rows in any order, None where it does not."""
    return sink if isinstance(sink, PlacedSink) and sink.in_any_order else None
