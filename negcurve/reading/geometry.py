"""Where a place on the print lies in the scan.

A homography carries the four marks; a smooth field of small shifts, found on patch
edges, takes up what is left. Positions in the scan are continuous: pixel 0 reaches
from 0 to 1.
"""

from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from negcurve.errors import InvalidValueError
from negcurve.target.layout import Layout
from negcurve.values import FloatArray

BENDS = 6
"""Terms of the field of shifts each way: 1, u, v, u v, u u, v v."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Geometry:
    """Place on the print to place in the scan.

    Attributes
    ----------
    matrix : array, shape (3, 3)
        Homography from millimetres to pixels of the scan.
    size_mm : (width, height)
        Of the print; shifts are polynomials over it.
    shift_mm : array, shape (6, 2)
        Coefficients of the shift on the print, added before the homography. [mm]
    """

    matrix: FloatArray
    size_mm: tuple[float, float]
    shift_mm: FloatArray = field(default_factory=lambda: np.zeros((BENDS, 2)))

    def to_scan(self, places_mm: npt.ArrayLike) -> FloatArray:
        """Return where places on the print lie in the scan.

        Parameters
        ----------
        places_mm : array-like, shape (n, 2)
            x, y on the print. [mm]

        Returns
        -------
        array, shape (n, 2)
            x, y in the scan. [px]
        """
        x, y = np.asarray(places_mm, dtype=np.float64).T
        # Sums written out: a matrix product this thin is many times slower.
        terms = self._terms(x, y)
        pairs = list(zip(terms, self.shift_mm, strict=True))
        x = x + sum(term * shift[0] for term, shift in pairs)
        y = y + sum(term * shift[1] for term, shift in pairs)
        u, v, w = (row[0] * x + row[1] * y + row[2] for row in self.matrix)
        return np.column_stack([u / w, v / w])

    def terms(self, places_mm: FloatArray) -> FloatArray:
        """Return the terms of the shift field at places, shape (n, 6)."""
        return np.column_stack(self._terms(places_mm[:, 0], places_mm[:, 1]))

    def _terms(self, x: FloatArray, y: FloatArray) -> tuple[FloatArray, ...]:
        u = 2 * x / self.size_mm[0] - 1
        v = 2 * y / self.size_mm[1] - 1
        return np.ones_like(u), u, v, u * v, u * u, v * v

    def shifted(self, change_mm: FloatArray) -> "Geometry":
        """Return the geometry with coefficients added to its shift field."""
        return Geometry(
            matrix=self.matrix,
            size_mm=self.size_mm,
            shift_mm=self.shift_mm + change_mm,
        )

    def scaled(self, factor: float) -> "Geometry":
        """Return the geometry in a picture that is `factor` times as large."""
        return Geometry(
            matrix=np.diag([factor, factor, 1.0]) @ self.matrix,
            size_mm=self.size_mm,
            shift_mm=self.shift_mm,
        )

    @property
    def jacobian(self) -> FloatArray:
        """Pixels per millimetre at the middle of the print, shape (2, 2).

        Column 0 is a step to the right on the print, column 1 a step down.
        """
        x, y = self.size_mm[0] / 2, self.size_mm[1] / 2
        around = self.to_scan([(x - 1, y), (x + 1, y), (x, y - 1), (x, y + 1)])
        return np.column_stack(
            [(around[1] - around[0]) / 2, (around[3] - around[2]) / 2]
        )

    @property
    def px_per_mm(self) -> float:
        """Mean scale at the middle of the print."""
        return float(np.sqrt(abs(np.linalg.det(self.jacobian))))

    @property
    def mirrored(self) -> bool:
        """Whether the print reads the wrong way round in the scan."""
        return bool(np.linalg.det(self.jacobian) < 0)

    @property
    def turn_degrees(self) -> float:
        """Degrees by which the print is turned clockwise in the scan."""
        right = self.jacobian[:, 0] * (-1 if self.mirrored else 1)
        return float(np.degrees(np.arctan2(right[1], right[0])))

    def scales(self, resolution_ppi: tuple[float, float]) -> tuple[float, float]:
        """Return printed size against wanted size, across and down the print.

        Parameters
        ----------
        resolution_ppi : (across, down)
            Of the scan, as its file states. [pixels per inch]

        Returns
        -------
        (across, down)
            1 where the print has the layout's size. [1]
        """
        inches = self.jacobian / np.array(resolution_ppi)[:, None]
        across, down = np.hypot(inches[0], inches[1]) * 25.4
        return float(across), float(down)


def fit_geometry(
    layout: Layout,
    places_px: npt.ArrayLike,
    corners: tuple[int, ...] = (0, 1, 2, 3),
    *,
    mirrored: bool = False,
) -> Geometry:
    """Geometry from the centres of a sheet's three or four marks, or a strip's two.

    Parameters
    ----------
    layout : Layout
        What was printed.
    places_px : array-like, shape (2, 2), (3, 2) or (4, 2)
        Mark centres in the scan. [px]
    corners : tuple of int
        Which mark each is: 0 top left, 1 top right, 2 bottom right, 3 bottom left.
    mirrored : bool
        Whether a strip lies mirrored; three marks tell that by themselves.

    Returns
    -------
    Geometry
        A homography through four marks, an affine map through three, a similarity
        through two.
    """
    if len(corners) not in ((2,) if layout.is_strip else (3, 4)):
        wanted = "two are" if layout.is_strip else "three or four are"
        raise InvalidValueError(
            f"{len(corners)} marks given, {wanted} needed", where="marks"
        )
    printed = np.array([layout.marks_mm[corner] for corner in corners])
    seen = np.asarray(places_px, dtype=np.float64)
    matrix = (
        _similarity(printed, seen, mirrored=mirrored)
        if layout.is_strip
        else _homography(printed, seen)
    )
    return Geometry(matrix=matrix, size_mm=(layout.width_mm, layout.height_mm))


def _similarity(printed: FloatArray, seen: FloatArray, *, mirrored: bool) -> FloatArray:
    """Matrix that carries two places over without a change of shape."""
    flip = np.array([1.0, -1.0 if mirrored else 1.0])
    start, end = (printed * flip) @ np.array([1, 1j])
    first, last = seen @ np.array([1, 1j])
    turn = (last - first) / (end - start)
    shift = first - turn * start
    return np.array(
        [
            [turn.real, -turn.imag * flip[1], shift.real],
            [turn.imag, turn.real * flip[1], shift.imag],
            [0, 0, 1],
        ]
    )


def _homography(printed: FloatArray, seen: FloatArray) -> FloatArray:
    """Solve for the matrix that carries three (affine) or four places over."""
    rows, values = [], []
    for (x, y), (u, v) in zip(printed, seen, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        values += [u, v]
    unknown = 8 if len(printed) == 4 else 6
    system = np.array(rows)[:, :unknown]
    solved = np.linalg.lstsq(system, np.array(values), rcond=None)[0]
    return np.append(solved, [0.0] * (8 - unknown) + [1.0]).reshape(3, 3)
