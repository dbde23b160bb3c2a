"""Pictures, tables and sinks for the tests of this room."""

from typing import Any

import numpy as np

from negcurve.files.memory_picture import MemoryPicture
from negcurve.negative.lanczos import Weights
from negcurve.response.table import LookupTable
from negcurve.values import CodeArray, FloatArray


def in_memory(array: CodeArray, **about: Any) -> MemoryPicture:
    """An `ImageSource` in memory."""
    return MemoryPicture(**{"name": "picture.tif", "array": array, **about})


class Ordered(MemoryPicture):
    """A picture that is best read from top to bottom, as a packed file is."""

    @property
    def in_any_order(self) -> bool:
        return False


class Sheet:
    """A `StripSink` in memory."""

    def __init__(self) -> None:
        self.strips: list[CodeArray] = []

    def write(self, rows: CodeArray) -> None:
        self.strips.append(rows.copy())

    @property
    def codes(self) -> CodeArray:
        return np.concatenate(self.strips)


class PlacedSheet(Sheet):
    """A `PlacedSink` in memory: rows in any order."""

    in_any_order = True

    def __init__(self) -> None:
        super().__init__()
        self.tops: list[int] = []

    def write_at(self, top: int, rows: CodeArray) -> None:
        self.tops.append(top)
        self.strips.append(rows.copy())

    @property
    def codes(self) -> CodeArray:
        order = np.argsort(self.tops)
        strips = [self.strips[each] for each in order]
        ends = np.cumsum([0] + [len(each) for each in strips])
        np.testing.assert_array_equal(np.sort(self.tops), ends[:-1])  # no gap
        return np.concatenate(strips)


class FullDisk:
    """A `StripSink` that takes one strip and then fails."""

    def __init__(self, error: BaseException) -> None:
        self.error = error
        self.strips = 0

    def write(self, rows: CodeArray) -> None:
        self.strips += 1
        if self.strips > 1:
            raise self.error


def print_table(nodes: int = 513) -> LookupTable:
    """A table such as a print asks for: steep in the lights, flatter in the darks."""
    tone = np.linspace(0, 1, nodes)
    level = 0.93 - 0.25 * tone - 0.45 * tone**2.2 - 0.1 * np.sin(2 * tone)
    return LookupTable(tone_nodes=tone, level_nodes=level)


def noise(shape: tuple[int, ...], dtype: type, seed: int = 1) -> CodeArray:
    """Every code with the same chance; black and white among them."""
    largest = np.iinfo(dtype).max
    rng = np.random.default_rng(seed)
    codes = rng.integers(0, largest + 1, shape, dtype=dtype)
    codes[0, 0], codes[-1, -1] = 0, largest
    return codes


def scene(height: int, width: int, channels: int, seed: int = 3) -> CodeArray:
    """Soft hills, hard edges and grain, 16 bits."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[0:height, 0:width] / max(height, width)
    tone = 0.45 + 0.4 * np.sin(7 * x + 3 * y) * np.cos(5 * y)
    tone = np.where((x - 0.5) ** 2 + (y - 0.3) ** 2 < 0.02, 0.02, tone)
    tone = np.where(np.abs(x - y) < 0.004, 0.97, tone)
    grain = rng.normal(0, 0.03, (height, width, channels))
    level = np.clip(tone[..., np.newaxis] + grain, 0, 1)
    return np.rint(level * 65535).astype(np.uint16)


def exact_codes(table: LookupTable, tone: FloatArray) -> FloatArray:
    """Unrounded negative codes in float64."""
    return 65535 * table.negative_level(tone)


def dense(weights: Weights) -> FloatArray:
    """Weights as one matrix, shape (wanted, source)."""
    matrix = np.zeros((len(weights.first), weights.source))
    for row, (first, line) in enumerate(
        zip(weights.first, weights.weights, strict=True)
    ):
        for place, weight in enumerate(line, start=first):
            if weight:
                matrix[row, place] = weight
    return matrix
