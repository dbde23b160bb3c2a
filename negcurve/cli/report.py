"""`negcurve report`: the whole story on one page."""

from pathlib import Path
from typing import Annotated

import typer

from negcurve.cli.options import Json, OrRecord, Overwrite, Quiet, RecordDir, Verbose
from negcurve.cli.output import print_result, progress_bar, set_voice


def report_command(
    output: Annotated[Path, typer.Option("--output", "-o", help="The page, HTML.")],
    table: Annotated[
        Path | None, typer.Option(help="Solution that the page is about.")
    ] = None,
    record: OrRecord = "",
    record_dir: RecordDir = None,
    check: Annotated[
        list[Path] | None,
        typer.Option(help="Readings of a print through the table; repeatable."),
    ] = None,
    target: Annotated[
        Path | None, typer.Option(help="The target, shown small.")
    ] = None,
    scan: Annotated[Path | None, typer.Option(help="Its scan, shown small.")] = None,
    before: Annotated[
        Path | None, typer.Option(help="A picture printed without the table.")
    ] = None,
    after: Annotated[
        Path | None, typer.Option(help="The same printed with it.")
    ] = None,
    title: Annotated[str, typer.Option(help="Heading of the page.")] = "",
    overwrite: Overwrite = False,
    as_json: Json = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Write one page with everything about a calibration, to read, send or print.

    Examples:

    \b
      negcurve report -o page.html --table table.json
      negcurve report -o page.html --table table.json --check second.csv
      negcurve report -o page.html --record spring --record-dir rec

    The page needs no network and no script, prints on A4 and letter, and is
    readable in dark mode and by a screen reader.
    """
    set_voice(quiet=quiet, verbose=verbose)
    from negcurve.tasks.report import ReportOptions, report

    options = ReportOptions(
        output=output,
        table=table,
        record=record,
        record_dir=record_dir,
        checks=check or [],
        target=target,
        scan=scan,
        before=before,
        after=after,
        title=title,
        overwrite=overwrite,
    )
    with progress_bar() as progress:
        result = report(options, progress=progress)
    print_result(
        "report",
        text=f"wrote {result.output}, {result.size_bytes / 1000:.0f} kB",
        result={
            "output": result.output,
            "size_bytes": result.size_bytes,
            "figures": result.figures,
        },
        findings=result.findings,
        as_json=as_json,
    )
