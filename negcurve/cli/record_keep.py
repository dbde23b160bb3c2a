"""`negcurve record add`, `use`, `retire`: what goes in a record and out of service."""

from pathlib import Path
from typing import Annotated

import typer

from negcurve.cli.options import Json, Overwrite, Quiet, RecordDir, Verbose
from negcurve.cli.output import print_result, set_voice
from negcurve.cli.record_options import Name, Remark, Settings, When, settings_named
from negcurve.cli.record_text import plain_entry


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
      negcurve record add table.json --name spring --record-dir rec
      negcurve record add table.json --name spring --set lamp_hours=120

    Numbers: lamp_hours, distance_mm, exposure_s, humidity_percent, temperature_c,
    developer_temperature_c, exposure_scale (log). In words: process, paper,
    paper_batch, sensitizer, sensitizer_lot, ratio, lamp, dose, exposure,
    developer, development, ink, film, glass, driver, scanner, drying, and any of
    your own.
    """
    set_voice(quiet=quiet, verbose=verbose)
    from negcurve.tasks.record import AddOptions, add

    circumstances = settings_named(setting)
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
      negcurve record retire spring --because "new batch" --record-dir rec
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
