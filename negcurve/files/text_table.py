"""Tables of text as people and programs write them, with line numbers kept.

Knows delimiters, quotes, comments and decimal commas; character sets are `text_file`'s,
what the columns mean is left to the module of each kind of file.
"""

import csv
import itertools
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from negcurve.errors import FileError, ReadingsError
from negcurve.files.instrument_kind import refuse_instrument_file
from negcurve.files.text_file import read_text

SHOWN_PROBLEMS = 12

SHOWN_NAMES, LONGEST_NAME = 12, 40
"""So many names of columns, and letters of each, stand in a message."""

SEARCHED_LINES = 60
"""Among so many lines the names of the columns are looked for."""

FEWEST_WAVELENGTHS = 8
"""So many numbers in even steps in the first line are a spectrum's wavelengths. [nm]"""

_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?")
_QUOTED_COMMENT = re.compile(r'"#(?:[^"]|"")*"[,;\t ]*')
"""As a spreadsheet writes a comment: one cell in quotes, empty ones behind it."""

_KEY_LINE = re.compile(r"#\s*([A-Za-z][\w.]*)\s*:\s*(.*)")


@dataclass(frozen=True, kw_only=True)
class Row:
    """One line of a table: its number in the file, counted from 1, and its cells."""

    line: int
    cells: dict[str, str]


@dataclass(frozen=True, kw_only=True)
class KeyLine:
    """One `# key: value` line; the key in small letters."""

    line: int
    key: str
    value: str


@dataclass(frozen=True, kw_only=True)
class TextTable:
    """A header of keys, named columns, and rows.

    Attributes
    ----------
    source : str
        File, for messages.
    keys : tuple of KeyLine
        In the order of the file.
    columns : tuple of str
        Names in small letters, spaces as underscores.
    rows : tuple of Row
    """

    source: str
    keys: tuple[KeyLine, ...]
    columns: tuple[str, ...]
    rows: tuple[Row, ...]


@dataclass
class Problems:
    """Collects what is wrong with the rows of a file, to report all of it at once."""

    source: str
    found: list[tuple[int, str]] = field(default_factory=list)

    def add(self, line: int, what: str) -> None:
        """Note what is wrong in a line."""
        self.found.append((line, what))

    def raise_any(self, *, fix: str = "Correct the file and read it again.") -> None:
        """Raise one ReadingsError that lists everything found, if anything was."""
        if not self.found:
            return
        listed = sorted(self.found)
        if len(listed) == 1:
            line, what = listed[0]
            raise ReadingsError(what, where=f"{self.source}, line {line}", fix=fix)
        lines = [f"  line {line}: {what}" for line, what in listed[:SHOWN_PROBLEMS]]
        if len(listed) > SHOWN_PROBLEMS:
            lines.append(f"  and {len(listed) - SHOWN_PROBLEMS} more")
        text = "\n".join([f"{len(listed)} problems", *lines])
        raise ReadingsError(text, where=self.source, fix=fix)


def read_table(path: Path | str) -> TextTable:
    """Read a text file and split it; see `read_text` and `parse_table`."""
    return parse_table(read_text(path), source=Path(path).name)


def parse_table(text: str, *, source: str) -> TextTable:
    """Split text into keys, columns and rows.

    Parameters
    ----------
    text : str
        Lines that begin with `#` are comments; the first other line names the columns.
    source : str
        File, for messages.

    Returns
    -------
    TextTable

    Raises
    ------
    FileError
        If no line names columns, two columns have one name, or it is an instrument's
        file of another format.
    ReadingsError
        If rows have more cells than there are columns.
    """
    _refuse_other_kinds(text, source)
    keys: list[KeyLine] = []
    lines: list[tuple[int, str]] = []
    for number, line in enumerate(text.splitlines(), start=1):
        bare = line.strip()
        if bare.startswith("#") or _QUOTED_COMMENT.fullmatch(bare):
            keys.extend(_key_line(bare, number))
        elif line.strip(' \t,;"'):
            lines.append((number, line))
    if not lines:
        raise FileError(
            "has no line that names columns",
            where=source,
            fix="Let the first line name them, such as patch,density.",
        )
    header = lines[0][1]
    delimiter = _delimiter(header, *(line for _, line in lines[1:2]))
    columns = _columns(_cells(header, delimiter), source=source, line=lines[0][0])
    problems = Problems(source)
    rows = []
    for number, line in lines[1:]:
        cells = _cells(line, delimiter)
        if any(cells[len(columns) :]):
            problems.add(
                number, f"has {len(cells)} values for {len(columns)} named columns"
            )
        rows.append(Row(line=number, cells=dict(zip(columns, cells, strict=False))))
    problems.raise_any(
        fix="With decimal commas, separate the columns by semicolons or tabs."
    )
    return TextTable(source=source, keys=tuple(keys), columns=columns, rows=tuple(rows))


def _refuse_other_kinds(text: str, source: str) -> None:
    refuse_instrument_file(text, source=source)
    start = text.lstrip()[:1]
    if start == "{":
        raise FileError(
            "is JSON, not a list",
            where=source,
            fix="Name a list of densities; layouts follow --target, solutions --table.",
        )
    if start == "<":
        raise FileError(
            "is HTML or XML, not a list",
            where=source,
            fix="Export the readings as CSV, as CGATS text or as CxF3.",
        )


def header_line(
    lines: Sequence[str], are_columns: Callable[[Sequence[str]], bool]
) -> int | None:
    """Find the line that names the columns below what a program wrote above them.

    Parameters
    ----------
    lines : sequence of str
        Of the file.
    are_columns : callable
        Tells whether names, in small letters, are those of columns.

    Returns
    -------
    int or None
        Place of the first line with such names that has a number in one of the two
        lines below it, the first of which may hold units.
    """
    named = [
        place
        for place, line in enumerate(lines)
        if line.strip(' \t,;"') and not line.lstrip(' "').startswith("#")
    ]
    for nth, place in enumerate(named[:SEARCHED_LINES]):
        below = [lines[other] for other in named[nth + 1 : nth + 3]]
        delimiter = _delimiter(lines[place], *below[:1])
        names = tuple(map(_column_name, _cells(lines[place], delimiter)))
        cells = [cell for line in below for cell in _cells(line, delimiter)]
        if are_columns(names) and any(number_in(cell) is not None for cell in cells):
            return place
    return None


def _key_line(comment: str, number: int) -> list[KeyLine]:
    if comment.startswith('"'):
        plain = comment.rstrip(",;\t ")[1:-1].replace('""', '"')
    else:
        plain = comment.rstrip(",;\t ")  # empty cells of a spreadsheet
    found = _KEY_LINE.match(plain)
    if found is None:
        return []
    return [KeyLine(line=number, key=found[1].lower(), value=found[2].strip())]


def _delimiter(header: str, below: str = "") -> str | None:
    """Return what parts the columns; blanks do where the next line has as many."""
    found = next((each for each in "\t;," if each in header), None)
    words = len(header.split())
    if found is None and words > 1 and words == len(below.split()):
        return " "
    return found


def _column_name(name: str) -> str:
    return re.sub(r"[\s-]+", "_", name.lower())


def _cells(line: str, delimiter: str | None) -> list[str]:
    if delimiter is None:
        return [line.strip().strip('"').strip()]
    split = csv.reader([line.strip(" ")], delimiter=delimiter, skipinitialspace=True)
    return [cell.strip() for cell in next(split)]


def _columns(names: Sequence[str], *, source: str, line: int) -> tuple[str, ...]:
    columns = tuple(map(_column_name, names))
    numbers = [name for name in names if number_in(name) is not None]
    if numbers and not _are_wavelengths(numbers):
        raise FileError(
            "is a number where the names of the columns should stand",
            where=f"{source}, line {line}",
            fix="Let the first line name the columns, such as patch,density.",
        )
    named = [name for name in columns if name]
    twice = {name for name in named if named.count(name) > 1}
    if twice:
        raise FileError(
            f"names the column {min(twice)} twice",
            where=f"{source}, line {line}",
            fix="Give each column a name of its own, or leave one away.",
        )
    return columns


def _are_wavelengths(names: Sequence[str]) -> bool:
    """Tell a spectrum's columns, named by their wavelengths alone, from data."""
    values = [number_in(name) or 0.0 for name in names]
    step = {round(b - a, 6) for a, b in itertools.pairwise(values)}
    return (
        len(values) >= FEWEST_WAVELENGTHS
        and len(step) == 1
        and min(step) > 0
        and 300 <= values[0] < values[-1] <= 1100
    )


def names_told(columns: Sequence[str]) -> str:
    """Return the names of columns for a message: the first of many, none too long."""
    named = [name for name in columns if name]
    told = ", ".join(
        name if len(name) <= LONGEST_NAME else name[:LONGEST_NAME] + "..."
        for name in named[:SHOWN_NAMES]
    )
    more = len(named) - SHOWN_NAMES
    return told + (f" and {more} more" if more > 0 else "")


def number_in(text: str) -> float | None:
    """Return the number that a cell holds, with decimal point or comma, else None."""
    plain = text.strip().replace("\N{MINUS SIGN}", "-")
    if plain.count(",") == 1 and "." not in plain:
        plain = plain.replace(",", ".")
    return float(plain) if _NUMBER.fullmatch(plain) else None
