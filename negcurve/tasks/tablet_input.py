"""The readings that `tablet` works on: from scans, files, or typed."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from negcurve.darkroom.tablet import Strip, Tablet
from negcurve.density import density_from_lightness
from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.files.number_columns import column_names, read_columns
from negcurve.files.readings_csv import read_readings
from negcurve.readings import Readings
from negcurve.tasks.tablet_scan import is_scan, scan_strip, strip_box
from negcurve.tasks.tablet_values import TabletOptions
from negcurve.values import Finding


def on_readings(path: Path | str | None) -> Readings | None:
    """Return the rows of a tablet from a readings file, None if it holds none.

    Such a file comes from `read`, where a tablet lay beside the patches of a target; it
    brings the tablet's densities along.

    Raises
    ------
    ReadingsError
        If the print was read wet.
    """
    if path is None or is_scan(path) or "tablet_density" not in column_names(path):
        return None
    readings = read_readings(path)
    if readings.print_state == "wet":
        raise read_wet(readings.source)
    return readings.chosen(readings.on_tablet)


def from_readings(readings: Readings) -> tuple[Tablet, Strip]:
    """Return tablet and strip of such rows; steps are counted by their densities."""
    densities, places = np.unique(readings.tablet_density, return_inverse=True)
    tablet = Tablet(name=f"tablet in {readings.source}", density=densities)
    return tablet, Strip(
        step=np.asarray(places + 1, dtype=np.float64), density=readings.density
    )


def strip_given(
    options: TabletOptions,
    tablet: Tablet,
    path: Path | str | None,
    *,
    typed: Sequence[float],
    box: str | None,
) -> tuple[Strip | None, tuple[Finding, ...]]:
    """Read a strip from a scan, a CSV or typed densities; None if none is given.

    Raises
    ------
    InvalidValueError
        If a file and densities were given.
    ReadingsError, FileError
        If the file cannot be used.
    """
    if path is not None and typed:
        raise InvalidValueError(
            "both a file and typed densities were given",
            where="strip",
            fix="Name the file, or type the densities.",
        )
    if path is not None and is_scan(path):
        return scan_strip(
            path,
            steps=tablet.steps,
            box=strip_box(box, where="strip box"),
            profile=options.profile,
            gamma=options.gamma,
        )
    if path is not None:
        return _read_strip(path), ()
    if not typed:
        return None, ()
    return Strip(step=np.arange(1.0, len(typed) + 1), density=np.asarray(typed)), ()


def _read_strip(path: Path | str) -> Strip:
    names = column_names(path)
    step = "patch" if "patch" in names and "step" not in names else "step"
    value = (
        "lightness" if "lightness" in names and "density" not in names else "density"
    )
    table = read_columns(path, numbers=(step, value))
    if table.keys.get("print_state", "dry") == "wet":
        raise read_wet(table.source)
    read = np.asarray(table.numbers[value])
    if value == "lightness":
        read = density_from_lightness(read)
    return Strip(step=np.asarray(table.numbers[step]), density=read)


def without(strip: Strip, drop: Sequence[int]) -> Strip:
    """Leave steps out.

    Raises
    ------
    InvalidValueError
        If one was not read.
    """
    missing = [step for step in drop if step not in strip.step]
    if missing:
        raise InvalidValueError(
            f"step {missing[0]} was not read", where="--drop", fix="Name steps in use."
        )
    kept = ~np.isin(strip.step, list(drop))
    return Strip(step=strip.step[kept], density=strip.density[kept])


def read_wet(source: str) -> ReadingsError:
    """Return the refusal of a strip that was read wet."""
    return ReadingsError(
        "was read wet", where=source, fix="Only dry prints count: read again."
    )
