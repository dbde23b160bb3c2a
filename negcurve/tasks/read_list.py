"""The list path of `read`: which target a list is of, and its readings."""

import re
from dataclasses import replace
from pathlib import Path

from negcurve.darkroom.tablet import Tablet
from negcurve.errors import ReadingsError
from negcurve.files.instrument_list import (
    ListOptions,
    ParsedList,
    parsed_list,
    readings_of_list,
)
from negcurve.files.layout_json import layouts_beside, layouts_known, read_layout
from negcurve.files.text_table import TextTable, names_told
from negcurve.readings import Readings
from negcurve.target.layout import Layout
from negcurve.tasks.read_tablet import about_tablet, with_tablet_steps
from negcurve.values import Finding

LEVELS = {"negative_level", "level", "tablet_density"}
"""Columns of lists that need no layout."""

_IDENTITY = re.compile(r"\b[0-9A-F]{8}\b", re.IGNORECASE)


def list_readings(
    path: Path | str,
    options: ListOptions,
    *,
    target: Path | str | None = None,
    tablet: Tablet | None = None,
) -> Readings:
    """Read one list of densities, of a target's patches or of a tablet's steps.

    Parameters
    ----------
    path : path
        CSV, CGATS text or CxF3.
    options : ListOptions
    target : path, optional
        The target that was read, or its layout. Without it, a list without levels is
        of the target whose number it states, else of the one target that lies beside
        it.
    tablet : Tablet, optional
        Of a list of steps.

    Returns
    -------
    Readings

    Raises
    ------
    FileError
        If a file cannot be read, or is damaged.
    ReadingsError
        If rows cannot be used, or it is not known of which target they are.
    """
    parsed = parsed_list(path)
    if _is_strip(parsed.table, named=target is not None and tablet is None):
        steps = replace(parsed, table=with_tablet_steps(parsed.table, tablet))
        readings = readings_of_list(steps, None, options)
        about = () if tablet is None else about_tablet(tablet)
        return readings.replaced(findings=(*readings.findings, *about))
    if target is not None:
        return readings_of_list(parsed, read_layout(target), options)
    layout, told = _layout_of(parsed, path)
    if layout is None and options.order is not None:
        raise ReadingsError(
            f"the order {options.order} says nothing without the target",
            where=parsed.table.source,
            fix="Name what was printed: --target OUT.tif.",
        )
    readings = readings_of_list(parsed, layout, options)
    return readings.replaced(findings=(*told, *readings.findings))


def _is_strip(table: TextTable, *, named: bool) -> bool:
    """Tell whether a list holds the steps of a tablet rather than a target's patches.

    A column `step` counts the patches where a target is named, and no tablet.
    """
    return "step" in table.columns and not named and not LEVELS & set(table.columns)


def _layout_of(
    parsed: ParsedList, path: Path | str
) -> tuple[Layout | None, tuple[Finding, ...]]:
    """Find the target of a list that has no levels: by its number, else beside it."""
    table = parsed.table
    if LEVELS & set(table.columns):
        return None, ()
    stated = _numbers_stated(table)
    known = {each.identity_text: each for each in layouts_known(beside=path)}
    for number in stated:
        if number in known:
            return known[number], ()
    beside = {each.identity_text: each for each in layouts_beside(path)}
    if len(beside) == 1 and not _names_target(table):
        ((number, layout),) = beside.items()
        return layout, (
            Finding(
                severity="note",
                where=table.source,
                what=f"taken as readings of target {number}, the one beside it",
            ),
        )
    raise _not_known(table, tuple(beside))


def _numbers_stated(table: TextTable) -> list[str]:
    """Return all that may be a target's number in what the list says of itself."""
    words = (word for line in table.keys for word in _IDENTITY.findall(line.value))
    return [word.upper() for word in words]


def _names_target(table: TextTable) -> bool:
    return any(line.key == "target" and line.value for line in table.keys)


def _not_known(table: TextTable, beside: tuple[str, ...]) -> ReadingsError:
    named = names_told(table.columns)
    target = next((line.value for line in table.keys if line.key == "target"), "")
    if target:
        seen = f"is of target {target}, which is neither beside it nor ready-made"
    else:
        lies = f"{len(beside)} targets lie" if beside else "no target lies"
        seen = f"has no column negative_level (only {named}), and {lies} beside it"
    return ReadingsError(
        seen + (f" ({', '.join(beside)})" if beside else ""),
        where=table.source,
        fix="Name the target that was printed: --target OUT.tif; or add the column.",
    )
