"""A record as a folder: one small JSON file an entry, its parts beside it.

Knows names, schema, checksums and writing that loses nothing; what the entries mean is
left to `negcurve.record`. Entries are only ever added. Parts (a solution, readings) are
written first, so that an entry that stands is whole.
"""

import hashlib
import json
import re
import secrets
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from negcurve.errors import FileError, RecordError
from negcurve.files.safe import (
    file_errors,
    new_file,
    remove_leftovers,
    write_text,
)
from negcurve.files.schema import check_schema
from negcurve.values import Finding

MARKER = "negcurve-record.json"
KIND, VERSION = "record", 1
ENTRY = re.compile(r"\d{8}T\d{6}Z-[a-z0-9]{8}")
Writer = Callable[[Path], None]

LARGEST_BYTES = 2_000_000
"""No entry comes near; the long numbers are in its parts."""


@dataclass(frozen=True, kw_only=True)
class Stored:
    """One entry as it stands in its file.

    Attributes
    ----------
    key : str
        UTC time of writing and a random part; the file is KEY.json.
    document : dict
        Plain JSON.
    """

    key: str
    document: dict[str, Any]


class RecordFolder:
    """A folder of entries.

    Parameters
    ----------
    path : path
        The folder.
    create : bool
        Make it a record if it is new or empty.

    Raises
    ------
    RecordError
        If the folder is no record.
    FileError
        If it cannot be read or made.
    """

    def __init__(self, path: Path | str, *, create: bool = False) -> None:
        self.path = Path(path)
        if self.path.is_file():
            raise RecordError(
                "is a file, not a record folder",
                where=str(self.path),
                fix="Name the folder that `negcurve record add` wrote to.",
            )
        marker = self.path / MARKER
        with file_errors(self.path):
            marked = marker.is_file()
        if not marked and create:
            self._make(marker)
        elif not marked:
            there = "holds no record" if self.path.is_dir() else "does not exist"
            raise RecordError(
                there,
                where=str(self.path),
                fix="Name another folder, or start one with `negcurve record add`.",
            )
        _checked(_document(marker), where=str(marker), kind="record-folder")

    def _make(self, marker: Path) -> None:
        with file_errors(self.path):
            self.path.mkdir(parents=True, exist_ok=True)
            others = [
                each.name
                for each in self.path.iterdir()
                if not each.name.startswith(".") and each.name != MARKER
            ]
        if others:
            raise RecordError(
                f"holds other files ({sorted(others)[0]!r}) and no record",
                where=str(self.path),
                fix="Name a new or an empty folder.",
            )
        document = {"schema": f"negcurve/record-folder/{VERSION}"}
        try:
            write_text(marker, json.dumps(document) + "\n")
        except FileError:
            if not marker.is_file():  # else another process made it meanwhile
                raise

    def keys(self) -> list[str]:
        """Return the keys of all entries, oldest first."""
        with file_errors(self.path):
            names = [each.name for each in self.path.iterdir()]
        stems = [name[:-5] for name in names if name.endswith(".json")]
        return sorted(stem for stem in stems if ENTRY.fullmatch(stem))

    def read(self, key: str) -> Stored:
        """Read one entry.

        Raises
        ------
        RecordError
            If it is damaged; the message names file and line.
        FileError
            If it is of another kind, newer than this program, or unreadable.
        """
        path = self.path / f"{key}.json"
        return Stored(
            key=key, document=_checked(_document(path), where=path.name, kind=KIND)
        )

    def read_all(self) -> tuple[list[Stored], list[Finding]]:
        """Read every entry; a damaged one becomes a warning, the rest still serve."""
        found: list[Finding] = []
        stored = []
        for key in self.keys():
            try:
                stored.append(self.read(key))
            except (RecordError, FileError) as error:
                found.append(
                    Finding(
                        severity="warning",
                        where=error.where,
                        what=f"left out: {error.what}",
                        fix=error.fix,
                    )
                )
        return stored, found

    def add(
        self, document: Mapping[str, Any], parts: Mapping[str, Writer]
    ) -> tuple[Stored, tuple[Finding, ...]]:
        """Write one entry with its parts.

        Parameters
        ----------
        document : mapping
            Plain values; schema, key and checksums of the parts are added.
        parts : mapping of str to callable
            By ending, such as `solution.json`: writes the part to the path it is given.

        Returns
        -------
        Stored
        tuple of Finding
            Leftovers of stopped runs that were removed.
        """
        findings = remove_leftovers(self.path)
        stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%SZ")
        key = f"{stamp}-{secrets.token_hex(4)}"
        sums = {}
        for ending, write in parts.items():
            path = self.path / f"{key}.{ending}"
            write(path)
            sums[ending] = file_sha256(path)
        whole = {"schema": f"negcurve/{KIND}/{VERSION}", **document, "parts": sums}
        text = json.dumps(whole, indent=1, allow_nan=False, ensure_ascii=False)
        write_text(self.path / f"{key}.json", text + "\n")
        return Stored(key=key, document=whole), findings

    def part(self, stored: Stored, ending: str) -> Path:
        """Return the path of a part, checked against the entry.

        Raises
        ------
        RecordError
            If the part is missing or is not the one that was recorded.
        """
        path = self.path / f"{stored.key}.{ending}"
        wanted = stored.document.get("parts", {}).get(ending)
        if wanted is None:
            raise RecordError(
                f"has no {ending}",
                where=f"{stored.key}.json",
                fix="Bring the entry back from a copy, or add the calibration anew.",
            )
        if not path.is_file():
            raise RecordError(
                f"is missing, though {stored.key}.json names it",
                where=path.name,
                fix="Bring it back from a copy of the record.",
            )
        if file_sha256(path) != wanted:
            raise RecordError(
                f"is not what {stored.key}.json recorded: its checksum differs",
                where=path.name,
                fix="The file was changed; bring it back from a copy of the record.",
            )
        return path


def file_sha256(path: Path | str) -> str:
    """Return the SHA-256 of a file, in hex."""
    with file_errors(path), Path(path).open("rb") as opened:
        return hashlib.file_digest(opened, "sha256").hexdigest()


def copy_part(source: Path, target: Path | str, *, overwrite: bool) -> None:
    """Copy a part of a record out of it."""
    with file_errors(source):
        content = source.read_bytes()
    with new_file(target, overwrite=overwrite) as part:
        part.write_bytes(content)


def _document(path: Path) -> Any:
    with file_errors(path):
        content = path.read_bytes()
    if len(content) > LARGEST_BYTES:
        raise RecordError(
            f"is {len(content) / 1e6:.0f} MB, no entry",
            where=path.name,
            fix="Move it out of the record folder.",
        )
    try:
        return json.loads(content.decode("utf-8"))
    except UnicodeDecodeError as error:
        line = content[: error.start].count(b"\n") + 1
        raise RecordError(
            "is not UTF-8 text",
            where=f"{path.name}, line {line}",
            fix="Save it as UTF-8, or bring it back from a copy.",
        ) from error
    except json.JSONDecodeError as error:
        raise RecordError(
            f"is not JSON ({error.msg})",
            where=f"{path.name}, line {error.lineno}",
            fix="Mend the line, or bring the file back from a copy.",
        ) from error
    except RecursionError:
        raise RecordError(
            "is not JSON of this kind",
            where=path.name,
            fix="Move it out of the record folder, or bring it back from a copy.",
        ) from None


def _checked(document: Any, *, where: str, kind: str) -> dict[str, Any]:
    if not isinstance(document, dict):
        raise RecordError(
            "holds no entry",
            where=where,
            fix="Move it out of the record folder, or bring it back from a copy.",
        )
    check_schema(str(document.get("schema", "")), kind, VERSION, where=where)
    return document
