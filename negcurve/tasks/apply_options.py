"""What `apply` is asked to do, and the sizes and borders that follow from it."""

from dataclasses import dataclass, replace
from pathlib import Path

from negcurve.errors import InvalidValueError
from negcurve.files.tiff import Compression
from negcurve.negative.border import Border, Surround, least_ink_level
from negcurve.negative.display import ImageColour
from negcurve.negative.printer_path import PrinterPath
from negcurve.negative.size import (
    LONGEST_MM,
    MM_PER_INCH,
    Size,
    WantedSize,
    negative_size,
)
from negcurve.response.solution import Solution
from negcurve.response.table import LookupTable
from negcurve.target.sizes import UNITS_PER_MM, length_units, sheet_size
from negcurve.tasks.apply_strip import DEFAULT_BORDER, below_mm, check_room, strip_of
from negcurve.values import Finding, ImageSource


@dataclass(frozen=True, eq=False, kw_only=True)
class ApplyOptions:
    """What `apply` takes.

    Attributes
    ----------
    picture : path
        TIFF, PNG or JPEG, grey or RGB.
    output : path
        The negative, a TIFF.
    table : path, Solution or LookupTable, optional
        A bare table has no response, so no proof can be made and no densities told.
    record : str
        Or the name of a calibration in a record.
    record_dir : path, optional
        The folder of that record.
    width, height, long_edge : str, optional
        Printed size of the picture with its unit: `8in`, `20cm`, `203mm`.
    fit : str, optional
        Sheet that the picture is to fill: `8x10in`, `A4`; turned as the picture is.
    margin : str
        Left free on each side of that sheet, with its unit.
    border : str, optional
        Width of a border around the picture, with its unit; carries corner ticks and
        a caption. Within the sheet when there is one to fit.
    surround : {"clear", "ink"}
        What the border is: clear film prints black, ink prints white.
    edge_strip : bool
        Put a strip of 14 patches below the picture, 23 mm of border or more, which
        `read` finds in a scan of the print. Its layout goes beside the negative.
    ppi : float, optional
        Of the negative; the target's by default. [pixels per inch]
    proof : path, optional
        PNG that shows how the print should look.
    colour : {"neutral", "warm", "blue"}
        Of the image in the proof.
    mirrored : bool
        As emulsion to emulsion needs.
    compression : {"none", "lzw", "deflate"}
    bits : {8, 16}, optional
        Of the negative; the target's by default.
    ink : str, optional
        Full ink of the negative as codes `R,G,B`, 0..255; the target's by default.
    profile : path, optional
        ICC profile of the picture, instead of the one it carries.
    gamma : float, optional
        Of the picture, instead of a profile.
    weights : (float, float, float), optional
        Shares of red, green and blue light in the grey; luminance by default.
    scale_black : bool
        Take a black above L* 1, as print profiles have, as black.
    overwrite : bool
        Replace output files that exist.
    threads : int, optional
        The result is the same for any number.
    """

    picture: Path | str
    output: Path | str
    table: Path | str | Solution | LookupTable | None = None
    record: str = ""
    record_dir: Path | str | None = None
    width: str | None = None
    height: str | None = None
    long_edge: str | None = None
    fit: str | None = None
    margin: str = "12mm"
    border: str | None = None
    surround: Surround = "clear"
    edge_strip: bool = False
    ppi: float | None = None
    proof: Path | str | None = None
    colour: ImageColour = "neutral"
    mirrored: bool = True
    compression: Compression = "none"
    bits: int | None = None
    ink: str | None = None
    profile: Path | str | None = None
    gamma: float | None = None
    weights: tuple[float, float, float] | None = None
    scale_black: bool = True
    overwrite: bool = False
    threads: int | None = None


def size_of(options: ApplyOptions, source: ImageSource, path: PrinterPath) -> Size:
    """Size of the negative of a picture; see `negative_size` for errors."""
    wanted = WantedSize(
        width_mm=_length_mm(options, "width"),
        height_mm=_length_mm(options, "height"),
        long_edge_mm=_length_mm(options, "long_edge"),
        fit_mm=_room_mm(options),
        resolution_ppi=path.resolution_ppi,
        below_mm=below_mm(_border_mm(options) or 0) if options.edge_strip else 0,
    )
    return negative_size(
        source.width,
        source.height,
        wanted,
        own_ppi=source.resolution_ppi,
        name=source.name,
    )


def _check_unbordered(options: ApplyOptions) -> None:
    if options.surround != "clear":
        raise InvalidValueError(
            "says what lies around the picture, but there is no border",
            where="surround",
            fix="Give --border 12mm as well.",
        )


def border_of(
    options: ApplyOptions,
    path: PrinterPath,
    table: LookupTable,
    solution: Solution | None,
    size: Size,
) -> Border | None:
    """Border that was asked for or that a strip needs, None without.

    Raises
    ------
    InvalidValueError
        If the picture is too narrow for the strip, or a surround is named without a
        border.
    """
    width_mm = _border_mm(options)
    if width_mm is None:
        _check_unbordered(options)
        return None
    if options.edge_strip:
        check_room(size, width_mm)
    exposure = solution.notes.get("exposure", "") if solution else ""
    return Border(
        width_px=round(width_mm / MM_PER_INCH * path.resolution_ppi),
        resolution_ppi=path.resolution_ppi,
        surround=options.surround,
        ink_level=least_ink_level(table, solution),
        caption=f"table {table.identity}  {exposure}".rstrip(),
        mirrored=options.mirrored,
        strip=strip_of(path, table, mirrored=options.mirrored)
        if options.edge_strip
        else None,
    )


def film_of(size: Size, border: Border | None) -> Size:
    """Size of the whole film, border and strip with it.

    Parameters
    ----------
    size : Size
        Of the picture.
    border : Border, optional

    Returns
    -------
    Size
        With a warning where the border is wider than the picture.

    Raises
    ------
    InvalidValueError
        If the border makes the film longer than any.
    """
    if border is None:
        return replace(size, findings=())
    film = replace(
        size,
        width_px=size.width_px + 2 * border.width_px,
        height_px=size.height_px + border.width_px + border.bottom_px,
        findings=(),
    )
    sides = f"{film.width_mm:.0f} x {film.height_mm:.0f} mm"
    if max(film.width_mm, film.height_mm) > LONGEST_MM:
        raise InvalidValueError(
            f"makes the film {sides}",
            where="border",
            fix=f"No film is longer than {LONGEST_MM / 1000:g} m; check the unit.",
        )
    if border.width_px <= min(size.width_px, size.height_px):
        return film
    wide = Finding(
        severity="warning",
        where="border",
        what=f"is wider than the picture, and makes the film {sides}",
        fix="Check its unit.",
    )
    return replace(film, findings=(wide,))


def _room_mm(options: ApplyOptions) -> tuple[float, float] | None:
    if options.fit is None:
        return None
    taken = 2 * (_length_mm(options, "margin") or 0)
    taken += 2 * (_border_mm(options) or 0)
    width, height = (each / UNITS_PER_MM - taken for each in sheet_size(options.fit))
    return width, height


def _border_mm(options: ApplyOptions) -> float | None:
    asked = _length_mm(options, "border")
    if asked is None and options.edge_strip:
        return length_units(DEFAULT_BORDER, where="border") / UNITS_PER_MM
    return asked


def _length_mm(options: ApplyOptions, name: str) -> float | None:
    text = getattr(options, name)
    where = name.replace("_", " ")
    return None if text is None else length_units(text, where=where) / UNITS_PER_MM
