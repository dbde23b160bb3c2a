"""Film data as `negcurve/film/1` JSON."""

import json
from pathlib import Path

from negcurve.errors import FileError, NegcurveError
from negcurve.files.own_json import read_document
from negcurve.files.safe import write_text
from negcurve.response.film import FilmData

SCHEMA_KIND, SCHEMA_VERSION = "film", 1


def write_film(film: FilmData, path: Path | str, *, overwrite: bool = False) -> None:
    """Write film data so that `read_film` gives the same ones back.

    Parameters
    ----------
    film : FilmData
    path : path
    overwrite : bool
        Replace a file that exists.

    Raises
    ------
    FileError
        If the file exists or cannot be written.
    """
    document = {
        "schema": f"negcurve/{SCHEMA_KIND}/{SCHEMA_VERSION}",
        **film.document(),
    }
    text = json.dumps(document, indent=1, allow_nan=False) + "\n"
    write_text(path, text, overwrite=overwrite)


def read_film(path: Path | str) -> FilmData:
    """Read film data.

    Parameters
    ----------
    path : path

    Returns
    -------
    FilmData

    Raises
    ------
    FileError
        If the file cannot be read, holds no film data, is damaged, or is newer than
        this program.
    """
    where = Path(path).name
    document = read_document(
        path,
        SCHEMA_KIND,
        SCHEMA_VERSION,
        holds="film data",
        cure="Name film data that `negcurve film` wrote.",
    )
    document.pop("schema")
    try:
        return FilmData.from_document(document)
    except (KeyError, TypeError, ValueError) as error:
        reason = error.what if isinstance(error, NegcurveError) else str(error)
        raise FileError(
            f"is damaged: {reason}", where=where, fix="Measure the film again."
        ) from error
