"""Which ink mixtures to compare: hue, purity and amount covered without a grid.

Knows the colours alone; where they lie on the sheet is `placement`'s, which of them
holds back most UV is found from the print.
"""

from collections.abc import Iterator

from negcurve.errors import InvalidValueError
from negcurve.target.ink import CLEAR, LARGEST, Ink

FEWEST, MOST = 16, 256

DEFAULT = 48

_GREYS = 8
"""Steps of black among them: what any mixture is compared with."""

_STEPS = (0.8191725133961645, 0.6710436067037893, 0.5497004779019703)
"""1/g, 1/g^2, 1/g^3 with g^4 = g + 1. Multiples of these, whole parts dropped, fill a
cube evenly and line up on no grid. Source: Roberts 2018, the R3 sequence (from memory);
the relation is tested."""

_LEAST_AMOUNT = 0.25
"""Of the ink that counts most in a mixture: less than this holds nothing back."""


def ink_mixtures(count: int = DEFAULT) -> tuple[Ink, ...]:
    """Choose mixtures, from least ink to most.

    Parameters
    ----------
    count : int
        How many, `FEWEST` to `MOST`.

    Returns
    -------
    tuple of Ink, length count
        Clear film, `_GREYS` steps to black, the six pure colours at full ink, and
        mixtures between; all differ.

    Raises
    ------
    InvalidValueError
        If the count is outside its range.
    """
    if not FEWEST <= count <= MOST:
        raise InvalidValueError(
            f"{count} mixtures are not possible",
            where="levels",
            fix=f"Use {FEWEST} to {MOST}.",
        )
    found = dict.fromkeys((CLEAR, *_greys(), *_pure()))
    between = _between()
    while len(found) < count:
        found[next(between)] = None
    return tuple(sorted(found, key=lambda ink: (ink.amount, ink.codes)))


def _greys() -> Iterator[Ink]:
    for step in range(1, _GREYS + 1):
        yield _ink((step / _GREYS,) * 3)


def _pure() -> Iterator[Ink]:
    """Full cyan, magenta, yellow, and red, green, blue of two of these."""
    for corner in range(1, 7):
        yield _ink(tuple(float(corner >> place & 1) for place in range(3)))


def _between() -> Iterator[Ink]:
    """Yield mixtures without end; the more there are, the closer they cover."""
    place = 0
    while True:
        place += 1
        hue, pure, much = ((0.5 + place * step) % 1 for step in _STEPS)
        # More of them strong and pure, where the colour that is sought lies.
        purity = 1 - (1 - pure) * (1 - pure)
        amount = _LEAST_AMOUNT + (1 - _LEAST_AMOUNT) * much
        yield _ink(
            tuple(amount * (1 - purity + purity * each) for each in _colour_of(hue))
        )


def _colour_of(hue: float) -> tuple[float, float, float]:
    """Share of what red, green and blue lack round the hues: one is 0, one is 1."""
    first, second, third = (
        min(max(abs((6 * hue - 2 * turn) % 6 - 3) - 1, 0.0), 1.0) for turn in range(3)
    )
    return first, second, third


def _ink(lacking: tuple[float, ...]) -> Ink:
    red, green, blue = (round(LARGEST * (1 - each)) for each in lacking)
    return Ink(red=red, green=green, blue=blue)
