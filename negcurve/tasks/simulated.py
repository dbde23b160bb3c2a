"""Files through the simulated darkroom: a negative in, a print or a scan of it out."""

from collections.abc import Sequence
from contextlib import closing
from pathlib import Path

import numpy as np

from negcurve.files.pictures import open_picture
from negcurve.files.tiff import GreyTiffWriter
from negcurve.simulation.darkroom import SheetPrint
from negcurve.simulation.fields import MM_PER_INCH
from negcurve.simulation.setups import SetUp
from negcurve.target.layout import Box

CLEAR = 65535
"""Code of clear film."""


def print_file(
    set_up: SetUp,
    negative: Path | str,
    *,
    covered: Sequence[Box] = (),
    border_mm: float = 0.0,
    seed: int,
) -> SheetPrint:
    """Print a mirrored negative, as the file says it.

    Parameters
    ----------
    set_up : SetUp
    negative : path
        16-bit grey TIFF with its resolution.
    covered : sequence of Box
        What opaque tape lies on, as the print reads.
    border_mm : float
        Clear film around the file's pixels. [mm]
    seed : int
        Of this sheet.

    Returns
    -------
    SheetPrint
    """
    with closing(open_picture(negative)) as source:
        codes = source.rows(0, source.height)[..., 0]
        resolution = source.resolution_ppi
    ppi = resolution[0] if resolution else 360.0
    border = round(border_mm * ppi / MM_PER_INCH)
    if border:
        codes = np.pad(codes, border, constant_values=CLEAR)
    boxes = [(b.left_mm, b.top_mm, b.width_mm, b.height_mm) for b in covered]
    return set_up.darkroom.print_sheet(
        codes, resolution_ppi=ppi, covered_mm=boxes, seed=seed
    )


def scan_to_file(
    set_up: SetUp,
    sheet: SheetPrint,
    output: Path | str,
    *,
    seed: int,
    overwrite: bool = False,
) -> None:
    """Scan a print on the set-up's scanner and write its TIFF.

    Parameters
    ----------
    set_up : SetUp
    sheet : SheetPrint
    output : path
    seed : int
        Of dust and noise.
    overwrite : bool
        Replace a file that exists.
    """
    scan = set_up.scan_print(sheet, seed=seed)
    with GreyTiffWriter(
        output,
        width=scan.codes.shape[1],
        height=scan.codes.shape[0],
        resolution_ppi=scan.resolution_ppi,
        description=f"Scan on {set_up.scanner.name}, simulated",
        bits=scan.codes.dtype.itemsize * 8,
        profile=scan.profile,
        channels=1 if scan.codes.ndim == 2 else 3,
        overwrite=overwrite,
    ) as writer:
        writer.write(scan.codes)
