"""Dead rows under a bank: found, placed, and not seen where there are none.

Run: OMP_NUM_THREADS=1 python tests/benchmarks/unevenness.py [SHEETS]
(one thread: the matrices are small, and threads only get into each other's way)

Sheets of 11 x 14 in under a bank of ten rows, 50 mm apart, 60 mm above, read at 15 x 19
places with noise 0.02 D. Light: finite line sources summed row by row, which the code
under test does not do. Each sheet has its own tilt and bend of the coating, and streaks
of a brush, broad strokes and narrow ones, or none.
"""

import sys
from dataclasses import dataclass

import numpy as np

from negcurve.watch.evenness import study
from negcurve.watch.placed import PlacedSheet

WIDTH, HEIGHT = 279.4, 355.6
SPACING, ABOVE, ROWS, LENGTH = 50.0, 60.0, 10, 600.0
NOISE, SLOPE = 0.02, 1.1
ACROSS, DOWN = 15, 19


@dataclass(frozen=True, kw_only=True)
class Bank:
    """A bank of rows, off the middle of the sheet by some way, one row perhaps out."""

    axis: str
    offset_mm: float
    dead: int | None = None

    def row_mm(self, row: int) -> float:
        length = WIDTH if self.axis == "x" else HEIGHT
        return length / 2 + (row - (ROWS - 1) / 2) * SPACING + self.offset_mm

    def light(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        across, along = (x, y) if self.axis == "x" else (y, x)
        middle = (HEIGHT if self.axis == "x" else WIDTH) / 2
        total = np.zeros_like(across)
        for row in range(ROWS):
            if row == self.dead:
                continue
            square = (across - self.row_mm(row)) ** 2 + ABOVE**2
            ends = (along - middle + LENGTH / 2, middle + LENGTH / 2 - along)
            total += ABOVE * np.sqrt(square) * sum(_line(e, square) for e in ends)
        return total


def _line(end: np.ndarray, square: np.ndarray) -> np.ndarray:
    """Integral of 1 / (a^2 + t^2)^2 from 0 to `end`: a diffuse line source."""
    near = np.sqrt(square)
    return end / (2 * square * (square + end**2)) + np.arctan(end / near) / (
        2 * square * near
    )


def streaks(rng: np.random.Generator, place: np.ndarray, length: float) -> np.ndarray:
    """Strokes 25 to 60 mm wide with levels of their own, and narrow streaks."""
    borders = np.cumsum(rng.uniform(25, 60, 20)) - rng.uniform(0, 25)
    fine = np.arange(0, length, 1.0)
    profile = rng.normal(0, 1, 21)[np.searchsorted(borders, fine)]
    kernel = np.exp(-(np.linspace(-3, 3, 25) ** 2) / 2)
    profile = np.convolve(profile, kernel / kernel.sum(), "same")
    for _ in range(rng.poisson(8)):
        center, width = rng.uniform(0, length), rng.uniform(2, 8)
        profile += rng.normal(0, 1.5) * np.exp(-(((fine - center) / width) ** 2) / 2)
    return np.interp(place, fine, profile)


def sheet(
    rng: np.random.Generator, bank: Bank, *, streak: float, turned: bool
) -> PlacedSheet:
    x, y = (
        each.ravel()
        for each in np.meshgrid(
            (np.arange(ACROSS) + 0.5) * WIDTH / ACROSS,
            (np.arange(DOWN) + 0.5) * HEIGHT / DOWN,
        )
    )
    at = (WIDTH - x, HEIGHT - y) if turned else (x, y)
    difference = SLOPE * np.log10(bank.light(*at))
    u, v = 2 * x / WIDTH - 1, 2 * y / HEIGHT - 1
    difference += rng.normal(0, 0.02) * u + rng.normal(0, 0.02) * v
    difference += rng.normal(0, 0.01) * u**2 + rng.normal(0, 0.01) * v**2
    if streak > 0:
        along_x = bool(rng.integers(2))
        place, length = (y, HEIGHT) if along_x else (x, WIDTH)
        difference += streak * streaks(rng, place, length)
    difference += rng.normal(0, NOISE, len(x))
    ones = np.ones(len(x))
    return PlacedSheet(
        x_mm=x,
        y_mm=y,
        difference=difference - np.median(difference),
        exposure_weight=ones,
        coating_weight=ones,
        width_mm=WIDTH,
        height_mm=HEIGHT,
        turned=turned,
    )


def trial(rng: np.random.Generator, *, dead: bool, two: bool, streak: float) -> bool:
    """Return whether a dead row was named; when there is one, in its place."""
    axis = "xy"[rng.integers(2)]
    bank = Bank(axis=axis, offset_mm=float(rng.uniform(-25, 25)))
    length = WIDTH if axis == "x" else HEIGHT
    if dead:
        over = [row for row in range(ROWS) if 0 <= bank.row_mm(row) <= length]
        bank = Bank(axis=axis, offset_mm=bank.offset_mm, dead=int(rng.choice(over)))
    sheets = [sheet(rng, bank, streak=streak, turned=False)]
    if two:
        sheets.append(sheet(rng, bank, streak=streak, turned=True))
    bands = [
        each.shape
        for each in study(sheets).causes
        if each.mark == "band" and each.origin != "coating" and each.shape
    ]
    if bank.dead is None:
        return bool(bands)
    place = bank.row_mm(bank.dead)
    return any(
        band.axis == axis and abs(band.center_mm[0] - place) <= ABOVE / 2
        for band in bands
    )


def main() -> None:
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    for streak in (0.015, 0.0):
        for two in (False, True):
            found, false = (
                np.mean(
                    [
                        trial(
                            np.random.default_rng([100 + k, dead]),
                            dead=dead,
                            two=two,
                            streak=streak,
                        )
                        for k in range(runs)
                    ]
                )
                for dead in (True, False)
            )
            print(
                f"{'two sheets' if two else 'one sheet '}, streaks {streak:.3f} D: "
                f"dead row found and placed {found:.1%}, healthy sheets called one "
                f"{false:.1%}, of {runs} each",
                flush=True,
            )


if __name__ == "__main__":
    main()
