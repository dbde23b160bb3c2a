"""The size of a print in its scan, against the layout and the stated resolution."""

from collections.abc import Iterator

import numpy as np

from negcurve.errors import ReadingsError
from negcurve.reading.geometry import Geometry
from negcurve.values import Finding, ImageSource

SCALE_NOTED, SCALE_REFUSED = 0.007, 0.03
"""Deviation of the printed size that is warned about, and that is refused."""

MM_PER_INCH = 25.4

EQUAL = 0.005
"""Difference of two resolutions up to which they are written as one. Ours."""

SCALE_UNSTATED = 0.25
"""A deviation beyond this is a wrong resolution in the file, not a wrong print size."""


def check_scale(
    geometry: Geometry, source: ImageSource, *, along_only: bool = False
) -> Iterator[Finding]:
    """Compare the printed size with the layout's, by the scan's stated resolution.

    Parameters
    ----------
    geometry : Geometry
        Print to scan.
    source : ImageSource
        The scan.
    along_only : bool
        Judge the size across the print alone: a strip is too low to measure down it.

    Yields
    ------
    Finding

    Raises
    ------
    ReadingsError
        If the print is more than 3 % too large or too small.
    """
    if source.resolution_ppi is None:
        yield Finding(
            severity="note",
            where=source.name,
            what="states no resolution, so the printed size was not checked",
        )
        return
    scales = geometry.scales(source.resolution_ppi)
    printed = f"{scales[0]:.1%} of its width"
    if along_only:
        scales = (scales[0],) * 2
    else:
        printed += f" and {scales[1]:.1%} of its height"
    worst = max((scale - 1 for scale in scales), key=abs)
    if abs(worst) > SCALE_UNSTATED:
        yield Finding(
            severity="warning",
            where=source.name,
            what=f"the file states {_shown(source.resolution_ppi)} ppi, the marks say "
            f"about {_shown(_by_marks(geometry))}, so the printed size was not checked",
            fix="Save scans with the resolution they were made at.",
        )
    elif abs(worst) > SCALE_REFUSED:
        raise ReadingsError(
            f"the target was printed at {printed}",
            where=source.name,
            fix="Print it at 100 % with every fit-to-page setting off. If the print "
            "is right, the resolution that the scan states is wrong.",
        )
    elif abs(worst) > SCALE_NOTED:
        yield Finding(
            severity="warning",
            where=source.name,
            what=f"the target was printed at {printed}",
            fix="Negatives made the same way will be off by as much: look for a "
            "fit-to-page setting of the driver.",
        )


def _by_marks(geometry: Geometry) -> tuple[float, float]:
    """Return pixels per inch across and down the scan, if the print has its size."""
    across, down = np.hypot(*geometry.jacobian.T) * MM_PER_INCH
    return float(np.rint(across)), float(np.rint(down))


def _shown(resolution_ppi: tuple[float, float]) -> str:
    """Write a resolution: one number where both are nearly the same."""
    across, down = resolution_ppi
    if abs(across / down - 1) < EQUAL:
        return f"{round(across, 1):g}"
    return f"{round(across, 1):g} x {round(down, 1):g}"
