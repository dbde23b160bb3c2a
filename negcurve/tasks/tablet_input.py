"""The readings that `tablet` works on: from scans, files, or typed."""

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from negcurve.darkroom.tablet import Strip, Tablet, nominal_tablet
from negcurve.density import density_from_lightness
from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.files.number_columns import column_names, read_columns
from negcurve.files.steps_csv import read_steps
from negcurve.tasks.tablet_scan import is_scan, scan_strip, strip_box
from negcurve.tasks.tablet_values import TabletOptions
from negcurve.values import Finding


def tablet_named(name: Path | str) -> Tablet:
    """Return a tablet by its number of steps, or from a file of measured densities."""
    if str(name) in ("21", "31"):
        return nominal_tablet(str(name))
    steps = read_steps(name)
    return Tablet(name=steps.source, density=steps.density)


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
            "both a file and typed densities were given", where="strip"
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
        raise ReadingsError(
            "was read wet", where=table.source, fix="Only dry prints count: read again."
        )
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
