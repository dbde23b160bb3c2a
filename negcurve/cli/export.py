"""`negcurve export`: a table as a file for other programs."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from negcurve.cli.options import Json, Overwrite, Quiet, Verbose
from negcurve.cli.output import print_result, set_voice

if TYPE_CHECKING:
    from negcurve.tasks.export import ExportResult


def export_command(
    table: Annotated[
        Path, typer.Argument(help="Solution written by `negcurve solve`.")
    ],
    output: Annotated[
        Path,
        typer.Option(
            "--output", "-o", help="The file; .icc, .clf, .cube or .csv by its name."
        ),
    ],
    encoding: Annotated[
        str | None,
        typer.Option(
            help="Of the grey pictures it is for: srgb (default), gamma-1.8, "
            "gamma-2.2, linear, lightness.",
            show_default=False,
        ),
    ] = None,
    kind: Annotated[
        str | None,
        typer.Option(
            help="Of an .icc: link (device link, default) or profile (grey profile).",
            show_default=False,
        ),
    ] = None,
    points: Annotated[
        int | None,
        typer.Option(
            help="Samples; 4096 by default, 256 in a CSV.", show_default=False
        ),
    ] = None,
    inversion: Annotated[
        str | None,
        typer.Option(
            help="inside: the negative comes out (a grey profile's is always outside); "
            "outside: a positive, invert it.",
            show_default=False,
        ),
    ] = None,
    overwrite: Overwrite = False,
    as_json: Json = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Export a table for a picture editor or another colour-managed program.

    Examples:

    \b
      negcurve export t.json -o table.icc
      negcurve export t.json -o table.icc --kind profile
      negcurve export t.json -o table.cube --encoding gamma-2.2
      negcurve export t.json -o table.clf --encoding linear
      negcurve export t.json -o table.csv --points 256

    It is for grey pictures, does to their levels what `negcurve apply` does, and
    says in itself which encoding it expects, whether the inversion is inside, and
    how far it is from the table. It neither resizes nor mirrors.
    """
    set_voice(quiet=quiet, verbose=verbose)
    from negcurve.tasks.export import ExportOptions, export

    result = export(
        ExportOptions(
            table=table,
            output=output,
            encoding=encoding,
            kind=kind,
            points=points,
            inversion=inversion,
            overwrite=overwrite,
        )
    )
    print_result(
        "export",
        text=_text(result),
        result=_plain(result),
        findings=result.findings,
        as_json=as_json,
    )


def _text(result: "ExportResult") -> str:
    from negcurve.darkroom.cautions import DEFER

    lines = [
        f"{result.output}: {result.format} of table {result.table}, "
        f"{result.points} samples",
        *_use(result),
        "inversion inside: the negative comes out, do not invert it again"
        if result.inversion == "inside"
        else "inversion outside: a positive comes out, invert it to print",
        f"largest error against the table: {result.error.text}",
        "the file does not mirror: turn the negative over as the target was",
    ]
    path = ", ".join(f"{key} {value}" for key, value in result.printer_path.items())
    lines.append(f"print as the target: {path or 'its settings are not known'}")
    known = "; ".join(f"{key} {text}" for key, text in result.notes.items())
    lines.append(f"expose as the target: {known or 'its conditions were not noted'}")
    lines += [f"{each.subject}: {each.care}" for each in result.cautions]
    lines.append(DEFER)
    return "\n".join(lines)


def _use(result: "ExportResult") -> list[str]:
    if result.kind == "profile":
        return [
            "convert grey pictures to it, relative colorimetric, without black point "
            "compensation"
        ]
    from negcurve.tasks.export import SEEN_AS

    return [f"expects grey levels, {SEEN_AS[result.encoding]} ({result.encoding})"]


def _plain(result: "ExportResult") -> dict[str, Any]:
    return {
        "output": result.output,
        "format": result.format,
        "kind": result.kind,
        "encoding": result.encoding or None,
        "inversion": result.inversion,
        "points": result.points,
        "table": result.table,
        "largest_error_level": result.error.level,
        "largest_error_lightness": result.error.lightness,
        "printer_path": result.printer_path,
        "notes": result.notes,
        "cautions": [each.as_plain() for each in result.cautions],
    }
