"""The record itself: adding, finding, taking out of service, judging.

Knows how entries belong together; fields are checked in `entry`, files are written in
`files.record_folder`.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from negcurve.errors import RecordError
from negcurve.files.readings_csv import read_readings, write_readings
from negcurve.files.record_folder import RecordFolder, Writer
from negcurve.files.solution_json import read_solution, write_solution
from negcurve.readings import Readings
from negcurve.record.entry import (
    Entry,
    checked_circumstances,
    checked_name,
    entry_of,
    folded,
    head_of,
)
from negcurve.record.strips import check_strip, strip_deviation
from negcurve.response.solution import Solution
from negcurve.values import Finding
from negcurve.watch.deviation import Deviation
from negcurve.watch.judgement import Judgement, judge


def open_record(folder: Path | str, *, create: bool = False) -> "Record":
    """Open a record.

    Parameters
    ----------
    folder : path
    create : bool
        Start one if the folder is new or empty.

    Returns
    -------
    Record

    Raises
    ------
    RecordError
        If the folder is no record.
    """
    return Record(RecordFolder(folder, create=create))


class Record:
    """A record that is open; every call reads the folder anew, so nothing is stale."""

    def __init__(self, folder: RecordFolder) -> None:
        self.folder = folder

    def entries(self) -> tuple[tuple[Entry, ...], tuple[Finding, ...]]:
        """Return all entries, oldest first, and what was wrong with any file."""
        stored, found = self.folder.read_all()
        entries = []
        soon = datetime.now(UTC) + timedelta(days=1)
        for each in stored:
            try:
                entry = entry_of(each)
            except RecordError as error:
                found.append(_left_out(error))
                continue
            entries.append(entry)
            if entry.time > soon:
                found.append(_from_the_future(entry))
        entries.sort(key=lambda each: (each.time, each.key))
        return tuple(entries), tuple(found)

    def calibrations(
        self,
        *,
        process: str = "",
        paper: str = "",
        retired: bool = False,
        entries: tuple[Entry, ...] | None = None,
    ) -> tuple[tuple[Entry, ...], tuple[Finding, ...]]:
        """Return calibrations, oldest first.

        Parameters
        ----------
        process, paper : str
            Part of the circumstance of this name, in any case of letters.
        retired : bool
            Also those taken out of service.
        entries : tuple of Entry, optional
            All entries, where they have been read already.

        Returns
        -------
        tuple of Entry
        tuple of Finding
        """
        found: tuple[Finding, ...] = ()
        if entries is None:
            entries, found = self.entries()
        gone = {each.of for each in entries if each.kind == "retirement"}
        wanted = {"process": process, "paper": paper}
        kept = [
            each
            for each in entries
            if each.kind == "calibration"
            and (retired or each.key not in gone)
            and all(_holds(each, key, part) for key, part in wanted.items())
        ]
        return tuple(kept), found

    def get(self, name: str, *, retired: bool = True) -> Entry:
        """Return the calibration of a name or key.

        Parameters
        ----------
        name : str
            Compared in NFC and without regard to case; or a key, or its beginning.
        retired : bool
            Whether one taken out of service will do.

        Raises
        ------
        RecordError
            If there is none, or more than one.
        """
        entries, _ = self.entries()
        everything, _ = self.calibrations(retired=True, entries=entries)
        serving, _ = self.calibrations(entries=entries)
        wanted = folded(name)
        for some in (serving, everything):
            fit = [each for each in some if folded(each.name) == wanted]
            if not fit and len(name) >= 8:
                fit = [each for each in some if each.key.startswith(name)]
            if len(fit) > 1:
                keys = ", ".join(each.key for each in fit)
                raise RecordError(
                    f"{name!r} names {len(fit)} calibrations: {keys}",
                    where=str(self.folder.path),
                    fix="Use the key of the one that is meant.",
                )
            if fit and some is everything and not retired:
                raise RecordError(
                    f"{name!r} was taken out of service",
                    where=str(self.folder.path),
                    fix="Use another; `negcurve record list` shows those in service.",
                )
            if fit:
                return fit[0]
        raise RecordError(
            f"there is no calibration {name!r}",
            where=str(self.folder.path),
            fix="`negcurve record list --all` shows all.",
        )

    def add(
        self,
        solution: Solution,
        *,
        name: str,
        circumstances: Mapping[str, str | float] | None = None,
        remarks: str = "",
        files: Iterable[Path | str] = (),
        time: datetime | None = None,
    ) -> tuple[Entry, tuple[Finding, ...]]:
        """Add a calibration.

        Parameters
        ----------
        solution : Solution
        name : str
            One that no calibration in service has.
        circumstances : mapping
            What the table holds for; the solution's notes are taken over.
        remarks : str
        files : iterable of path
            What it came from: only name and checksum are kept.
        time : datetime, optional
            When the print was made; now by default.

        Returns
        -------
        Entry
        tuple of Finding

        Raises
        ------
        RecordError
            If the name is taken.
        InvalidValueError
            If a value is out of range.
        """
        shown = checked_name(name)
        serving, _ = self.calibrations()
        if any(folded(each.name) == folded(shown) for each in serving):
            raise RecordError(
                f"{shown!r} is in service already",
                where=str(self.folder.path),
                fix="Choose another name, or retire that one first.",
            )
        ends = solution.ends
        document = {
            **head_of("calibration", time, remarks, files),
            "name": shown,
            "circumstances": checked_circumstances(
                {**solution.notes, **(circumstances or {})}
            ),
            "table": solution.table.identity,
            "aim": solution.aim.name,
            "ends": {
                "d_min": ends.d_min,
                "d_max": ends.d_max,
                "black_density": ends.black_density,
                "white_density": ends.white_density,
            },
        }
        kept = without_folders(solution)
        return self._added(
            document, {"solution.json": lambda path: write_solution(kept, path)}
        )

    def add_strip(
        self,
        entry: Entry,
        readings: Readings,
        *,
        circumstances: Mapping[str, str | float] | None = None,
        remarks: str = "",
        time: datetime | None = None,
    ) -> tuple[Entry, tuple[Finding, ...]]:
        """Add the readings of a strip, or of any print made as the calibration says.

        Raises
        ------
        RecordError
            If the strip was printed through another table, is wet, or of another
            kind of density.
        """
        check_strip(readings, self.solution(entry), entry.name)
        document = {
            **head_of("strip", time, remarks, ()),
            "of": entry.key,
            "circumstances": checked_circumstances(circumstances or {}),
        }
        kept = readings.replaced(source=_last_name(readings.source))
        return self._added(
            document, {"readings.csv": lambda path: write_readings(kept, path)}
        )

    def retire(
        self, entry: Entry, *, because: str
    ) -> tuple[Entry, tuple[Finding, ...]]:
        """Take a calibration out of service; it stays in the record."""
        document = {**head_of("retirement", None, because, ()), "of": entry.key}
        return self._added(document, {})

    def solution(self, entry: Entry) -> Solution:
        """Return the solution of a calibration, checked against its checksum."""
        return read_solution(self.folder.part(entry.stored, "solution.json"))

    def solution_path(self, entry: Entry) -> Path:
        """Return where the solution stands, checked; a plain solution file."""
        return self.folder.part(entry.stored, "solution.json")

    def strips(self, entry: Entry) -> tuple[Entry, ...]:
        """Return the strips of a calibration, oldest first."""
        entries, _ = self.entries()
        return tuple(e for e in entries if e.kind == "strip" and e.of == entry.key)

    def readings(self, strip: Entry) -> Readings:
        """Return the readings of a strip."""
        return read_readings(self.folder.part(strip.stored, "readings.csv"))

    def deviations(self, entry: Entry) -> tuple[Deviation, ...]:
        """Return what each strip of a calibration deviates by, oldest first."""
        solution = self.solution(entry)
        scale = entry.circumstances.get("exposure_scale")
        return tuple(
            strip_deviation(
                self.readings(strip),
                solution,
                exposure_scale=float(scale) if scale is not None else None,
            )
            for strip in self.strips(entry)
        )

    def judgement(self, entry: Entry) -> Judgement:
        """Return what all strips of a calibration say together."""
        deviations = self.deviations(entry)
        if not deviations:
            raise RecordError(
                f"{entry.name!r} has no strips yet",
                where=str(self.folder.path),
                fix="Add one with `negcurve record strip READINGS.csv --record NAME`.",
            )
        return judge(deviations)

    def _added(
        self, document: Mapping[str, Any], parts: Mapping[str, Writer]
    ) -> tuple[Entry, tuple[Finding, ...]]:
        stored, found = self.folder.add(document, parts)
        return entry_of(stored), found


def without_folders(solution: Solution) -> Solution:
    """Return a solution whose readings name files without their folders."""
    readings = tuple(
        each.replaced(source=_last_name(each.source)) for each in solution.readings
    )
    return replace(solution, readings=readings)


def _last_name(source: str) -> str:
    return re.split(r"[/\\]", source)[-1]


def _holds(entry: Entry, key: str, part: str) -> bool:
    return not part or folded(part) in folded(str(entry.circumstances.get(key, "")))


def _left_out(error: RecordError) -> Finding:
    return Finding(
        severity="warning",
        where=error.where,
        what=f"left out: {error.what}",
        fix=error.fix,
    )


def _from_the_future(entry: Entry) -> Finding:
    return Finding(
        severity="warning",
        where=f"{entry.key}.json",
        what=f"its time, {entry.time:%Y-%m-%d %H:%M} UTC, lies in the future",
        fix="Check the clock of the machine that wrote it",
    )
