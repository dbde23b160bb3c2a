"""Which instrument format a file has, by its first words alone."""

import re
from pathlib import Path

from negcurve.errors import FileError
from negcurve.files.safe import file_errors

FIRST_WORDS = ("cgats", "iso28178", "it8")

_BLOCK = re.compile(r"^\s*BEGIN_DATA_FORMAT\b", re.MULTILINE | re.IGNORECASE)


def is_cgats(text: str) -> bool:
    """Tell whether a text is CGATS.17, by its first word or its blocks."""
    first = text.lstrip()[:20].lower()
    return first.startswith(FIRST_WORDS) or _BLOCK.search(text) is not None


def is_cxf(path: Path | str) -> bool:
    """Tell whether a file is XML with a CxF root, by its first bytes."""
    with file_errors(path), Path(path).open("rb") as opened:
        head = opened.read(4000)
    wide = head[:2] in (b"\xff\xfe", b"\xfe\xff")
    return _is_xml(head.decode("utf-16" if wide else "latin1", errors="replace"))


def refuse_instrument_file(text: str, *, source: str) -> None:
    """Refuse an instrument's file where a CSV is meant.

    Parameters
    ----------
    text : str
        Of the file.
    source : str
        File, for messages.

    Raises
    ------
    FileError
        If the text is CGATS or CxF.
    """
    kind = "CGATS" if is_cgats(text) else "CxF" if _is_xml(text) else ""
    if kind:
        raise FileError(
            f"is an instrument's file ({kind}), which is read first",
            where=source,
            fix=f"Run `negcurve read {source} -o R.csv --target OUT.tif` and name "
            "R.csv.",
        )


def _is_xml(text: str) -> bool:
    bare = text[:4000].removeprefix("\xef\xbb\xbf").lstrip("\ufeff \t\r\n")
    return bare.startswith("<") and ("CxF" in bare or bare.startswith("<?xml"))
