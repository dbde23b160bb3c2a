"""One cause of unevenness: what it is fixed to, how large, where."""

from dataclasses import dataclass
from typing import Literal

from negcurve.watch.shapes import Shape

Origin = Literal["lamp", "coating", "lamp or coating"]

CLEAR = 20.0
"""Gain of twice the log likelihood from which a mark counts as found.

For about 700 marks looked for. From simulation: with it about one healthy sheet in 80
with strong brush streaks is said to have a dead row, and hardly any other, see
`tests/benchmarks/unevenness.py`.
"""

SMALLEST = 0.02
"""Marks smaller than this are of no consequence for a print. [D]"""


@dataclass(frozen=True, kw_only=True)
class Cause:
    """One cause of unevenness that stands out.

    Attributes
    ----------
    mark : str
        `band`, `edge`, `corners`, `patch`, `tilt` or `streaks`.
    origin : {"lamp", "coating", "lamp or coating"}
        What it is fixed to, as far as can be told.
    size, error : float
        Density it adds at mid-tone where it is largest, and standard error. [D]
    shape : Shape or None
        Where it lies.
    gain : float
        Twice the gain of log likelihood.
    sheet : int or None
        The sheet it lies on, None for both.
    """

    mark: str
    origin: Origin
    size: float
    error: float
    shape: Shape | None = None
    gain: float = 0.0
    sheet: int | None = None
