"""Keep a record: add, list, show, compare, use, retire.

One function for each sub-command; the record itself is `negcurve.record`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from negcurve.darkroom.cautions import Caution, cautions_for
from negcurve.errors import InvalidValueError
from negcurve.files.record_folder import copy_part
from negcurve.files.safe import check_output
from negcurve.files.solution_json import read_solution
from negcurve.record import Comparison, Entry, compare, open_record
from negcurve.record.entry import (
    checked_circumstances,
    checked_name,
    missing_circumstances,
)
from negcurve.response.solution import Solution
from negcurve.values import Finding
from negcurve.watch.judgement import Judgement


def folder_of(named: Path | str | None) -> Path:
    """Return the record folder that was named.

    Raises
    ------
    InvalidValueError
        If none was: there is no hidden place for records.
    """
    if named is None or not str(named):
        raise InvalidValueError(
            "no record folder named",
            where="record",
            fix="Give --record-dir DIR, or set NEGCURVE_RECORD to the folder.",
        )
    return Path(named)


@dataclass(frozen=True, eq=False, kw_only=True)
class AddOptions:
    """What `record add` takes.

    Attributes
    ----------
    folder : path or None
        The record; made if it is new.
    table : path
        A solution.
    name : str
    circumstances : mapping of str to str
    remarks : str
    files : sequence of path
        What the calibration came from; name and checksum are kept.
    when : str
        Date of the print, ISO 8601; now if empty.
    """

    folder: Path | str | None
    table: Path | str
    name: str
    circumstances: Mapping[str, str] = field(default_factory=dict)
    remarks: str = ""
    files: Sequence[Path | str] = ()
    when: str = ""


@dataclass(frozen=True, eq=False, kw_only=True)
class Listing:
    """Calibrations with what belongs to each.

    Attributes
    ----------
    folder : Path
    entries : tuple of Entry
    strips : dict of str to int
        Strips of each, by key.
    retired : frozenset of str
        Keys of those out of service.
    findings : tuple of Finding
    """

    folder: Path
    entries: tuple[Entry, ...]
    strips: dict[str, int]
    retired: frozenset[str]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, eq=False, kw_only=True)
class Shown:
    """One calibration in full.

    Attributes
    ----------
    entry : Entry
    solution : Solution
    strips : tuple of Entry
    judgement : Judgement or None
    retired : str
        Why it was taken out of service; empty if it serves.
    unknown : tuple of str
        Circumstances that nobody noted.
    path : Path
        Of the solution.
    cautions : tuple of Caution
    findings : tuple of Finding
    """

    entry: Entry
    solution: Solution
    strips: tuple[Entry, ...]
    judgement: Judgement | None
    retired: str
    unknown: tuple[str, ...]
    path: Path
    cautions: tuple[Caution, ...]
    findings: tuple[Finding, ...]


def add(options: AddOptions) -> tuple[Entry, tuple[Finding, ...]]:
    """Add a calibration to a record; see `AddOptions`."""
    solution = read_solution(options.table)
    # All that may be refused is looked at before a new folder is made.
    name = checked_name(options.name)
    circumstances = checked_circumstances(options.circumstances)
    time, folder = time_of(options.when), folder_of(options.folder)
    record = open_record(folder, create=True)
    entry, found = record.add(
        solution,
        name=name,
        circumstances=circumstances,
        remarks=options.remarks,
        files=[options.table, *options.files],
        time=time,
    )
    unknown = missing_circumstances(entry)
    if unknown:
        note = Finding(
            severity="note",
            where="circumstances",
            what=f"not told: {', '.join(unknown)}",
            fix="A table holds for these; give them with --set KEY=VALUE.",
        )
        found = (*found, note)
    return entry, found


def list_calibrations(
    folder: Path | str | None,
    *,
    process: str = "",
    paper: str = "",
    newest: bool = False,
    retired: bool = False,
) -> Listing:
    """List calibrations, oldest first, or only the newest."""
    record = open_record(folder_of(folder))
    entries, found = record.entries()
    gone = frozenset(each.of for each in entries if each.kind == "retirement")
    kept, _ = record.calibrations(
        process=process, paper=paper, retired=retired, entries=entries
    )
    strips: dict[str, int] = {}
    for each in entries:
        if each.kind == "strip":
            strips[each.of] = strips.get(each.of, 0) + 1
    return Listing(
        folder=record.folder.path,
        entries=kept[-1:] if newest else kept,
        strips=strips,
        retired=gone,
        findings=found,
    )


def show(folder: Path | str | None, name: str) -> Shown:
    """Show one calibration with its strips and what they say."""
    record = open_record(folder_of(folder))
    entry = record.get(name)
    entries, found = record.entries()
    reasons = [
        each.remarks
        for each in entries
        if each.kind == "retirement" and each.of == entry.key
    ]
    strips = record.strips(entry)
    words = [str(value) for value in entry.circumstances.values()]
    return Shown(
        entry=entry,
        solution=record.solution(entry),
        strips=strips,
        judgement=record.judgement(entry) if strips else None,
        retired=(reasons[-1] or "no reason given") if reasons else "",
        unknown=tuple(missing_circumstances(entry)),
        path=record.solution_path(entry),
        cautions=cautions_for(words, light=True),
        findings=found,
    )


def compare_calibrations(folder: Path | str | None, one: str, two: str) -> Comparison:
    """Compare two calibrations of a record."""
    record = open_record(folder_of(folder))
    first, second = record.get(one), record.get(two)
    return compare(first, record.solution(first), second, record.solution(second))


def use(
    folder: Path | str | None,
    name: str,
    *,
    output: Path | str | None = None,
    overwrite: bool = False,
) -> tuple[Entry, Path]:
    """Return a calibration in service and where its solution stands, or copy it."""
    record = open_record(folder_of(folder))
    entry = record.get(name, retired=False)
    path = record.solution_path(entry)
    if output is None:
        return entry, path
    check_output(output, overwrite=overwrite, inputs=[path])
    copy_part(path, output, overwrite=overwrite)
    return entry, Path(output)


def retire(folder: Path | str | None, name: str, *, because: str) -> Entry:
    """Take a calibration out of service.

    Raises
    ------
    InvalidValueError
        If no reason is given.
    RecordError
        If there is no such calibration in service.
    """
    if not because.strip():
        raise InvalidValueError(
            "no reason is given",
            where="because",
            fix='Say why, for a later reader: --because "new batch of paper".',
        )
    record = open_record(folder_of(folder))
    entry = record.get(name, retired=False)
    record.retire(entry, because=because)
    return entry


def time_of(text: str) -> datetime | None:
    """Return the time that was typed, UTC where no zone is given."""
    if not text:
        return None
    try:
        time = datetime.fromisoformat(text)
    except ValueError:
        raise InvalidValueError(
            f"{text!r} is not a date",
            where="--when",
            fix="Write it as 2026-03-01 or 2026-03-01T14:30.",
        ) from None
    return time if time.tzinfo else time.replace(tzinfo=UTC)
