"""Which of a list's quantities is taken for its density, if they agree."""

import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from negcurve.errors import ReadingsError
from negcurve.files.column_words import PLAIN
from negcurve.files.quantities import (
    Quantity,
    own_density,
    plainly_named,
    quantities_of,
)
from negcurve.files.text_table import Problems, Row, TextTable, names_told
from negcurve.readings import DensityKind
from negcurve.values import Finding, FloatArray

ALIKE_D = 0.02
"""Two quantities of one list may differ by this for rounding. [D]"""

VISUAL_HINT = (
    "; a column density that is visual needs --channel visual, or a line # "
    "density_kind: visual."
)

FAR_D = 0.1
"""A single row of which two quantities differ by more was typed or exported wrongly.
Ours. [D]"""

VISUAL_APART_D = 0.15
"""Visual and luminance density of one print may differ by this: blue and brown prints
reach 0.08. Ours. [D]"""

_STATUS = re.compile(
    r"status\W*(?:status)?(a|e|m|t|i|din(?:-nb)?|hifi|hex|txp|ex|pd|apd|spectralx?)\b",
    re.IGNORECASE,
)
"""Those of ISO 5-3, and what CxF3 (ISO 17972-1) names beside them."""

_ILLUMINANT = re.compile(r"illuminant\W+([a-z]\d*)\b", re.IGNORECASE)
_OBSERVER = re.compile(r"observer\W+(2|10)(?!\d)", re.IGNORECASE)


def with_density(
    table: TextTable, *, channel: DensityKind | None, absolute: bool = True
) -> tuple[TextTable, DensityKind | None, tuple[Finding, ...]]:
    """Give a list a column `density`, from whatever quantity it holds.

    Parameters
    ----------
    table : TextTable
    channel : DensityKind or None
        What is asked for; else luminance if it is there, then visual density.
    absolute : bool
        Whether densities count from the perfect diffuser, so that those of different
        kinds must be near each other.

    Returns
    -------
    table : TextTable
        As it was where it has a column `density` or `lightness` and nothing is asked.
    kind : DensityKind or None
        Of the density; None where the list itself says.
    findings : tuple of Finding

    Raises
    ------
    ReadingsError
        If there is no quantity of a print, or not the one asked for, if its unit is in
        doubt, or two columns contradict each other.
    """
    table = plainly_named(table)
    quantities = list(quantities_of(table))
    plain_is_meant = (
        channel is not None
        and "density" in table.columns
        and all(each.kind != channel for each in quantities)
    )
    own = () if plain_is_meant and channel != "luminance" else own_density(table)
    _check_alike([*own, *quantities], table)
    if absolute:
        _check_near(quantities, table.source)
    if channel is None and set(PLAIN) & set(table.columns):
        return table, None, ()
    if plain_is_meant and channel is not None:
        return table, channel, _taken_as(channel, table)
    chosen = _chosen(quantities, channel, table)
    return _filled(table, chosen.density), chosen.kind, _told(chosen, quantities, table)


def _check_alike(quantities: Sequence[Quantity], table: TextTable) -> None:
    """Refuse a list two of whose columns give different densities of one kind."""
    first: dict[str, Quantity] = {}
    for each in quantities:
        before = first.setdefault(each.kind, each)
        both = np.isfinite(each.density) & np.isfinite(before.density)
        if not both.any():
            continue
        apart = np.abs(each.density - before.density)
        if np.median(apart[both]) > ALIKE_D:
            raise ReadingsError(
                f"{before.name} and {each.name} contradict each other: their "
                f"{each.kind} densities differ by {np.median(apart[both]):.2f} D",
                where=table.source,
                fix="Are both of one measurement, D50 and 2 degrees? Leave one out"
                + (VISUAL_HINT if before.name == "density" else "."),
            )
        problems = Problems(table.source)
        for place in np.flatnonzero(both & (apart > FAR_D)):
            problems.add(
                table.rows[place].line,
                f"{before.name} and {each.name} contradict each other by "
                f"{apart[place]:.2f} D",
            )
        problems.raise_any()


def _check_near(quantities: Sequence[Quantity], source: str) -> None:
    """Refuse a visual density that no print has beside such a luminance density."""
    luminance = next((each for each in quantities if each.kind == "luminance"), None)
    visual = next((each for each in quantities if each.kind == "visual"), None)
    if luminance is None or visual is None:
        return
    apart = np.abs(visual.density - luminance.density)
    both = apart[np.isfinite(apart)]
    if len(both) and np.median(both) > VISUAL_APART_D:
        raise ReadingsError(
            f"{luminance.name} and {visual.name} contradict each other: their "
            f"densities differ by {np.median(both):.2f} D",
            where=source,
            fix="If the densities count from the paper, give --zero paper; else leave "
            "out the columns that are wrong.",
        )


def _chosen(
    quantities: Sequence[Quantity], channel: DensityKind | None, table: TextTable
) -> Quantity:
    for kind in ("luminance", "visual") if channel is None else (channel,):
        for each in quantities:
            if each.kind == kind:
                return each
    kinds = list(dict.fromkeys(each.kind for each in quantities))
    if channel is None and len(kinds) == 1:
        return quantities[0]
    if not kinds:
        raise _nothing_named(table)
    have = ", ".join(kinds)
    raise ReadingsError(
        f"has no {channel} density; it has {have}"
        if channel
        else f"has densities of several channels: {have}",
        where=table.source,
        fix=f"Choose one that it has: --channel {kinds[0]}.",
    )


def _nothing_named(table: TextTable) -> ReadingsError:
    return ReadingsError(
        "has no column that is known for a density, only " + names_told(table.columns),
        where=table.source,
        fix="Name it in the first line: density, D_VIS, L*, LAB_L, XYZ_Y, reflectance, "
        "or R_380 to R_730 for spectra.",
    )


def _taken_as(channel: DensityKind, table: TextTable) -> tuple[Finding, ...]:
    stated = any(line.key == "density_kind" for line in table.keys)
    if stated:
        return ()
    return (
        Finding(
            severity="note",
            where=table.source,
            what=f"its column density is taken as {channel} density, as asked",
        ),
    )


def _filled(table: TextTable, density: FloatArray) -> TextTable:
    """Put the density in as a column; other values stay as they were."""
    gone = {"density", "lightness", "l*", "standard_error"}
    columns = tuple(name for name in table.columns if name not in gone)
    rows = []
    for row, value in zip(table.rows, density.tolist(), strict=True):
        cells = {name: cell for name, cell in row.cells.items() if name in columns}
        cells["density"] = f"{value:.6f}" if np.isfinite(value) else ""
        rows.append(Row(line=row.line, cells=cells))
    return replace(table, columns=(*columns, "density"), rows=tuple(rows))


def _told(
    chosen: Quantity, quantities: Sequence[Quantity], table: TextTable
) -> tuple[Finding, ...]:
    others = {each.kind for each in quantities} - {chosen.kind}
    left = f"; it also has {', '.join(sorted(others))}" if others else ""
    status = _stated(table, _STATUS) if chosen.scale == "density" else ""
    note = Finding(
        severity="note",
        where=table.source,
        what=f"{chosen.kind} density was taken from {chosen.name}"
        + (f", status {status.upper()}" if status else "")
        + left,
    )
    return (note, *(_light_finding(table) if chosen.depends_on_light else ()))


def _light_finding(table: TextTable) -> tuple[Finding, ...]:
    """Warn of L* and Y for another illuminant or observer than luminance density."""
    light, observer = _stated(table, _ILLUMINANT), _stated(table, _OBSERVER)
    other = [light] if light and light.upper() != "D50" else []
    other += [f"{observer} degrees"] if observer not in ("", "2") else []
    if not other:
        return ()
    return (
        Finding(
            severity="warning",
            where=table.source,
            what=f"its L* or Y are for {' and '.join(other)}; luminance density is "
            "for D50 and 2 degrees",
            fix="Export them so, or as spectra; on a neutral print it hardly matters.",
        ),
    )


def _stated(table: TextTable, pattern: re.Pattern[str]) -> str:
    """Return what an instrument's file states of its measuring, empty if nothing."""
    for line in table.keys:
        found = pattern.search(f"{line.key} {line.value}")
        if found is not None:
            return str(found[1])
    return ""
