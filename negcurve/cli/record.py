"""`negcurve record`: keep calibrations, watch them with strips, learn dry-down."""

from pathlib import Path
from typing import Annotated

import typer

from negcurve.cli.options import Json, Overwrite, Quiet, RecordDir, Verbose
from negcurve.cli.output import print_result, set_voice
from negcurve.cli.record_text import (
    comparison_text,
    drydown_text,
    listing_text,
    plain_comparison,
    plain_drydown,
    plain_entry,
    plain_shown,
    plain_strip,
    shown_text,
    strip_text,
)

record_app = typer.Typer(
    no_args_is_help=True,
    context_settings={"help_option_names": ["-h", "--help"]},
    help="""Keep calibrations with their circumstances, and watch them with strips.

Examples:

\b
  negcurve record add table.json --name "matt, spring" --set paper="matt cotton"
  negcurve record list --process palladium
  negcurve record strip strip.csv --record "matt, spring" --plot history.png
  negcurve apply picture.tif -o negative.tif --record "matt, spring"

The record is a folder: --record-dir DIR, or the variable NEGCURVE_RECORD. There is no
other, hidden place. Entries are only added, never changed.
""",
)

Name = Annotated[str, typer.Argument(help="Name or key of a calibration.")]
Process = Annotated[str, typer.Option(help="Only those of this process.")]
Paper = Annotated[str, typer.Option(help="Only those on this paper.")]
Settings = Annotated[
    list[str] | None,
    typer.Option("--set", help="A circumstance, as humidity_percent=55; repeatable."),
]
Remark = Annotated[str, typer.Option(help="Anything worth knowing.")]
When = Annotated[
    str, typer.Option(help="Date of the print, as 2026-03-01; now if not given.")
]


@record_app.command("add")
def add_command(
    table: Annotated[Path, typer.Argument(help="Solution that `solve` wrote.")],
    name: Annotated[str, typer.Option(help="What to call it.")],
    setting: Settings = None,
    process: Annotated[str, typer.Option(help="Such as palladium.")] = "",
    paper: Annotated[str, typer.Option(help="The paper's name.")] = "",
    file: Annotated[
        list[Path] | None,
        typer.Option(help="A scan or other source; name and checksum are kept."),
    ] = None,
    remark: Remark = "",
    when: When = "",
    record_dir: RecordDir = None,
    as_json: Json = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Add a calibration with its circumstances.

    Examples:

    \b
      negcurve record add table.json --name spring --process palladium --record-dir rec
      negcurve record add table.json --name spring --set lamp_hours=120 --set ratio=1:1

    Numbers: lamp_hours, distance_mm, exposure_s, humidity_percent, temperature_c,
    developer_temperature_c, exposure_scale (log). In words: process, paper,
    paper_batch, sensitizer, sensitizer_lot, ratio, lamp, dose, exposure, developer,
    development, ink, film, glass, driver, scanner, drying, and any of your own.
    """
    set_voice(quiet=quiet, verbose=verbose)
    from negcurve.tasks.record import AddOptions, add

    circumstances = _settings(setting)
    for key, value in (("process", process), ("paper", paper)):
        if value:
            circumstances[key] = value
    entry, findings = add(
        AddOptions(
            folder=record_dir,
            table=table,
            name=name,
            circumstances=circumstances,
            remarks=remark,
            files=file or [],
            when=when,
        )
    )
    print_result(
        "record-add",
        text=f"added {entry.name!r} as {entry.key}",
        result=plain_entry(entry),
        findings=findings,
        as_json=as_json,
    )


@record_app.command("list")
def list_command(
    process: Process = "",
    paper: Paper = "",
    newest: Annotated[bool, typer.Option(help="Only the newest.")] = False,
    everything: Annotated[
        bool, typer.Option("--all", help="Also those taken out of service.")
    ] = False,
    record_dir: RecordDir = None,
    as_json: Json = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """List calibrations, oldest first.

    Examples:

    \b
      negcurve record list --record-dir rec
      negcurve record list --all --json
    """
    _list(
        "record-list",
        process,
        paper,
        newest,
        everything,
        record_dir,
        as_json,
        quiet,
        verbose,
    )


@record_app.command("find")
def find_command(
    process: Process = "",
    paper: Paper = "",
    newest: Annotated[bool, typer.Option(help="Only the newest.")] = False,
    record_dir: RecordDir = None,
    as_json: Json = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Find calibrations in service by process and paper.

    Examples:

    \b
      negcurve record find --process palladium --paper cotton --newest
    """
    _list(
        "record-find",
        process,
        paper,
        newest,
        False,
        record_dir,
        as_json,
        quiet,
        verbose,
    )


@record_app.command("show")
def show_command(
    name: Name,
    record_dir: RecordDir = None,
    as_json: Json = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Show one calibration: circumstances, ends, strips and what they say.

    Examples:

    \b
      negcurve record show spring --record-dir rec
    """
    set_voice(quiet=quiet, verbose=verbose)
    from negcurve.tasks.record import show

    shown = show(record_dir, name)
    print_result(
        "record-show",
        text=shown_text(shown),
        result=plain_shown(shown),
        findings=shown.findings,
        as_json=as_json,
    )


@record_app.command("compare")
def compare_command(
    one: Name,
    two: Name,
    record_dir: RecordDir = None,
    as_json: Json = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Compare two calibrations: circumstances, response, table.

    Examples:

    \b
      negcurve record compare spring autumn --record-dir rec
    """
    set_voice(quiet=quiet, verbose=verbose)
    from negcurve.tasks.record import compare_calibrations

    comparison = compare_calibrations(record_dir, one, two)
    print_result(
        "record-compare",
        text=comparison_text(comparison),
        result=plain_comparison(comparison),
        as_json=as_json,
    )


@record_app.command("use")
def use_command(
    name: Name,
    output: Annotated[
        Path | None,
        typer.Option("--output", "-o", help="Copy the solution out to this file."),
    ] = None,
    record_dir: RecordDir = None,
    overwrite: Overwrite = False,
    as_json: Json = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Tell where the solution of a calibration stands, or copy it out.

    Examples:

    \b
      negcurve record use spring --record-dir rec
      negcurve record use spring -o table.json --record-dir rec
      negcurve apply picture.tif -o negative.tif --record spring --record-dir rec
    """
    set_voice(quiet=quiet, verbose=verbose)
    from negcurve.tasks.record import use

    entry, path = use(record_dir, name, output=output, overwrite=overwrite)
    print_result(
        "record-use",
        text=str(path),
        result={"path": path, **plain_entry(entry)},
        as_json=as_json,
    )


@record_app.command("retire")
def retire_command(
    name: Name,
    because: Annotated[str, typer.Option(help="Why.")],
    record_dir: RecordDir = None,
    as_json: Json = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Take a calibration out of service; it stays in the record.

    Examples:

    \b
      negcurve record retire spring --because "new batch of paper" --record-dir rec
    """
    set_voice(quiet=quiet, verbose=verbose)
    from negcurve.tasks.record import retire

    entry = retire(record_dir, name, because=because)
    print_result(
        "record-retire",
        text=f"{entry.name!r} is out of service",
        result=plain_entry(entry),
        as_json=as_json,
    )


@record_app.command("strip")
def strip_command(
    readings: Annotated[Path, typer.Argument(help="Readings of the strip, CSV.")],
    record: Annotated[
        str, typer.Option(help="Name or key of the calibration it was made with.")
    ],
    setting: Settings = None,
    remark: Remark = "",
    when: When = "",
    plot: Annotated[
        Path | None, typer.Option(help="PNG or SVG of the control charts.")
    ] = None,
    record_dir: RecordDir = None,
    overwrite: Overwrite = False,
    as_json: Json = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Add a strip and judge: in control, exposure off, shape changed, white stained.

    Examples:

    \b
      negcurve record strip strip.csv --record spring --record-dir rec
      negcurve record strip strip.csv --record spring --plot history.svg --json

    A strip is any print with four or more levels that the response covers: the edge
    strip of a print, a small target, or a whole one. The exit code is 0 whatever the
    verdict is.
    """
    set_voice(quiet=quiet, verbose=verbose)
    from negcurve.tasks.record_strip import strip

    result = strip(
        record_dir,
        readings,
        record,
        circumstances=_settings(setting),
        remarks=remark,
        when=when,
        plot=plot,
        overwrite=overwrite,
    )
    print_result(
        "record-strip",
        text=strip_text(result),
        result=plain_strip(result),
        findings=result.findings,
        as_json=as_json,
    )


@record_app.command("drydown")
def drydown_command(
    wet: Annotated[list[Path], typer.Option(help="Readings of wet prints.")],
    dry: Annotated[list[Path], typer.Option(help="Readings of the same, dry.")],
    predict: Annotated[
        Path | None, typer.Option(help="Wet readings to predict the dry ones of.")
    ] = None,
    as_json: Json = False,
    quiet: Quiet = False,
    verbose: Verbose = False,
) -> None:
    """Learn how prints darken in drying, and when they may be read.

    Examples:

    \b
      negcurve record drydown --wet wet.csv --dry dry.csv
      negcurve record drydown --wet w1.csv --wet w2.csv --dry d1.csv --dry d2.csv
      negcurve record drydown --wet wet.csv --dry dry.csv --predict today-wet.csv

    Prints are paired by their `sheet`, patches by their key. Dry readings of one print
    at four or more `hours_dry` also tell the earliest honest reading time.
    """
    set_voice(quiet=quiet, verbose=verbose)
    from negcurve.tasks.record_drydown import drydown

    result = drydown(wet, dry, predict=predict)
    print_result(
        "record-drydown",
        text=drydown_text(result),
        result=plain_drydown(result),
        findings=result.findings,
        as_json=as_json,
    )


def _list(
    command: str,
    process: str,
    paper: str,
    newest: bool,
    everything: bool,
    record_dir: Path | None,
    as_json: bool,
    quiet: bool,
    verbose: bool,
) -> None:
    set_voice(quiet=quiet, verbose=verbose)
    from negcurve.tasks.record import list_calibrations

    listing = list_calibrations(
        record_dir, process=process, paper=paper, newest=newest, retired=everything
    )
    print_result(
        command,
        text=listing_text(listing),
        result={
            "folder": listing.folder.name,
            "calibrations": [
                {
                    **plain_entry(each),
                    "strips": listing.strips.get(each.key, 0),
                    "in_service": each.key not in listing.retired,
                }
                for each in listing.entries
            ],
        },
        findings=listing.findings,
        as_json=as_json,
    )


def _settings(given: list[str] | None) -> dict[str, str]:
    kept = {}
    for each in given or []:
        key, sign, value = each.partition("=")
        if not sign or not key.strip() or not value.strip():
            raise typer.BadParameter(
                f"{each!r} is not KEY=VALUE, as humidity_percent=55",
                param_hint="--set",
            )
        kept[key.strip()] = value.strip()
    return kept
