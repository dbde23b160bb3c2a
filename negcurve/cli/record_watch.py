"""`negcurve record strip`, `drydown`: watching a calibration with prints."""

from pathlib import Path
from typing import Annotated

import typer

from negcurve.cli.options import Json, Overwrite, Quiet, RecordDir, Verbose
from negcurve.cli.output import print_result, set_voice
from negcurve.cli.record_options import Remark, Settings, When, settings_named
from negcurve.cli.record_text import (
    drydown_text,
    plain_drydown,
    plain_strip,
    strip_text,
)


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

    A strip is any print with four or more levels that the response covers: the
    edge strip of a print, a small target, or a whole one. The exit code is 0
    whatever the verdict is.
    """
    set_voice(quiet=quiet, verbose=verbose)
    from negcurve.tasks.record_strip import strip

    result = strip(
        record_dir,
        readings,
        record,
        circumstances=settings_named(setting),
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

    Prints are paired by their `sheet`, patches by their key. Dry readings of one
    print at four or more `hours_dry` also tell the earliest honest reading time.
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
