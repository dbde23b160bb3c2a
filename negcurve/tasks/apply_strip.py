"""The edge strip of a negative: made from the table, checked against the width."""

import numpy as np

from negcurve.errors import InvalidValueError
from negcurve.negative.border import STRIP_TOP_MM
from negcurve.negative.printer_path import PrinterPath
from negcurve.negative.size import MM_PER_INCH, Size
from negcurve.response.table import LookupTable
from negcurve.target.edge_strip import (
    HEIGHT,
    TONES,
    WIDTH,
    StripDesign,
    compose_strip,
)
from negcurve.target.layout import Layout
from negcurve.target.page import millimetres
from negcurve.values import Finding

WIDTH_MM, HEIGHT_MM = millimetres(WIDTH), millimetres(HEIGHT)

DEFAULT_BORDER = "6mm"
"""Beside a picture with a strip below it, where no border was asked for."""

WHOLE_PPI = 0.01
"""How near to a whole number the resolution must be: the strip's is one."""


def strip_of(path: PrinterPath, table: LookupTable, *, mirrored: bool) -> Layout:
    """Lay out the strip that goes with a table and a way to the printer.

    Parameters
    ----------
    path : PrinterPath
    table : LookupTable
    mirrored : bool
        As the negative.

    Returns
    -------
    Layout
        The same for every picture.

    Raises
    ------
    InvalidValueError
        If the resolution is no whole number.
    """
    ppi = path.resolution_ppi
    if abs(ppi - round(ppi)) > WHOLE_PPI:
        raise InvalidValueError(
            f"{ppi:g} is no whole number, which the edge strip needs",
            where="ppi",
            fix="Give the printer's own resolution, such as --ppi 720.",
        )
    return compose_strip(
        StripDesign(
            resolution_ppi=round(ppi),
            mirrored=mirrored,
            mode=path.mode,
            bits=path.bits,
            tone_levels=tuple(table.negative_level(np.array(TONES)).tolist()),
            table=table.identity,
            ink=path.ink if path.coloured else None,
        )
    )


def below_mm(border_mm: float) -> float:
    """Film that the strip takes up below the border of the other sides. [mm]."""
    return max(0.0, STRIP_TOP_MM + HEIGHT_MM - border_mm)


def check_room(size: Size, border_mm: float) -> None:
    """Refuse a picture that is too narrow for the strip below it.

    Raises
    ------
    InvalidValueError
        With the width, and the border, that would do.
    """
    lacking = WIDTH_MM - size.width_mm - 2 * border_mm
    if lacking > MM_PER_INCH / size.resolution_ppi:
        least = np.ceil(WIDTH_MM - 2 * border_mm)
        border = np.ceil(border_mm + lacking / 2)
        raise InvalidValueError(
            f"a picture {size.width_mm:.1f} mm wide with {border_mm:g} mm of border on "
            f"each side leaves no room for the strip of {WIDTH_MM:g} mm",
            where="edge strip",
            fix=f"Print the picture {least:g} mm wide or wider, or give "
            f"--border {border:g}mm.",
        )


def strip_finding(border_mm: float, bottom_mm: float) -> Finding:
    """Say what the strip does to the border."""
    return Finding(
        severity="note",
        where="edge strip",
        what=f"the border is {bottom_mm:.1f} mm wide below the picture and "
        f"{border_mm:.1f} mm on the other sides",
        fix="Coat and expose the strip with the picture, read it from a scan of the "
        "dry print, and trim it off last.",
    )
