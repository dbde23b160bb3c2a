"""JSON files of our own: read, told apart from others, their schema checked."""

import json
from pathlib import Path
from typing import Any

from negcurve.errors import FileError
from negcurve.files.schema import check_schema
from negcurve.files.text_file import read_text


def read_document(
    path: Path | str, kind: str, newest: int, *, holds: str, cure: str
) -> dict[str, Any]:
    """Read a JSON object that says which schema it is written in.

    Parameters
    ----------
    path : path
    kind : str
        Of the schema, such as `solution`.
    newest : int
        Newest version that this program reads.
    holds : str
        What it should hold, for the sentence.
    cure : str
        What to do where the file is no JSON.

    Returns
    -------
    dict

    Raises
    ------
    FileError
        If the file cannot be read, is no JSON object, is of another kind, or is newer
        than this program.
    """
    where = Path(path).name
    try:
        document = json.loads(read_text(path))
    except json.JSONDecodeError as error:
        raise FileError(
            f"is not JSON (line {error.lineno}: {error.msg})", where=where, fix=cure
        ) from error
    if not isinstance(document, dict):
        raise FileError(f"holds no {holds}", where=where, fix=cure)
    check_schema(str(document.get("schema", "")), kind, newest, where=where)
    return document
