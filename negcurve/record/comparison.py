"""Two calibrations side by side: circumstances, ends, response, table.

Knows finished calibrations; nothing is solved anew.
"""

from dataclasses import dataclass

import numpy as np

from negcurve.density import lightness_from_density
from negcurve.record.entry import Entry
from negcurve.response.solution import Solution
from negcurve.values import FloatArray


@dataclass(frozen=True, eq=False, kw_only=True)
class Comparison:
    """What differs between two calibrations.

    Attributes
    ----------
    one, two : Entry
    circumstances : dict of str to (str, str)
        Those that differ; empty text where one does not tell.
    negative_level : array, shape (n,)
        Levels that both responses cover. [1]
    density_one, density_two : array, shape (n,)
        [D]
    image_tone : array, shape (m,)
    level_one, level_two : array, shape (m,)
        What each table gives. [1]
    lightness_error : array, shape (m,)
        L* printed by the first process through the second table, less its own; NaN
        where the first response does not reach.
    usual : float
        What two sheets of one process differ by, standard deviation. [D]
    """

    one: Entry
    two: Entry
    circumstances: dict[str, tuple[str, str]]
    negative_level: FloatArray
    density_one: FloatArray
    density_two: FloatArray
    image_tone: FloatArray
    level_one: FloatArray
    level_two: FloatArray
    lightness_error: FloatArray
    usual: float

    @property
    def density_difference(self) -> FloatArray:
        """Second less first over the levels. [D]."""
        return self.density_two - self.density_one

    @property
    def same(self) -> bool:
        """Whether the responses differ by no more than two sheets of one process."""
        rms = float(np.sqrt(np.mean(self.density_difference**2)))
        return rms <= 1.645 * self.usual


def compare(one: Entry, first: Solution, two: Entry, second: Solution) -> Comparison:
    """Compare two calibrations.

    Parameters
    ----------
    one, two : Entry
    first, second : Solution
        Of the entries.

    Returns
    -------
    Comparison
    """
    keys = sorted({*one.circumstances, *two.circumstances})
    pairs = {
        key: (str(one.circumstances.get(key, "")), str(two.circumstances.get(key, "")))
        for key in keys
    }
    low = max(first.response.domain[0], second.response.domain[0])
    high = min(first.response.domain[1], second.response.domain[1])
    level = np.linspace(low, high, 21)
    tone = np.linspace(0, 1, 21)
    crossed = first.response.density(second.table.negative_level(tone))
    own = first.printed_density(tone)
    return Comparison(
        one=one,
        two=two,
        circumstances={key: pair for key, pair in pairs.items() if pair[0] != pair[1]},
        negative_level=level,
        density_one=first.response.density(level),
        density_two=second.response.density(level),
        image_tone=tone,
        level_one=first.table.negative_level(tone),
        level_two=second.table.negative_level(tone),
        lightness_error=lightness_from_density(crossed) - lightness_from_density(own),
        usual=float(np.hypot(first.response.sheet_error, second.response.sheet_error)),
    )
