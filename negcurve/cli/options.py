"""Options that several commands share, with one wording each."""

from pathlib import Path
from typing import Annotated

import typer

Json = Annotated[
    bool, typer.Option("--json", help="Print the result as JSON for machines.")
]
Overwrite = Annotated[
    bool, typer.Option("--overwrite", help="Replace output files that exist.")
]
Quiet = Annotated[bool, typer.Option("--quiet", "-q", help="No progress and no notes.")]
Verbose = Annotated[
    bool, typer.Option("--verbose", "-v", help="More detail; traceback on errors.")
]
RecordDir = Annotated[
    Path | None,
    typer.Option(
        "--record-dir",
        envvar="NEGCURVE_RECORD",
        help="Folder of the record.",
        show_default=False,
    ),
]
Page = Annotated[Path | None, typer.Option(help="HTML page to print.")]
ScannerProfile = Annotated[
    Path | None,
    typer.Option(help="ICC profile of the scanner, in place of the scan's."),
]
ScanGamma = Annotated[
    float | None,
    typer.Option(
        help="Gamma of the scan in place of a profile; 1.0 for a linear one.",
        min=0.2,
        max=5,
        show_default=False,
    ),
]
ProcessName = Annotated[
    str | None, typer.Option(help="palladium, cyanotype, salt and so on.")
]
Compression = Annotated[str, typer.Option(help="none, lzw or deflate.")]
OrRecord = Annotated[str, typer.Option(help="Or a calibration of the record, by name.")]
