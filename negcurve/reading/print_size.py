"""The size of a print in its scan, against the layout and the stated resolution."""

from collections.abc import Iterator

from negcurve.errors import ReadingsError
from negcurve.reading.geometry import Geometry
from negcurve.values import Finding, ImageSource

SCALE_NOTED, SCALE_REFUSED = 0.007, 0.03
"""Deviation of the printed size that is warned about, and that is refused."""

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
        across, down = (ppi * scales[0] for ppi in source.resolution_ppi)
        yield Finding(
            severity="warning",
            where=source.name,
            what=f"the file states {source.resolution_ppi[0]:g} ppi, the marks say "
            f"about {(across + down) / 2:.0f}, so the printed size was not checked",
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
