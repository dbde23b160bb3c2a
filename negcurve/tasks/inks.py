"""Rank the ink mixtures of a print: which holds back most UV for the least ink."""

from dataclasses import dataclass
from pathlib import Path

from negcurve.errors import InvalidValueError
from negcurve.files.film_json import read_film
from negcurve.files.inks_csv import inks_text
from negcurve.files.safe import write_text
from negcurve.readings import Readings
from negcurve.response.inks import InkRanking, rank_inks
from negcurve.values import Finding


@dataclass(frozen=True, eq=False, kw_only=True)
class InksResult:
    """Ranked mixtures.

    Attributes
    ----------
    ranking : InkRanking
    source : str
        The readings.
    output : Path or None
        The list, a CSV, where one was written.
    findings : tuple of Finding
    """

    ranking: InkRanking
    source: str
    output: Path | None
    findings: tuple[Finding, ...]


def rank_print(
    readings: Readings,
    *,
    film: Path | str | None = None,
    output: Path | str | None = None,
    overwrite: bool = False,
) -> InksResult:
    """Rank the mixtures of one print, and write the list.

    Parameters
    ----------
    readings : Readings
        Of a sheet of ink mixtures.
    film : path, optional
        Film data of black ink, which the greys of the sheet then stand for.
    output : path, optional
        The list, a CSV.
    overwrite : bool
        Replace an output file that exists.

    Returns
    -------
    InksResult

    Raises
    ------
    ReadingsError
        If the print does not tell mixtures apart.
    InvalidValueError
        If the output is named as film data, which mixtures give none.
    FileError
        If a file cannot be read or written.
    """
    if output is not None and Path(output).suffix.lower() != ".csv":
        raise InvalidValueError(
            "ink mixtures give no film data, but a list",
            where=str(output),
            fix="Name a .csv. Film data come from a target in one ink.",
        )
    data = None if film is None else read_film(film)
    ranking = rank_inks(readings, film=data)
    if output is not None:
        write_text(output, inks_text(ranking), overwrite=overwrite)
    return InksResult(
        ranking=ranking,
        source=readings.source,
        output=None if output is None else Path(output),
        findings=(*readings.findings, *ranking.findings),
    )
