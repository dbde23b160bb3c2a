"""Readings as CSV: our own files, and lists of densities typed by hand.

Knows the header keys and how columns are written; what rows mean is `readings_rows`',
text, numbers and delimiters are `text_table`'s.
"""

import json
from dataclasses import fields
from pathlib import Path
from typing import Any, get_args

import numpy as np

from negcurve.errors import ReadingsError
from negcurve.files.readings_rows import readings_from_rows
from negcurve.files.safe import write_text
from negcurve.files.schema import check_schema
from negcurve.files.text_table import (
    KeyLine,
    Problems,
    TextTable,
    number_in,
    read_table,
)
from negcurve.readings import NUMBERS, DensityKind, DensityZero, PrintState, Readings
from negcurve.target.layout import Layout
from negcurve.values import Finding

SCHEMA_KIND, SCHEMA_VERSION = "readings", 1

_WORDS = {
    "density_kind": get_args(DensityKind),
    "density_zero": get_args(DensityZero),
    "print_state": get_args(PrintState),
}
_TEXTS = ("sheet", "target", "table", "source")
_PATH = "printer_path."

KEYS = (*_TEXTS, *_WORDS, "hours_dry")
"""What a list may say of itself, in `# key: value` lines."""


def read_readings(path: Path | str, layout: Layout | None = None) -> Readings:
    """Read readings of one print.

    Parameters
    ----------
    path : path
        CSV with comma, semicolon or tab; decimal point or comma; UTF-8, UTF-16 or
        Windows-1252. Other columns than ours are ignored.
    layout : Layout, optional
        The target, where the file gives patch numbers without levels, or densities
        alone in the order of the layout.

    Returns
    -------
    Readings
        Rows without a density are left out, with a finding.

    Raises
    ------
    FileError
        If the file cannot be read, is of another kind, or newer than this program.
    ReadingsError
        If rows cannot be used: all of them are listed, with their line numbers.

    Notes
    -----
    In a file with `lightness` the column `standard_error` is in L* too.
    """
    table = read_table(path)
    return readings_from_table(table, layout, sheet=Path(path).stem)


def readings_from_table(
    table: TextTable, layout: Layout | None, *, sheet: str
) -> Readings:
    """Turn a list that was read into readings; see `read_readings`.

    Parameters
    ----------
    table : TextTable
    layout : Layout or None
    sheet : str
        Name of the print, where the list does not say.

    Returns
    -------
    Readings
    """
    source = table.source
    header = _header(table)
    _check_target(header, layout, source)
    whole = {"sheet": sheet, "source": source}
    if layout is not None:
        whole["target"] = layout.identity_text
        whole["table"] = layout.table
        header.setdefault("printer_path", layout.printer_path)
    return readings_from_rows(table, layout, header={**whole, **header})


def write_readings(
    readings: Readings, path: Path | str, *, overwrite: bool = False
) -> None:
    """Write readings so that `read_readings` gives the same ones back.

    Parameters
    ----------
    readings : Readings
        Of one print.
    path : path
        Where the file is to stand.
    overwrite : bool
        Whether a file that stands there may be replaced.

    Raises
    ------
    FileError
        If the file cannot be written.
    """
    lines = [_key_line(key, value) for key, value in _header_lines(readings)]
    columns = _written_columns(readings)
    lines.append(",".join(columns))
    lines.extend(",".join(row) for row in zip(*columns.values(), strict=True))
    write_text(path, "\n".join(lines) + "\n", overwrite=overwrite)


def _header_lines(readings: Readings) -> list[tuple[str, str]]:
    lines = [("schema", f"negcurve/{SCHEMA_KIND}/{SCHEMA_VERSION}")]
    for name in ("sheet", "target", "table", *_WORDS, "hours_dry", "source"):
        value = getattr(readings, name)
        if value not in ("", None):
            lines.append((name, _one_line(value)))
    if readings.on_tablet.any():
        lines.append(("tablet_over_film", "yes" if readings.tablet_over_film else "no"))
    for key, value in readings.printer_path.items():
        lines.append((_PATH + key, _one_line(value)))
    for finding in readings.findings:
        content = {each.name: getattr(finding, each.name) for each in fields(finding)}
        lines.append(("finding", json.dumps(content)))
    return lines


def _key_line(key: str, value: str) -> str:
    line = f"# {key}: {value}"
    if not value.endswith((",", ";")):
        return line
    # In quotes, or the end would be taken for empty cells of a spreadsheet.
    return '"' + line.replace('"', '""') + '"'


def _one_line(value: object) -> str:
    return " ".join(str(value).split())


def _written_columns(readings: Readings) -> dict[str, list[str]]:
    columns: dict[str, list[str]] = {}
    if any(readings.patch):
        columns["patch"] = [_quoted(key) for key in readings.patch]
    for name in NUMBERS:
        numbers = getattr(readings, name)
        if name in NUMBERS[:2] or np.isfinite(numbers).any():
            columns[name] = [_number_text(each) for each in numbers]
    if readings.has_mixtures:
        columns["ink"] = [_quoted(ink) for ink in readings.ink]
    if any(readings.flags):
        columns["flags"] = [";".join(sorted(each)) for each in readings.flags]
    return columns


def _quoted(text: str) -> str:
    """Quote a patch key where a reader could take it for something else."""
    plain = _one_line(text)
    needs = any(each in plain for each in ',"#')
    return '"' + plain.replace('"', '""') + '"' if needs else plain


def _number_text(value: float) -> str:
    return repr(float(value)) if np.isfinite(value) else ""


def _header(table: TextTable) -> dict[str, Any]:
    header: dict[str, Any] = {}
    problems = Problems(table.source)
    for each in table.keys:
        if each.key == "schema":
            check_schema(each.value, SCHEMA_KIND, SCHEMA_VERSION, where=table.source)
        elif each.key in _TEXTS and each.value:
            header[each.key] = each.value
        elif each.key in _WORDS:
            header[each.key] = _word(each, problems)
        elif each.key == "hours_dry":
            header[each.key] = _hours(each, problems)
        elif each.key == "tablet_over_film":
            header[each.key] = _yes(each, problems)
        elif each.key == "finding":
            known = header.get("findings", ())
            header["findings"] = (*known, *_finding(each, problems))
    problems.raise_any()
    printer_path = {
        each.key.removeprefix(_PATH): each.value
        for each in table.keys
        if each.key.startswith(_PATH)
    }
    return {**header, "printer_path": printer_path} if printer_path else header


def _word(line: KeyLine, problems: Problems) -> str:
    word, words = line.value.lower(), _WORDS[line.key]
    if word not in words:
        listed = " or ".join((", ".join(words[:-1]), words[-1]))
        problems.add(line.line, f"{line.key} is {line.value!r}, not {listed}")
    return word


def _yes(line: KeyLine, problems: Problems) -> bool:
    word = line.value.lower()
    if word not in ("yes", "no"):
        problems.add(line.line, f"{line.key} is {line.value!r}, not yes or no")
    return word == "yes"


def _hours(line: KeyLine, problems: Problems) -> float | None:
    hours = number_in(line.value)
    if line.value and (hours is None or hours < 0):
        problems.add(line.line, f"hours_dry is {line.value!r}, not a number of hours")
    return hours


def _finding(line: KeyLine, problems: Problems) -> tuple[Finding, ...]:
    try:
        return (Finding(**json.loads(line.value)),)
    except (ValueError, TypeError):
        problems.add(line.line, "the finding is damaged")
        return ()


def _check_target(header: dict[str, Any], layout: Layout | None, source: str) -> None:
    named = header.get("target", "")
    if layout is not None and named and named != layout.identity_text:
        raise ReadingsError(
            f"was read from target {named}, not from {layout.identity_text}",
            where=source,
            fix="Name the target that was printed, or the readings that belong to it.",
        )
