"""The response: print density against negative level, with its standard error.

Knows the finished response alone; fitting is left to `solving`.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from negcurve.errors import InvalidValueError
from negcurve.values import FloatArray, frozen


@dataclass(frozen=True, eq=False, kw_only=True)
class Response:
    """Print density against negative level on the monotone, measured part.

    Attributes
    ----------
    level_nodes : array, shape (n,)
        Negative levels, strictly increasing. [1]
    density_nodes : array, shape (n,)
        Print density, non-decreasing. [D]
    error_nodes : array, shape (n,)
        Standard error of the density: within the sheet for one sheet; with what is
        unknown of the mean of sheets for several. [D]
    sheet_error : float
        Standard deviation from sheet to sheet. [D]
    sheets : int
        Prints that the response is the mean of; 1 where it follows the newest.
    """

    level_nodes: FloatArray
    density_nodes: FloatArray
    error_nodes: FloatArray
    sheet_error: float = 0.03
    sheets: int = 1

    def __post_init__(self) -> None:
        for name in ("level_nodes", "density_nodes", "error_nodes"):
            object.__setattr__(self, name, frozen(getattr(self, name), name))
        count = len(self.level_nodes)
        if count < 2 or {len(self.density_nodes), len(self.error_nodes)} != {count}:
            raise InvalidValueError("needs two or more whole nodes", where="response")
        if not (np.diff(self.level_nodes) > 0).all():
            raise InvalidValueError("must rise strictly", where="level_nodes")
        if not (np.diff(self.density_nodes) >= 0).all():
            raise InvalidValueError("must not fall", where="density_nodes")
        if not (self.error_nodes >= 0).all() or self.sheet_error < 0:
            raise InvalidValueError("must not be negative", where="error_nodes")

    @property
    def domain(self) -> tuple[float, float]:
        """Lowest and highest negative level of the monotone, measured part."""
        return float(self.level_nodes[0]), float(self.level_nodes[-1])

    def density(self, negative_level: npt.ArrayLike) -> FloatArray:
        """Return the print density at each level; NaN outside the domain.

        Parameters
        ----------
        negative_level : array, any shape
            [1]

        Returns
        -------
        array, same shape
            Linear between nodes. [D]
        """
        return self._between(negative_level, self.density_nodes)

    def standard_error(self, negative_level: npt.ArrayLike) -> FloatArray:
        """Return the standard error of `density`, as far as sheets were read. [D].

        Of one sheet this is the error of its readings alone; of several it holds what
        their differences leave unknown of the mean as well.
        """
        return self._between(negative_level, self.error_nodes)

    def next_print_error(self, negative_level: npt.ArrayLike) -> FloatArray:
        """Return the standard deviation of a new print about `density`. [D].

        The new sheet's own spread and the error of the response. One sheet alone
        cannot tell how far it lies from the mean of sheets, so its spread counts
        twice; with several, the error of the response holds that already.
        """
        times = 2 if self.sheets == 1 else 1
        spread = times * self.sheet_error**2
        return np.sqrt(self.standard_error(negative_level) ** 2 + spread)

    def negative_level(self, density: npt.ArrayLike) -> FloatArray:
        """Return the level that prints each density; NaN where none does.

        On a flat, the level nearest the middle of the response is taken: the upper
        end of a flat in the lower half, the lower end of one in the upper half.

        Parameters
        ----------
        density : array, any shape
            [D]

        Returns
        -------
        array, same shape
            [1]
        """
        wanted = np.asarray(density, dtype=np.float64)
        low, high = self.density_nodes[0], self.density_nodes[-1]
        first, first_level = _strict(self.density_nodes, self.level_nodes, last=False)
        last, last_level = _strict(self.density_nodes, self.level_nodes, last=True)
        upper = np.interp(wanted, first, first_level)
        lower = np.interp(wanted, last, last_level)
        level = np.where(wanted > (low + high) / 2, upper, lower)
        slack = 1e-9 * max(1.0, abs(high))
        known = (wanted >= low - slack) & (wanted <= high + slack)
        return np.asarray(np.where(known, level, np.nan))

    def _between(self, negative_level: npt.ArrayLike, values: FloatArray) -> FloatArray:
        level = np.asarray(negative_level, dtype=np.float64)
        inside = (level >= self.level_nodes[0]) & (level <= self.level_nodes[-1])
        return np.asarray(
            np.where(inside, np.interp(level, self.level_nodes, values), np.nan)
        )


def _strict(
    density: FloatArray, level: FloatArray, *, last: bool
) -> tuple[FloatArray, FloatArray]:
    """Keep one node of every flat: its last level, or its first."""
    rises = np.diff(density) > 0
    kept = np.append(rises, True) if last else np.append(True, rises)
    return density[kept], level[kept]
