"""Export a table: the same map that `apply` uses, as a file for other programs."""

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from negcurve.darkroom.cautions import Caution, cautions_for
from negcurve.encoding import GREY_ENCODINGS, LIGHTNESS_GREY
from negcurve.errors import InvalidValueError
from negcurve.files.safe import check_output, file_errors, write_bytes
from negcurve.files.solution_json import read_solution
from negcurve.negative.exporting import Error, ExportedMap, largest_error
from negcurve.response.solution import Solution
from negcurve.response.table import LookupTable
from negcurve.target.ink import BLACK, film_ink
from negcurve.tasks.export_formats import FORMATS, SUFFIXES, Export, Format
from negcurve.values import Finding

DEFAULT_ENCODING = "srgb"

LEAST_POINTS = 16

LARGE_LIGHTNESS = 0.1
"""Error of the print from which more samples are asked for. [L*] Ours."""

LARGE_LEVEL = 0.5 / 255
"""The same where no response says what the print shows: half a code of 8 bits. [1]"""

SEEN_AS = {
    "srgb": "encoded by the sRGB curve",
    "gamma-1.8": "encoded with gamma 1.8",
    "gamma-2.2": "encoded with gamma 2.2",
    "linear": "linear light",
    "lightness": "L* / 100",
}
"""The encodings in words."""

_MEASURED = "largest error"


@dataclass(frozen=True, eq=False, kw_only=True)
class ExportOptions:
    """What `export` takes.

    Attributes
    ----------
    table : path, Solution or LookupTable
        A bare table has no response, so no error of the print can be told.
    output : path
        Its ending chooses the format: `.icc`, `.clf`, `.cube`, `.csv`.
    encoding : str, optional
        Of the grey pictures that the file is for: one of `GREY_ENCODINGS`; sRGB by
        default. A grey profile takes pictures of every encoding.
    kind : {"link", "profile"}, optional
        Of an ICC file: a device link, by default, or a grey profile.
    points : int, optional
        Samples; 4096 by default, 256 in a CSV.
    inversion : {"inside", "outside"}, optional
        Whether the negative comes out, or a positive that is inverted afterwards;
        inside by default, outside in a grey profile.
    overwrite : bool
        Replace an output file that exists.
    """

    table: Path | str | Solution | LookupTable
    output: Path | str
    encoding: str | None = None
    kind: str | None = None
    points: int | None = None
    inversion: str | None = None
    overwrite: bool = False


@dataclass(frozen=True, eq=False, kw_only=True)
class ExportResult:
    """A table that was exported.

    Attributes
    ----------
    output : Path
    format : str
        For people.
    kind : str
        Key of `FORMATS`.
    encoding : str
        What the file expects; empty for a grey profile.
    inversion : {"inside", "outside"}
    points : int
    table : str
        Identity.
    error : Error
        Of the written file, followed as a reader does, against the table.
    notes : dict of str to str
        What the table holds for.
    printer_path : dict of str to str
        How the target went to the printer; the negative goes the same way.
    cautions : tuple of Caution
    findings : tuple of Finding
    """

    output: Path
    format: str
    kind: str
    encoding: str
    inversion: str
    points: int
    table: str
    error: Error
    notes: dict[str, str] = field(default_factory=dict)
    printer_path: dict[str, str] = field(default_factory=dict)
    cautions: tuple[Caution, ...] = ()
    findings: tuple[Finding, ...] = ()


def export_table(
    table: Path | str | Solution | LookupTable, output: Path | str, **options: Any
) -> ExportResult:
    """Write a table for another program.

    Parameters
    ----------
    table : path, Solution or LookupTable
    output : path
        `.icc`, `.clf`, `.cube` or `.csv`.
    **options
        The others of `ExportOptions`.

    Returns
    -------
    ExportResult

    Raises
    ------
    InvalidValueError
        If an option is not known, or does not fit the format.
    FileError
        If a file cannot be read or written.
    """
    return export(ExportOptions(table=table, output=output, **options))


def export(options: ExportOptions) -> ExportResult:
    """Write a table for another program; see `export_table`."""
    kind = _kind(options)
    inversion = _inversion(options, kind)
    encoding = _encoding(options, kind)
    points = _points(options, FORMATS[kind])
    inputs = [options.table] if isinstance(options.table, (str, Path)) else []
    found = check_output(options.output, overwrite=options.overwrite, inputs=inputs)
    table, solution = _table(options)
    exported = ExportedMap(
        table=table,
        encoding=GREY_ENCODINGS[encoding] if encoding else LIGHTNESS_GREY,
        inverted=inversion == "inside",
        ink=film_ink(_path(solution).get("ink", BLACK.text)),
    )
    _check_channels(exported, kind, str(options.output))
    whole = Export(
        exported=exported,
        points=points,
        encoding=SEEN_AS.get(encoding, ""),
        notes=_notes(exported, encoding, solution),
    )
    error = _written(whole, options, FORMATS[kind], solution)
    return ExportResult(
        output=Path(options.output),
        format=FORMATS[kind].name,
        kind=kind,
        encoding=encoding,
        inversion=inversion,
        points=points,
        table=table.identity,
        error=error,
        notes=dict(solution.notes) if solution else {},
        printer_path=_path(solution),
        cautions=cautions_for(solution.notes.values() if solution else (), light=True),
        findings=(
            *found,
            *_about_error(error, points, FORMATS[kind]),
            *(_about_white(table) if kind == "profile" else ()),
        ),
    )


def _written(
    whole: Export, options: ExportOptions, form: Format, solution: Solution | None
) -> Error:
    """Write the file, its own error in it; return the error of what then stands there.

    The error is measured on a file without it first: the samples are the same.
    """
    output = Path(options.output)
    response = solution.response if solution else None

    def measured(content: bytes) -> Error:
        read = form.followed(content, output.name)
        wanted = form.wanted(whole.exported)
        return largest_error(read, wanted, whole.exported, response)

    before = measured(form.content(whole))
    notes = {_MEASURED: before.text, **whole.notes}
    content = form.content(replace(whole, notes=notes))
    write_bytes(output, content, overwrite=options.overwrite)
    with file_errors(output):
        return measured(output.read_bytes())


def _kind(options: ExportOptions) -> str:
    suffix = Path(options.output).suffix.lower()
    if suffix not in SUFFIXES:
        raise InvalidValueError(
            f"{suffix or 'no ending'} says no format",
            where=str(options.output),
            fix=f"Use one of {', '.join(SUFFIXES)}.",
        )
    kind = options.kind or SUFFIXES[suffix][0]
    if kind not in SUFFIXES[suffix]:
        raise InvalidValueError(
            f"{kind!r} is no kind of {suffix} file",
            where="kind",
            fix=f"Use {' or '.join(SUFFIXES[suffix])}.",
        )
    return kind


def _inversion(options: ExportOptions, kind: str) -> str:
    usual = "outside" if kind == "profile" else "inside"
    inversion = options.inversion or usual
    if inversion not in ("inside", "outside"):
        raise InvalidValueError(
            f"{inversion!r} is not known",
            where="inversion",
            fix="Use inside or outside.",
        )
    if kind == "profile" and inversion == "inside":
        raise InvalidValueError(
            "cannot be inside a grey profile: level 0 of one is black, and programs "
            "may set white to its other end, which would be clear film",
            where="inversion",
            fix="Use --kind link, or invert what the profile gives.",
        )
    return inversion


def _encoding(options: ExportOptions, kind: str) -> str:
    if kind == "profile":
        if options.encoding is not None:
            raise InvalidValueError(
                "does not go with a grey profile: it takes pictures of every encoding, "
                "each through its own profile",
                where="encoding",
                fix="Leave it out, or use --kind link.",
            )
        return ""
    encoding = options.encoding or DEFAULT_ENCODING
    if encoding not in GREY_ENCODINGS:
        raise InvalidValueError(
            f"{encoding!r} is not known",
            where="encoding",
            fix=f"Use {', '.join(GREY_ENCODINGS)}.",
        )
    return encoding


def _points(options: ExportOptions, form: Format) -> int:
    points = form.points if options.points is None else options.points
    if not LEAST_POINTS <= points <= form.most_points:
        raise InvalidValueError(
            f"{points} samples are not possible in the format {form.name}",
            where="points",
            fix=f"Use {LEAST_POINTS} to {form.most_points}.",
        )
    return points


def _table(options: ExportOptions) -> tuple[LookupTable, Solution | None]:
    given = options.table
    if isinstance(given, (str, Path)):
        given = read_solution(given)
    return (given.table, given) if isinstance(given, Solution) else (given, None)


def _path(solution: Solution | None) -> dict[str, str]:
    return dict(solution.printer_path) if solution else {}


def _check_channels(exported: ExportedMap, kind: str, where: str) -> None:
    if kind == "profile" and exported.channels == 3:
        raise InvalidValueError(
            f"a grey profile cannot ask for the coloured ink {exported.ink.text} of "
            "this table",
            where=where,
            fix="Use --kind link, or the format .clf or .cube.",
        )


def _notes(
    exported: ExportedMap, encoding: str, solution: Solution | None
) -> dict[str, str]:
    notes = {
        "table": exported.table.identity,
        "inversion": "inside, the negative comes out: do not invert it again"
        if exported.inverted
        else "outside, a positive comes out: invert it to print",
    }
    if encoding:
        grey = "grey levels" if exported.channels == 1 else "grey levels in RGB"
        notes["expects"] = f"{grey}, {SEEN_AS[encoding]} ({encoding})"
    else:
        notes["intent"] = (
            "relative colorimetric, media white to level of print white; no black "
            "point compensation"
        )
    path = _path(solution)
    if path:
        settings = ", ".join(f"{key} {value}" for key, value in path.items())
        notes["print as the target"] = f"{settings}; mirrored as the target was"
    return {**notes, **(solution.notes if solution else {})}


def _about_error(error: Error, points: int, form: Format) -> tuple[Finding, ...]:
    known = error.lightness == error.lightness
    large = error.lightness > LARGE_LIGHTNESS if known else error.level > LARGE_LEVEL
    if not large:
        return ()
    more = (
        f"Use up to {form.most_points} with --points, or"
        if (points < form.most_points)
        else "Use"
    )
    return (
        Finding(
            severity="warning",
            where="points",
            what=f"{points} samples leave an error of {error.text}",
            fix=f"{more} an encoding nearer to L*, such as srgb or lightness.",
        ),
    )


def _about_white(table: LookupTable) -> tuple[Finding, ...]:
    """Say what LittleCMS does to a conversion whose white is not the end of the scale.

    It resamples it to 33 points a channel and sets the last one to full scale: the
    tones above that of level 31/32, L* 97 in sRGB, run from the table's to full ink.
    """
    white = float(table.level_nodes[-1])
    if white <= LARGE_LEVEL:
        return ()
    return (
        Finding(
            severity="warning",
            where="grey profile",
            what="many programs give tones above L* 97 more ink than the table, pure "
            f"white full ink in place of level {white:.3f}",
            fix="A device link, --kind link, has no such step.",
        ),
    )
