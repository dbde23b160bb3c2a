"""Readings from any list that people or instruments write: CSV, CGATS, CxF3.

The one way in for lists: tells the format by its content, lets `quantities` find the
density and `patch_order` the patches, and keeps what the file or the user says of both.
"""

from dataclasses import dataclass, replace
from pathlib import Path

from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.files.cgats import is_cgats, parse_cgats
from negcurve.files.cxf3 import is_cxf, read_cxf
from negcurve.files.patch_order import Order, check_order, with_patches
from negcurve.files.quantities import with_density
from negcurve.files.readings_csv import readings_from_table
from negcurve.files.text_table import KeyLine, TextTable, parse_table, read_text
from negcurve.readings import DensityKind, DensityZero, Readings
from negcurve.target.layout import Layout
from negcurve.values import Finding

BELOW_ZERO = -0.02
"""Density below which no absolute reading of a print lies. [D]"""


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
    table, about = _table(path)
    given = with_patches(table, layout, options.order)
    filled, kind, told = with_density(given, channel=options.channel)
    said = {
        "density_kind": kind,
        "density_zero": options.zero,
    }
    for key, value in said.items():
        filled = _with_key(filled, key, value)
    readings = readings_from_table(filled, layout, sheet=Path(path).stem)
    if layout is not None:
        check_order(
            layout, readings.negative_level, readings.density, source=table.source
        )
    found = (*about, *told, *readings.findings, *_zero_findings(readings))
    return readings.replaced(findings=found)


def _table(path: Path | str) -> tuple[TextTable, tuple[Finding, ...]]:
    if is_cxf(path):
        cxf = read_cxf(path)
        return cxf.table, cxf.findings
    text, source = read_text(path), Path(path).name
    if is_cgats(text):
        cgats = parse_cgats(text, source=source)
        return cgats.table, cgats.findings
    return parse_table(text, source=source), ()


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
    if readings.density_zero != "absolute" or lowest >= BELOW_ZERO:
        return ()
    return (
        Finding(
            severity="warning",
            where=readings.source,
            what=f"densities go down to {lowest:.2f}, below that of perfect white",
            fix="If the instrument was zeroed on the paper, give --zero paper.",
        ),
    )


def zero_named(text: str | None) -> DensityZero | None:
    """Return what density 0 is, from a user's word.

    Raises
    ------
    InvalidValueError
        If it is `black`, from which no lightness follows, or not known.
    """
    words: dict[str, DensityZero] = {
        "absolute": "absolute",
        "paper": "paper",
        "scanner": "scanner",
    }
    if text is None or text in words:
        return None if text is None else words[text]
    if text == "black":
        raise InvalidValueError(
            "densities counted from black say nothing about lightness",
            where="zero",
            fix="Zero the instrument on its white tile and read the print again; or "
            "subtract the paper's reading from all of them and give --zero paper.",
        )
    raise InvalidValueError(
        f"{text!r} is not known", where="zero", fix="Use absolute, paper or scanner."
    )
