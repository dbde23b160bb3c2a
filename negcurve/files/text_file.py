"""Text files in whatever character set, and what is no text told by its first bytes."""

import codecs
from pathlib import Path

from negcurve.errors import FileError
from negcurve.files.safe import file_errors

LARGEST_BYTES = 20_000_000
"""No list of readings comes near; a picture or archive named by mistake does."""

_BYTE_ORDER_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_SPREADSHEETS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")
"""How zipped and older spreadsheets begin."""


def read_text(path: Path | str) -> str:
    """Read a text file in UTF-8, UTF-16 or Windows-1252.

    Raises
    ------
    FileError
        If the file cannot be read, is empty, too large, or not text.
    """
    with file_errors(path), Path(path).open("rb") as opened:
        content = opened.read(LARGEST_BYTES + 1)
    if not content.strip():
        raise FileError(
            "is empty",
            where=str(path),
            fix="Save it again from where it comes, or name another file.",
        )
    if len(content) > LARGEST_BYTES:
        raise FileError(
            f"is larger than {LARGEST_BYTES // 1_000_000} MB, too large for a list",
            where=str(path),
            fix="Name a text file.",
        )
    try:
        text = content.decode(_character_set(content))
    except UnicodeDecodeError:
        text = content.decode("cp1252", errors="replace")
    if "\0" in text or content.startswith(_SPREADSHEETS):
        sheet = content.startswith(_SPREADSHEETS)
        raise FileError(
            "is a spreadsheet or an archive, not text" if sheet else "is not text",
            where=str(path),
            fix="Save the table as CSV."
            if sheet
            else "Lists are text. A scan is a TIFF, PNG or JPEG, and is read by "
            "`negcurve read SCAN -o R.csv`.",
        )
    return text


def _character_set(content: bytes) -> str:
    for mark, name in _BYTE_ORDER_MARKS:
        if content.startswith(mark):
            return name
    head = content[:2000]
    if head[1::2].count(0) > len(head) // 4:
        return "utf-16-le"
    if head[0::2].count(0) > len(head) // 4:
        return "utf-16-be"
    return "utf-8"
