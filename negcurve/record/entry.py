"""One entry of a record: its fields, checked one by one.

Knows what an entry may say; where entries stand is left to `files.record_folder`.
"""

import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Literal, get_args

from negcurve.errors import InvalidValueError, RecordError
from negcurve.files.record_folder import Stored, file_sha256

Kind = Literal["calibration", "strip", "retirement"]

NUMBERS: dict[str, tuple[float, float]] = {
    "lamp_hours": (0, 200_000),
    "distance_mm": (0, 5_000),
    "exposure_s": (0, 1_000_000),
    "humidity_percent": (0, 100),
    "temperature_c": (-20, 80),
    "developer_temperature_c": (0, 100),
    "exposure_scale": (0.3, 4),
}
"""Circumstances that are numbers, with their range; the unit ends the name."""

WORDS = (
    "process",
    "paper",
    "paper_batch",
    "sensitizer",
    "sensitizer_lot",
    "ratio",
    "lamp",
    "dose",
    "exposure",
    "developer",
    "development",
    "ink",
    "film",
    "glass",
    "driver",
    "scanner",
    "drying",
)
"""Circumstances in words; others may be given, these are asked after."""

LONGEST = 200


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One entry of a record.

    Attributes
    ----------
    key : str
        UTC time of writing and a random part.
    kind : {"calibration", "strip", "retirement"}
    time : datetime
        Of what the entry tells, UTC.
    name : str
        Of a calibration, NFC; empty for others.
    of : str
        Key of the calibration that a strip or retirement belongs to.
    circumstances : dict of str to str or float
    remarks : str
    files : dict of str to str
        File name and SHA-256 of what the entry came from.
    table : str
        Identity of a calibration's table.
    aim : str
    ends : dict of str to float
        D-min, D-max and the densities of black and white.
    stored : Stored
        As in the folder.
    """

    key: str
    kind: Kind
    time: datetime
    name: str = ""
    of: str = ""
    circumstances: dict[str, str | float] = field(default_factory=dict)
    remarks: str = ""
    files: dict[str, str] = field(default_factory=dict)
    table: str = ""
    aim: str = ""
    ends: dict[str, float] = field(default_factory=dict)
    stored: Stored


def entry_of(stored: Stored) -> Entry:
    """Turn a stored document into an entry, naming the field that is wrong.

    Raises
    ------
    RecordError
        With file and field path.
    """
    found = _Fields(stored)
    kind = found.text("kind")
    if kind not in get_args(Kind):
        raise found.wrong("kind", f"{kind!r} is none of {', '.join(get_args(Kind))}")
    circumstances = found.mapping("circumstances")
    try:
        kept = checked_circumstances(circumstances)
    except InvalidValueError as error:
        raise found.wrong(error.where, error.what) from error
    ends = found.mapping("ends")
    for key, value in ends.items():
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise found.wrong(f"ends.{key}", f"{value!r} is not a number")
    return Entry(
        key=stored.key,
        kind=kind,  # type: ignore[arg-type]  # checked above
        time=found.time(),
        name=found.text("name", needed=kind == "calibration"),
        of=found.text("of", needed=kind != "calibration"),
        circumstances=kept,
        remarks=found.text("remarks", needed=False),
        files={key: str(value) for key, value in found.mapping("files").items()},
        table=found.text("table", needed=kind == "calibration"),
        aim=found.text("aim", needed=False),
        ends={key: float(value) for key, value in ends.items()},
        stored=stored,
    )


class _Fields:
    """The fields of one document, with errors that name file and field."""

    def __init__(self, stored: Stored) -> None:
        self.stored = stored

    def wrong(self, path: str, what: str) -> RecordError:
        return RecordError(
            f"{path}: {what}",
            where=f"{self.stored.key}.json",
            fix="Mend the value, or bring the file back from a copy.",
        )

    def text(self, name: str, *, needed: bool = True) -> str:
        value = self.stored.document.get(name, "")
        if not isinstance(value, str):
            raise self.wrong(name, f"{value!r} is not text")
        if needed and not value:
            raise self.wrong(name, "is missing")
        return value

    def mapping(self, name: str) -> dict[str, Any]:
        value = self.stored.document.get(name, {})
        if not isinstance(value, dict):
            raise self.wrong(name, f"{value!r} is not a list of named values")
        return value

    def time(self) -> datetime:
        text = self.text("time")
        try:
            time = datetime.fromisoformat(text)
        except ValueError:
            raise self.wrong("time", f"{text!r} is not a date and time") from None
        return time if time.tzinfo else time.replace(tzinfo=UTC)


def checked_name(name: str) -> str:
    """Return a name in NFC.

    Raises
    ------
    InvalidValueError
        If it is empty, too long, or holds characters that cannot be shown.
    """
    shown = unicodedata.normalize("NFC", name).strip()
    bad = [each for each in shown if unicodedata.category(each) in ("Cc", "Cs", "Co")]
    if not shown or len(shown) > LONGEST or bad:
        why = "is empty" if not shown else f"is longer than {LONGEST} characters"
        why = f"holds the character {bad[0]!r}" if bad else why
        raise InvalidValueError(why, where="name", fix="Give a name in plain letters.")
    return shown


def folded(name: str) -> str:
    """Return a name for comparing: NFC, case-folded."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())


def checked_circumstances(given: Mapping[str, Any]) -> dict[str, str | float]:
    """Return circumstances with numbers as numbers.

    Raises
    ------
    InvalidValueError
        With the path of the field.
    """
    kept: dict[str, str | float] = {}
    for key, value in given.items():
        where = f"circumstances.{key}"
        if key in NUMBERS:
            kept[key] = _number(value, where, *NUMBERS[key])
        elif isinstance(value, (str, int, float)) and not isinstance(value, bool):
            kept[key] = unicodedata.normalize("NFC", str(value))
        else:
            raise InvalidValueError(
                f"{value!r} is neither text nor number",
                where=where,
                fix="Write it as one text or one number.",
            )
    return kept


def _number(value: Any, where: str, low: float, high: float) -> float:
    try:
        number = float(value)
    except (TypeError, ValueError):
        raise InvalidValueError(
            f"{value!r} is not a number",
            where=where,
            fix=f"Write a number from {low:g} to {high:g}; its unit is in the name.",
        ) from None
    if isinstance(value, bool) or not low <= number <= high:
        raise InvalidValueError(
            f"{value} lies outside {low:g}..{high:g}",
            where=where,
            fix="Write it in the unit that its name says.",
        )
    return number


def head_of(
    kind: Kind, time: datetime | None, remarks: str, files: Iterable[Path | str]
) -> dict[str, Any]:
    """Return the fields that every entry has."""
    when = (time or datetime.now(UTC)).astimezone(UTC)
    if when > datetime.now(UTC) + timedelta(days=1):
        raise InvalidValueError(
            f"{when:%Y-%m-%d} lies in the future", where="time", fix="Check the date."
        )
    return {
        "kind": kind,
        "time": when.isoformat(timespec="microseconds"),
        "remarks": remarks,
        "files": {Path(each).name: file_sha256(each) for each in files},
    }


def missing_circumstances(entry: Entry) -> Sequence[str]:
    """Return what a calibration does not tell of its circumstances."""
    return [key for key in WORDS if key not in entry.circumstances]
