"""Instrument files in the CGATS.17 (ISO 28178) text format, read strictly.

Splits the file into header and rows and tells what a lenient reader would take wrongly:
a blank cell moves all columns after it. What the fields mean is `quantities`'.
"""

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

from negcurve.errors import FileError
from negcurve.files.readings_csv import KEYS
from negcurve.files.text_table import KeyLine, Problems, Row, TextTable
from negcurve.values import Finding

_TOKEN = re.compile(r'"([^"]*)"|\'([^\']*)\'|([^\s"\'#]\S*)|(#.*)|(["\'].*)')
_FIELDS = re.compile(
    r"SAMPLE_ID|SAMPLE_NAME|STRING|(CMYK|RGB|XYZ|XYY|LAB|STDEV)_\w+|"
    r"D_(RED|GREEN|BLUE|VIS|MAJOR_FILTER)|SPECTRAL_(NM|PCT|DEC)\d*|MEAN_DE|CHI_SQD_PAR"
)
"""Names of the standard's table of data fields, with the wavelength at their end."""

_COMMA = re.compile(r"[+-]?\d+,\d+([eE][+-]?\d+)?")
_NOT_A_NUMBER = re.compile(r"[+-]?(nan|inf(inity)?)", re.IGNORECASE)
_COUNTS = ("NUMBER_OF_FIELDS", "NUMBER_OF_SETS")


@dataclass(frozen=True, kw_only=True)
class CgatsFile:
    """The tables of a file, one or more, and what should be known about it."""

    tables: tuple[TextTable, ...]
    findings: tuple[Finding, ...]


@dataclass
class _Table:
    """One table: its own header, fields and rows."""

    header: dict[str, tuple[int, str]] = field(default_factory=dict)
    fields: list[str] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)


@dataclass
class _File:
    """What has been read so far, line by line."""

    source: str
    problems: Problems
    declared: set[str] = field(default_factory=set)
    notes: list[str] = field(default_factory=list)
    part: str = "header"
    table: _Table = field(default_factory=_Table)
    tables: list[_Table] = field(default_factory=list)


def parse_cgats(text: str, *, source: str) -> CgatsFile:
    """Read the tables of an instrument file.

    Parameters
    ----------
    text : str
        Lines that end in LF, CRLF or CR.
    source : str
        File, for messages.

    Returns
    -------
    CgatsFile
        Columns in small letters; header keywords as keys that begin with `cgats.`, but
        those that our own files have under their own names.

    Raises
    ------
    FileError
        If there is no data, or its end is missing.
    ReadingsError
        If rows do not hold one value for each field, or counts do not agree.

    Notes
    -----
    Source: ISO 28178:2009; names of fields as in its public implementations.
    """
    file = _File(source=source, problems=Problems(source))
    for number, line in enumerate(text.splitlines(), start=1):
        _take_line(file, number, line)
    _check_ends(file)
    file.problems.raise_any(
        fix="Export the file again; text with blanks stands in quotes, and a value "
        "that is not known needs a row without it."
    )
    return CgatsFile(
        tables=tuple(_table(each, source) for each in file.tables),
        findings=_findings(file),
    )


def _tokens(line: str) -> Iterator[str | None]:
    """Yield the words of a line without quotes and comments; None for a lost quote."""
    for found in _TOKEN.finditer(line):
        if found[4] is not None:
            return
        yield (
            None
            if found[5] is not None
            else next(each for each in found.group(1, 2, 3) if each is not None)
        )


def _take_line(file: _File, number: int, line: str) -> None:
    read = list(_tokens(line))
    words = [word for word in read if word is not None]
    if len(words) < len(read):
        file.problems.add(number, "a quotation mark is not closed")
    if not words:
        return
    first = words[0].upper()
    if file.part == "header":
        _header_line(file, number, first, words)
    elif first == f"END_{file.part}":
        if file.part == "DATA":
            _end_table(file)
        file.part = "header"
    elif first.startswith(("BEGIN_", "END_DATA")):
        file.problems.add(number, f"{first} stands within {file.part}")
    elif file.part == "DATA_FORMAT":
        file.table.fields.extend(word.upper() for word in words)
    else:
        _data_line(file, number, line, words)


def _header_line(file: _File, number: int, first: str, words: list[str]) -> None:
    if first in ("BEGIN_DATA", "BEGIN_DATA_FORMAT"):
        file.part = first.removeprefix("BEGIN_")
        if first == "BEGIN_DATA_FORMAT":
            file.table.fields = []  # another table had others
        return
    if first == "KEYWORD" and len(words) > 1:
        file.declared.add(words[1].upper())
    elif len(words) > 1:
        _, before = file.table.header.get(first, (0, ""))
        value = " ".join(words[1:])
        # Such as WEIGHTING_FUNCTION, which is given once for each of its parts.
        joined = f"{before}; {value}" if before and first not in _COUNTS else value
        file.table.header[first] = (number, joined)


def _end_table(file: _File) -> None:
    """Check a table, and begin the next one with what holds for both."""
    _check_counts(file)
    done = file.table
    file.tables.append(done)
    kept = {name: value for name, value in done.header.items() if name not in _COUNTS}
    file.table = _Table(header=kept, fields=done.fields)


def _data_line(file: _File, number: int, line: str, words: list[str]) -> None:
    names = file.table.fields
    if len(words) != len(names):
        what = f"has {len(words)} values for {len(names)} fields"
        if "\t\t" in line.strip(" ") or line.startswith("\t"):
            what += ": a cell is blank"
        elif len(words) < len(names):
            what += ": a cell is blank or the row is cut short"
        else:
            what += ": text with blanks must stand in quotes"
        file.problems.add(number, what)
        return
    for name, word in zip(names, words, strict=True):
        if _NOT_A_NUMBER.fullmatch(word):
            file.problems.add(number, f"{name} is {word}, not a number")
    if any(_COMMA.fullmatch(word) for word in words):
        file.notes.append("uses decimal commas, which the format does not have")
    file.table.rows.append(Row(line=number, cells=_cells(names, words)))


def _cells(names: list[str], words: list[str]) -> dict[str, str]:
    """Name each value; pairs of wavelength and value become one named cell."""
    cells: dict[str, str] = {}
    wavelength = ""
    for name, word in zip(names, words, strict=True):
        if name == "SPECTRAL_NM":
            wavelength = word.split(".")[0]
        elif name in ("SPECTRAL_PCT", "SPECTRAL_DEC") and wavelength:
            cells[f"{name.lower()}_{wavelength}"] = word
        else:
            cells[name.lower()] = word
    return cells


def _check_ends(file: _File) -> None:
    if file.part != "header":
        raise FileError(
            f"ends before END_{file.part}, so it may be cut off",
            where=file.source,
            fix="Export or copy the file again.",
        )
    if not file.tables:
        missing = "BEGIN_DATA" if file.table.fields else "BEGIN_DATA_FORMAT"
        raise FileError(
            f"is an instrument file without {missing}",
            where=file.source,
            fix="Export the file again.",
        )


def _check_counts(file: _File) -> None:
    fields, rows = file.table.fields, file.table.rows
    for name, count in zip(_COUNTS, (len(fields), len(rows)), strict=True):
        line, text = file.table.header.get(name, (0, ""))
        if not text:
            file.notes.append(f"does not state {name}")
        elif file.problems.found and name == _COUNTS[1]:
            continue  # rows that were refused are told, and would be missing here
        elif text != str(count):
            file.problems.add(line, f"{name} is {text}, but there are {count}")
    once = Counter(name for name in fields if not name.startswith("SPECTRAL_"))
    twice = [name for name, count in once.items() if count > 1]
    if twice:
        raise FileError(
            f"names the field {twice[0]} twice",
            where=file.source,
            fix="Export the file again, each field once.",
        )


def _table(table: _Table, source: str) -> TextTable:
    keys = tuple(
        KeyLine(line=line, key=_key(name), value=value)
        for name, (line, value) in table.header.items()
    )
    columns = dict.fromkeys(name for row in table.rows for name in row.cells)
    return TextTable(
        source=source, keys=keys, columns=tuple(columns), rows=tuple(table.rows)
    )


def _key(name: str) -> str:
    plain = name.lower()
    return plain if plain in KEYS else f"cgats.{plain}"


def _findings(file: _File) -> tuple[Finding, ...]:
    notes = list(dict.fromkeys(file.notes))
    fields = dict.fromkeys(name for table in file.tables for name in table.fields)
    strange = [
        name
        for name in fields
        if not _FIELDS.fullmatch(name) and name not in file.declared
    ]
    if strange:
        notes.append(f"uses names that it does not declare: {', '.join(strange[:6])}")
    return tuple(
        Finding(severity="note", where=file.source, what=note) for note in notes
    )
