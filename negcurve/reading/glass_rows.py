"""Readings of patches that several scans share, and what is free in them.

Knows which part of a column any print and any drift of the scanner could explain; the
field over the glass is left to `glass_fit`.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from negcurve.values import FloatArray

FLOOR_D = 0.002
"""Error of a reading between two scans that is never undercut in weighing. [D]"""


@dataclass(frozen=True, eq=False, kw_only=True)
class GlassRows:
    """Readings of patches that several scans share, one a row.

    Attributes
    ----------
    scan, patch : array of int, shape (n,)
        Counted from 0; each patch has two rows or more.
    x_mm, y_mm : array, shape (n,)
        On the glass. [mm]
    density, standard_error : array, shape (n,)
        The error may be unknown, NaN. [D]
    """

    scan: npt.NDArray[np.intp]
    patch: npt.NDArray[np.intp]
    x_mm: FloatArray
    y_mm: FloatArray
    density: FloatArray
    standard_error: FloatArray

    @property
    def patches(self) -> int:
        """How many patches."""
        return int(self.patch.max()) + 1 if len(self.patch) else 0


def base_weights(rows: GlassRows) -> FloatArray:
    """One weight a patch: the mean square error of its readings, where known."""
    square = np.nan_to_num(rows.standard_error, nan=0.0) ** 2
    mean = patch_means(rows, square, np.ones(len(square)))
    weight = 1 / (mean + FLOOR_D**2)
    return np.asarray(weight / weight.mean())


def patch_means(rows: GlassRows, values: FloatArray, weight: FloatArray) -> FloatArray:
    """Return each row's patch mean of some values, shape (n,)."""
    total = np.bincount(rows.patch, weight)
    return (np.bincount(rows.patch, weight * values) / total)[rows.patch]


def freed(rows: GlassRows, columns: FloatArray, weight: FloatArray) -> FloatArray:
    """Return columns less all that free patches and scans could explain."""
    table = columns.reshape(len(columns), -1)
    tone = patch_means(rows, rows.density, weight)
    tone = tone - tone.mean()
    scans = range(1, int(rows.scan.max()) + 1)
    drifts = [(rows.scan == each) * by for each in scans for by in (1.0, tone)]
    both = np.column_stack([*table.T, *drifts])
    both -= np.column_stack([patch_means(rows, each, weight) for each in both.T])
    root = np.sqrt(weight)[:, None]
    count = table.shape[1]
    left, drift = both[:, :count], both[:, count:]
    shares = np.linalg.lstsq(drift * root, left * root, rcond=1e-9)[0]
    return np.asarray((left - drift @ shares).reshape(columns.shape))
