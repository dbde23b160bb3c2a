"""Find what makes a print uneven, from readings or scans of one sheet or two."""

from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from negcurve.density import density_from_reflectance
from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.files.layout_json import layouts_known
from negcurve.files.pictures import open_picture
from negcurve.files.readings_csv import read_readings
from negcurve.files.safe import check_output
from negcurve.files.solution_json import read_solution
from negcurve.plots.field_plot import field_figure
from negcurve.plots.style import save_figure
from negcurve.reading.reduced import reduce_source
from negcurve.readings import Readings
from negcurve.response.solution import Solution
from negcurve.response.solving import solve
from negcurve.target.sizes import UNITS_PER_MM, sheet_size
from negcurve.tasks.read_options import is_scan
from negcurve.tasks.scan_encoding import scan_encoding
from negcurve.values import Finding, Progress, no_progress
from negcurve.watch.even_sheet import is_even, sheet_from_picture, sheet_from_readings
from negcurve.watch.evenness import Evenness, study
from negcurve.watch.evenness_words import evenness_findings
from negcurve.watch.placed import PlacedSheet

CELLS = 150
"""Cells along the longer side of a scan."""


@dataclass(frozen=True, eq=False, kw_only=True)
class EvennessOptions:
    """What `evenness` takes.

    Attributes
    ----------
    sheets : sequence of path
        One, or two of which the second lay turned by 180 degrees: readings CSV with
        places, or scans of an evenly exposed sheet.
    table : path, optional
        Solution that says what the levels of a target should print; without it the
        readings are solved.
    sheet_size : str
        Such as `11x14in`; from the readings themselves if empty.
    profile : path, optional
        ICC profile of the scanner.
    gamma : float, optional
        Of a scan without a profile.
    plot : path, optional
        PNG or SVG of the map.
    overwrite : bool
    """

    sheets: Sequence[Path | str]
    table: Path | str | None = None
    sheet_size: str = ""
    profile: Path | str | None = None
    gamma: float | None = None
    plot: Path | str | None = None
    overwrite: bool = False


@dataclass(frozen=True, eq=False, kw_only=True)
class EvennessResult:
    """A study with its findings in words."""

    study: Evenness
    plot: Path | None
    findings: tuple[Finding, ...]


def evenness(
    options: EvennessOptions, *, progress: Progress = no_progress
) -> EvennessResult:
    """Study one sheet, or two under one lamp.

    Raises
    ------
    ReadingsError
        If a file shows no even area, has no places, or the two do not match.
    """
    if not 1 <= len(options.sheets) <= 2:
        raise InvalidValueError(
            f"{len(options.sheets)} files named",
            where="evenness",
            fix="Name one sheet, or two of which the second was turned.",
        )
    if options.plot is not None:
        check_output(options.plot, overwrite=options.overwrite, inputs=options.sheets)
    found: list[Finding] = []
    sheets = []
    for place, path in enumerate(options.sheets):
        progress("reading", 0.3 * place)
        sheet, about = _sheet(path, options, turned=place == 1)
        sheets.append(sheet)
        found += about
    progress("looking for causes", 0.5)
    studied = study(sheets)
    if options.plot is not None:
        save_figure(field_figure(studied), options.plot, overwrite=options.overwrite)
    return EvennessResult(
        study=studied,
        plot=None if options.plot is None else Path(options.plot),
        findings=(*found, *evenness_findings(studied)),
    )


def _sheet(
    path: Path | str, options: EvennessOptions, *, turned: bool
) -> tuple[PlacedSheet, tuple[Finding, ...]]:
    if is_scan(path):
        return _from_scan(path, options, turned=turned)
    readings = read_readings(path)
    solution: Solution | None = None
    if not is_even(readings):
        if options.table is not None:
            solution = read_solution(options.table)
        else:
            solution = solve([readings])
    size, about = _size(path, readings, options)
    return (
        sheet_from_readings(readings, solution, size_mm=size, turned=turned),
        (*readings.findings, *about),
    )


def _size(
    path: Path | str, readings: Readings, options: EvennessOptions
) -> tuple[tuple[float, float] | None, tuple[Finding, ...]]:
    """Return the sheet's size: as told, or of its target, or not known."""
    if options.sheet_size:
        across, down = sheet_size(options.sheet_size)
        return (across / UNITS_PER_MM, down / UNITS_PER_MM), ()
    known = target_size(path, readings)
    if known is not None:
        return known, ()
    note = Finding(
        severity="note",
        where=readings.source or str(path),
        what="the sheet's size is not known; opposite margins are taken as alike",
        fix="Give --sheet, such as --sheet 8x10in",
    )
    return None, (note,)


def target_size(path: Path | str, readings: Readings) -> tuple[float, float] | None:
    """Return the size of the target that was read, if its layout is at hand.

    Parameters
    ----------
    path : path
        Of the readings; layouts are looked for beside it and among the ready-made.
    readings : Readings

    Returns
    -------
    (float, float) or None
        [mm]
    """
    if not readings.target:
        return None
    for layout in layouts_known(None, beside=path):
        if layout.identity_text == readings.target:
            return layout.width_mm, layout.height_mm
    return None


def _from_scan(
    path: Path | str, options: EvennessOptions, *, turned: bool
) -> tuple[PlacedSheet, tuple[Finding, ...]]:
    with closing(open_picture(path)) as source:
        resolution = source.resolution_ppi
        if resolution is None:
            raise ReadingsError(
                "does not say its resolution, so nothing can be given in mm",
                where=source.name,
                fix="Save the scan with its resolution.",
            )
        encoding, about = scan_encoding(
            source, profile=options.profile, gamma=options.gamma
        )
        small = reduce_source(source, longest=CELLS)
        luminance = encoding.luminance(np.asarray(small.levels, dtype=np.float64))
        findings = (*source.findings, *about)
    density = density_from_reflectance(np.maximum(luminance, 1e-4))
    cell = (
        25.4 * small.factor / resolution[0],
        25.4 * small.factor / resolution[1],
    )
    sheet = sheet_from_picture(density, cell, name=Path(path).name, turned=turned)
    return sheet, findings
