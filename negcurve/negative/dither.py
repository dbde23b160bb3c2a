"""8-bit codes from 16-bit ones without steps: a fixed, seeded pattern of thresholds.

The pattern has little coarse structure, so it drowns in the printer's own screen.
"""

import random

import numpy as np
import numpy.typing as npt

TILE = 128
SEED = 1
ROUNDS = 12
RADIUS = 1.6
"""Of the blur whose removal spreads equal thresholds apart. [pixels]"""


def threshold_tile(seed: int = SEED) -> npt.NDArray[np.float32]:
    """Thresholds, each of `TILE`² even steps once, neighbours unlike.

    Parameters
    ----------
    seed : int
        Of the noise that the pattern starts from.

    Returns
    -------
    array of float32, shape (TILE, TILE)
        Within 0..1, both left out.

    Notes
    -----
    White noise is freed of its coarse part and ranked again, a few times over; each
    value comes once, so a tile of one level keeps its mean. Our own construction.
    """
    numbers = random.Random(seed)
    noise = np.array([numbers.random() for _ in range(TILE * TILE)])
    tile = _ranked(noise)
    frequency = np.fft.fftfreq(TILE)
    squared = frequency[:, np.newaxis] ** 2 + frequency[np.newaxis, :] ** 2
    fine = 1 - np.exp(-2 * (np.pi * RADIUS) ** 2 * squared)
    for _ in range(ROUNDS):
        # Rounded so that every platform ranks alike whatever its last bits.
        kept = np.fft.ifft2(np.fft.fft2(tile.reshape(TILE, TILE)) * fine).real
        tile = _ranked(np.round(kept.ravel(), 9))
    return tile.reshape(TILE, TILE).astype(np.float32)


def _ranked(values: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    ranks = np.empty(len(values))
    ranks[np.argsort(values, kind="stable")] = np.arange(len(values))
    return (ranks + 0.5) / len(values)


class Dither:
    """Turns 16-bit rows into 8-bit ones; the same for any cut into strips."""

    def __init__(self, width: int, *, seed: int = SEED) -> None:
        repeats = -(-width // TILE)
        self._rows = np.tile(threshold_tile(seed), (1, repeats))[:, :width]

    def codes(self, rows: npt.NDArray[np.uint16], *, top: int) -> npt.NDArray[np.uint8]:
        """Dither rows whose first is row `top` of the picture."""
        places = (top + np.arange(len(rows))) % TILE
        raised = rows * np.float32(1 / 257) + self._rows[places]
        return raised.astype(np.uint8)
