"""The step tablet of a print, for `read`: which one it is, and its rows."""

import re
from dataclasses import replace
from pathlib import Path

import numpy as np

from negcurve.darkroom.tablet import CLEAR_STEP_DENSITY, Tablet, nominal_tablet
from negcurve.encoding import Encoding
from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.files.steps_csv import read_steps
from negcurve.files.text_table import Problems, Row, TextTable, number_in
from negcurve.reading.film_edge import base_findings
from negcurve.reading.scan import ScanReading
from negcurve.reading.tablet_steps import find_tablet, offer, read_tablet
from negcurve.readings import NUMBERS, Readings
from negcurve.target.layout import Box
from negcurve.values import Finding, ImageSource

_NAME = re.compile(r"(\d{1,3})\s*[xX]\s*(\d*\.?\d+)")


def tablet_named(name: Path | str) -> Tablet:
    """Return the tablet that a user named.

    Parameters
    ----------
    name : str or path
        `31x0.10` for 31 steps by 0.10 D, `21` or `31` for the usual ones, or a CSV
        `step,density` of measured densities, step 1 at the clear end.

    Returns
    -------
    Tablet

    Raises
    ------
    InvalidValueError
        If it is none of these.
    FileError, ReadingsError
        If the CSV cannot be read.
    """
    text = str(name).strip()
    found = _NAME.fullmatch(text)
    if found is not None:
        steps, increment = int(found[1]), float(found[2])
        if not (2 <= steps <= 100 and 0.01 <= increment <= 0.5):
            raise InvalidValueError(
                f"{text} is no tablet: 2 to 100 steps by 0.01 to 0.5 D",
                where="tablet",
                fix="Write steps and increment, as 31x0.10.",
            )
        density = np.round(CLEAR_STEP_DENSITY + increment * np.arange(steps), 4)
        return Tablet(name=f"{text} tablet", density=density, nominal=True)
    if text in ("21", "31"):
        return nominal_tablet(text)
    if not Path(text).exists():
        raise InvalidValueError(
            f"{text!r} is neither steps and increment nor a file",
            where="tablet",
            fix="Write 21x0.15 or 31x0.10, or name a CSV with step,density.",
        )
    steps_read = read_steps(text)
    return Tablet(name=steps_read.source, density=steps_read.density)


def read_window(
    source: ImageSource,
    encoding: Encoding,
    scan: ScanReading,
    tablet: Tablet | None,
    *,
    film_over: bool = True,
) -> tuple[Readings, tuple[Box, ...]]:
    """Add the steps of a tablet in the target's window to what was read of a scan.

    Parameters
    ----------
    source, encoding
        The scan.
    scan : ScanReading
        Of the target.
    tablet : Tablet or None
        Which one lay there; None to look for one and only say so.
    film_over : bool
        Whether clear film lay over or under it, as in the target's window.

    Returns
    -------
    Readings
        Patches, then steps.
    tuple of Box
        Where steps were read, on the print. [mm]

    Raises
    ------
    ReadingsError
        If the tablet that was named is not found, or cannot be the one that is there.
    """
    readings, window = scan.readings, scan.layout.tablet_window
    if window is None:
        if tablet is not None:
            raise ReadingsError(
                "the target has no window for a step tablet",
                where=source.name,
                fix="Leave --tablet out, or print a target with --tablet-window.",
            )
        return readings, ()
    found = find_tablet(
        source,
        encoding,
        scan.geometry,
        window,
        steps=None if tablet is None else tablet.steps,
    )
    if tablet is None:
        notes = () if found is None else (offer(found, source),)
        return readings.replaced(findings=(*readings.findings, *notes)), ()
    if found is None:
        raise ReadingsError(
            "no step tablet was found in the target's window",
            where=source.name,
            fix="Leave --tablet out if none lay there during the exposure.",
        )
    steps, boxes = read_tablet(source, encoding, scan.geometry, found, tablet.density)
    joined = _joined(readings, steps, tablet)
    if film_over:
        lost = base_findings(
            scan.film_edge, steps.tablet_density, steps.density, source
        )
        joined = joined.replaced(findings=(*joined.findings, *lost))
    return joined, boxes


def _joined(readings: Readings, steps: Readings, tablet: Tablet) -> Readings:
    both: dict[str, object] = {
        name: np.concatenate([getattr(readings, name), getattr(steps, name)])
        for name in NUMBERS
    }
    return readings.replaced(
        **both,
        patch=(*readings.patch, *steps.patch),
        ink=(*readings.ink, *steps.ink),
        flags=(*readings.flags, *steps.flags),
        findings=(*readings.findings, *about_tablet(tablet)),
    )


def about_tablet(tablet: Tablet) -> tuple[Finding, ...]:
    """Say that a tablet known by its name alone may differ from it."""
    if not tablet.nominal:
        return ()
    return (
        Finding(
            severity="note",
            where=tablet.name,
            what=f"step 1 is taken as D {tablet.density[0]:.2f} and the increment as "
            "named; a tablet differs from its name by some hundredths",
            fix="Name a CSV step,density of its measured densities if you have it.",
        ),
    )


def with_tablet_steps(table: TextTable, tablet: Tablet | None) -> TextTable:
    """Say of each row of a printed tablet which of its densities lay over it.

    Parameters
    ----------
    table : TextTable
        With a column `step`.
    tablet : Tablet or None
        Which one it was.

    Returns
    -------
    TextTable
        With columns `patch` and `tablet_density`.

    Raises
    ------
    ReadingsError
        If no tablet is named, or it has not these steps.
    """
    if tablet is None:
        raise ReadingsError(
            "holds steps of a tablet, but which tablet is not said",
            where=table.source,
            fix="Name it: --tablet 31x0.10, 21x0.15, or a CSV of its densities.",
        )
    problems = Problems(table.source)
    rows = []
    for row in table.rows:
        step = number_in(row.cells.get("step", ""))
        if step is None or step != int(step):
            problems.add(row.line, f"step {row.cells.get('step', '')!r} is no number")
            continue
        density = tablet.at(int(step))
        cells = {"patch": f"tablet {int(step)}", "tablet_density": f"{density:g}"}
        rows.append(Row(line=row.line, cells={**row.cells, **cells}))
    problems.raise_any()
    columns = dict.fromkeys((*table.columns, "patch", "tablet_density"))
    return replace(table, columns=tuple(columns), rows=tuple(rows))
