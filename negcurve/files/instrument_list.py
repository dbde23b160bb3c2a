"""Readings from any list that people or instruments write: CSV, CGATS, CxF3.

The one way in for lists: tells the format by its content, lets `quantities` find the
density and `patch_order` the patches, and keeps what the file or the user says of both.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeVar, get_args

from negcurve.errors import ReadingsError
from negcurve.files.cgats import parse_cgats
from negcurve.files.column_words import PLAIN
from negcurve.files.cxf3 import read_cxf
from negcurve.files.density_choice import with_density
from negcurve.files.instrument_kind import is_cgats, is_cxf
from negcurve.files.patch_order import Order, check_order, with_patches
from negcurve.files.quantities import holds_quantity
from negcurve.files.readings_csv import readings_from_table
from negcurve.files.text_file import read_text
from negcurve.files.text_table import (
    KeyLine,
    TextTable,
    header_line,
    parse_table,
)
from negcurve.readings import DensityKind, DensityZero, Readings
from negcurve.target.layout import Layout
from negcurve.values import Finding, first_of

_Word = TypeVar("_Word", bound=str)

WHITEST_D = 0.02
"""Density below which no paper's absolute one lies: its L* would be above 98. Ours.
[D]"""


@dataclass(frozen=True, kw_only=True)
class ListOptions:
    """What a user says about a list.

    Attributes
    ----------
    channel : DensityKind, optional
        Which density is wanted.
    zero : DensityZero, optional
        What density 0 is; as the file says, else absolute.
    order : Order, optional
        In which the patches were read.
    """

    channel: DensityKind | None = None
    zero: DensityZero | None = None
    order: Order | None = None


@dataclass(frozen=True, kw_only=True)
class ParsedList:
    """A list as its format gives it, before its columns are understood.

    Attributes
    ----------
    table : TextTable
    findings : tuple of Finding
        About the format.
    sheet : str
        Name of the file, which names the print unless the list does.
    """

    table: TextTable
    findings: tuple[Finding, ...]
    sheet: str


def read_list(
    path: Path | str,
    layout: Layout | None = None,
    options: ListOptions = ListOptions(),
) -> Readings:
    """Read readings of one print from a list.

    Parameters
    ----------
    path : path
        CSV, CGATS.17 (ISO 28178) text or CxF3 (ISO 17972-1), told by its content.
    layout : Layout, optional
        The target that was read.
    options : ListOptions

    Returns
    -------
    Readings

    Raises
    ------
    FileError
        If the file cannot be read, or is damaged.
    ReadingsError
        If rows cannot be used, units are in doubt, or columns contradict each other.
    """
    return readings_of_list(parsed_list(path), layout, options)


def parsed_list(path: Path | str) -> ParsedList:
    """Split a list of any known format into columns and rows; see `read_list`."""
    table, findings = _split(path)
    return ParsedList(table=table, findings=findings, sheet=Path(path).stem)


def _split(path: Path | str) -> tuple[TextTable, tuple[Finding, ...]]:
    if is_cxf(path):
        cxf = read_cxf(path)
        return cxf.table, cxf.findings
    text, source = read_text(path), Path(path).name
    if is_cgats(text):
        cgats = parse_cgats(text, source=source)
        table, told = _with_values(cgats.tables)
        return table, (*cgats.findings, *told)
    return _after_preamble(text, source)


def _with_values(
    tables: Sequence[TextTable],
) -> tuple[TextTable, tuple[Finding, ...]]:
    """Return the first table that holds a quantity of a print, and tell of others."""
    holding = [each for each in tables if holds_quantity(each.columns)]
    chosen = (*holding, *tables)[0]
    if len(tables) == 1:
        return chosen, ()
    return chosen, (
        Finding(
            severity="warning" if len(holding) > 1 else "note",
            where=chosen.source,
            what=f"holds {len(tables)} tables, {len(holding)} of them with measured "
            "values; the first of these was read",
        ),
    )


def _after_preamble(text: str, source: str) -> tuple[TextTable, tuple[Finding, ...]]:
    """Split a CSV, without what a program wrote above and below the columns' names."""
    lines = text.splitlines()
    first = header_line(lines, holds_quantity)
    if first is None:
        return parse_table(text, source=source), ()
    units = _units(lines, first)
    out = [
        place
        for place, line in enumerate(lines)
        if (place < first and not line.startswith("#")) or place == units
    ]
    dropped = [place for place in out if lines[place].strip()]
    kept = ["" if place in out else line for place, line in enumerate(lines)]
    table = parse_table("\n".join(kept), source=source)
    if not dropped:
        return table, ()
    named = first_of([place + 1 for place in dropped], 6)
    return table, (
        Finding(
            severity="note",
            where=source,
            what=f"line {named}: left out, since the names of the columns stand "
            f"in line {first + 1}",
        ),
    )


def _units(lines: Sequence[str], first: int) -> int | None:
    """Return the place of a line of units below the names of the columns."""
    below = next((n for n in range(first + 1, len(lines)) if lines[n].strip()), None)
    if below is None or lines[below].startswith("#"):
        return None
    return None if any(char.isdigit() for char in lines[below]) else below


def readings_of_list(
    parsed: ParsedList, layout: Layout | None, options: ListOptions
) -> Readings:
    """Understand a list that was split; see `read_list`."""
    table = parsed.table
    given = with_patches(table, layout, options.order)
    zero = options.zero or _stated(table, "density_zero", get_args(DensityZero))
    filled, kind, told = with_density(
        given,
        channel=options.channel or _kind_stated(table),
        absolute=zero in (None, "absolute"),
    )
    said = {
        "density_kind": kind,
        "density_zero": options.zero,
    }
    for key, value in said.items():
        filled = _with_key(filled, key, value)
    readings = readings_from_table(filled, layout, sheet=parsed.sheet)
    if layout is not None:
        patches = readings.chosen(~readings.on_tablet)
        check_order(
            layout, patches.negative_level, patches.density, source=table.source
        )
    found = (*parsed.findings, *told, *readings.findings, *_zero_findings(readings))
    return readings.replaced(findings=found)


def _stated(table: TextTable, key: str, words: tuple[_Word, ...]) -> _Word | None:
    """Return which of some words a list states under a key, if any."""
    said = [line.value.lower() for line in table.keys if line.key == key]
    return next((word for word in words if word in said), None)


def _kind_stated(table: TextTable) -> DensityKind | None:
    """Return which of its densities a list without a plain one means."""
    if set(PLAIN) & set(table.columns):
        return None
    return _stated(table, "density_kind", get_args(DensityKind))


def _with_key(table: TextTable, key: str, value: str | None) -> TextTable:
    """Add what is known about the whole list, unless the list says otherwise."""
    stated = [line for line in table.keys if line.key == key]
    if key == "density_zero" and value is None:
        _refuse_base_offset(table)
    if value is None or any(line.value.lower() == value for line in stated):
        return table
    if stated:
        raise ReadingsError(
            f"says {key}: {stated[0].value}, which is not {value}",
            where=f"{table.source}, line {stated[0].line}",
            fix="Correct the line, or leave the option away.",
        )
    return replace(table, keys=(*table.keys, KeyLine(line=1, key=key, value=value)))


def _refuse_base_offset(table: TextTable) -> None:
    if any(line.key == "cxf.base_offset" for line in table.keys):
        raise ReadingsError(
            "its densities have an offset for the base, so 0 may be the paper",
            where=table.source,
            fix="Say which: --zero paper or --zero absolute.",
        )


def _zero_findings(readings: Readings) -> tuple[Finding, ...]:
    lowest = float(readings.density.min())
    if readings.density_zero != "absolute" or lowest >= WHITEST_D:
        return ()
    return (
        Finding(
            severity="warning",
            where=readings.source,
            what=f"densities go down to {lowest:.2f}, which is whiter than any paper",
            fix="If the instrument was zeroed on the paper, give --zero paper.",
        ),
    )
