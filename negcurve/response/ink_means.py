"""Mean print density of each ink mixture, less the unevenness of the sheet."""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from negcurve.errors import ReadingsError
from negcurve.readings import Readings
from negcurve.response.pooling import LEFT_OUT
from negcurve.target.ink import Ink, parse_ink
from negcurve.values import FloatArray, frozen

FEWEST_FREE = 20
"""Repeats beyond the first from which unevenness of the sheet is taken off."""


@dataclass(frozen=True, eq=False, kw_only=True)
class InkMeans:
    """What each mixture prints.

    Attributes
    ----------
    inks : tuple of Ink, length m
    density : array, shape (m,)
        Mean of its patches. [D]
    patches : array, shape (m,)
        How many there are.
    noise : float
        Standard deviation of one patch. [D]
    """

    inks: tuple[Ink, ...]
    density: FloatArray
    patches: FloatArray
    noise: float

    @property
    def amount(self) -> FloatArray:
        """Ink asked for, shape (m,). [1]."""
        return np.array([ink.amount for ink in self.inks])

    @property
    def greys(self) -> tuple[int, ...]:
        """Places of black and its lighter steps, least ink first."""
        found = (at for at, ink in enumerate(self.inks) if len({*ink.codes}) == 1)
        return tuple(sorted(found, key=lambda at: self.inks[at].amount))

    @property
    def error(self) -> FloatArray:
        """Standard error of the means, shape (m,). [D]."""
        return np.asarray(self.noise / np.sqrt(self.patches))


def ink_means(readings: Readings) -> InkMeans:
    """Average the patches of each mixture.

    Parameters
    ----------
    readings : Readings
        Of a print of ink mixtures; flagged patches are left out.

    Returns
    -------
    InkMeans

    Raises
    ------
    ReadingsError
        If no mixture was read twice.
    """
    named = np.array([bool(ink) for ink in readings.ink])
    kept = readings.chosen(named & ~readings.on_tablet & ~readings.flagged(*LEFT_OUT))
    names, group = np.unique(np.array(kept.ink), return_inverse=True)
    count = np.bincount(group)
    free = len(kept) - len(names)
    if free < 1:
        raise ReadingsError(
            "has every mixture once, so chance cannot be told from ink",
            where=readings.source,
            fix="Read the whole target; it has each mixture twice or more.",
        )
    density = kept.density
    terms = _unevenness(kept, _group_means(density, group))
    if terms.shape[1] and free >= FEWEST_FREE:
        within = terms - _group_means(terms, group)
        rest = density - _group_means(density, group)
        strength, *_ = np.linalg.lstsq(within, rest, rcond=None)
        density = density - terms @ strength
        free -= terms.shape[1]
    rest = density - _group_means(density, group)
    return InkMeans(
        inks=tuple(parse_ink(str(name)) for name in names),
        density=frozen(np.bincount(group, weights=density) / count, "density"),
        patches=count.astype(np.float64),
        noise=float(np.sqrt(rest @ rest / free)),
    )


def _group_means(values: FloatArray, group: npt.NDArray[np.intp]) -> FloatArray:
    """Mean of each row's mixture, same shape as the values, (n,) or (n, k)."""
    columns = values.reshape(len(values), -1).T
    count = np.bincount(group)
    means = [(np.bincount(group, weights=each) / count)[group] for each in columns]
    return np.column_stack(means).reshape(values.shape)


def _unevenness(readings: Readings, mean: FloatArray) -> FloatArray:
    """Shapes of light over the sheet as they act on density, shape (n, k).

    Slopes, bows and twist about the middle of the sheet; they act most at mid-tone and
    not on black or white, as an S-shaped curve has it.
    """
    if not readings.placed:
        return np.empty((len(readings), 0))
    x, y = (
        (place - place.mean()) / max(float(np.ptp(place)) / 2, 1e-9)
        for place in (readings.x_mm, readings.y_mm)
    )
    share = (mean - mean.min()) / (mean.max() - mean.min() + 1e-12)
    acts = 4 * share * (1 - share)
    shapes = np.column_stack([x, y, x * x, x * y, y * y])
    return np.asarray(acts[:, np.newaxis] * shapes)
