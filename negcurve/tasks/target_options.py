"""What `target` is asked to do, and the layout that follows from it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields
from pathlib import Path

import numpy as np

from negcurve.errors import InvalidValueError
from negcurve.files.solution_json import read_solution
from negcurve.files.tiff import Compression
from negcurve.response.solution import Solution
from negcurve.response.table import LookupTable
from negcurve.target.composition import Design, compose
from negcurve.target.edge_strip import TONES, StripDesign, compose_strip
from negcurve.target.ink import BLACK, Ink, film_ink
from negcurve.target.layout import Layout
from negcurve.target.mixtures import DEFAULT, ink_mixtures
from negcurve.target.sizes import length_units
from negcurve.values import Finding

DEFAULT_PPI = 360
DEFAULT_LEVELS = 51

SHEET_ONLY = (
    "sheet",
    "margin",
    "levels",
    "repeats",
    "patch",
    "tablet_window",
    "mixtures",
)
"""Options that mean nothing for a strip."""


@dataclass(frozen=True, eq=False, kw_only=True)
class TargetOptions:
    """What `target` takes.

    Attributes
    ----------
    output : path
        The target, a TIFF. Its layout goes beside it as `NAME.layout.json`.
    sheet : str
        `A2` to `A6`, or width x height with a unit: `8x10in`, `20x25cm`.
    margin : str, optional
        Clear edge with its unit; 12 mm, or 8 mm on sheets narrower than 120 mm.
    ppi : int, optional
        Pixels per inch; the table's, else 360.
    levels, repeats, seed : int
        Number of levels, 51 by default, or of mixtures, 48; how often each occurs, and
        what scatters them.
    patch : str, optional
        Side of a patch with its unit; as large as fits by default.
    mirrored : bool
        For the ink side on the coating.
    table : path, Solution or LookupTable, optional
        Print through this table, for a second round.
    tablet_window : bool, optional
        Clear film for a step tablet; by default from about 8 x 10 in up.
    preview : path, optional
        PNG of film and print.
    mode : {"grey", "rgb"}, optional
    bits : {8, 16}, optional
        Of the file; the table's, else 16-bit grey.
    ink : str, optional
        Colour of full ink as codes `R,G,B`, 0..255; the table's, else black. Written
        as RGB.
    mixtures : bool
        Compare ink mixtures at full ink in place of levels.
    strip : bool
        A strip of 14 patches, as under a negative with an edge strip, in place of a
        sheet: 11 tones through the table and 3 raw levels; 14 levels without a table.
    compression : {"none", "lzw", "deflate"}
    overwrite : bool
        Replace output files that exist.
    """

    output: Path | str
    sheet: str = "8x10in"
    margin: str | None = None
    ppi: int | None = None
    levels: int | None = None
    repeats: int = 2
    seed: int = 1
    patch: str | None = None
    mirrored: bool = True
    table: Path | str | Solution | LookupTable | None = None
    tablet_window: bool | None = None
    preview: Path | str | None = None
    mode: str | None = None
    bits: int | None = None
    ink: str | None = None
    mixtures: bool = False
    strip: bool = False
    compression: Compression = "deflate"
    overwrite: bool = False


def layout_of(options: TargetOptions) -> tuple[Layout, tuple[Finding, ...]]:
    """Layout that was asked for, and what to know of it.

    Raises
    ------
    InvalidValueError
        If an option has no honest meaning, or the sheet is too small.
    """
    if options.strip:
        _check_strip(options)
    design, found = _design(options)
    if not options.strip:
        return compose(design), found
    strip = StripDesign(
        resolution_ppi=design.resolution_ppi,
        mirrored=design.mirrored,
        mode=design.mode,
        bits=design.bits,
        tone_levels=design.negative_levels,
        table=design.table,
        seed=design.seed,
        ink=design.ink,
    )
    return compose_strip(strip), found


def _check_strip(options: TargetOptions) -> None:
    """Refuse what is asked of a sheet, where a strip is wanted."""
    for field in fields(TargetOptions):
        if field.name in SHEET_ONLY and getattr(options, field.name) != field.default:
            raise InvalidValueError(
                "a strip has its own size and levels",
                where=field.name.replace("_", " "),
                fix="Leave the option out, or leave --strip out for a sheet.",
            )


def _design(options: TargetOptions) -> tuple[Design, tuple[Finding, ...]]:
    table, path = _table(options)
    ink = _ink(options, path)
    mixtures = _mixtures(options, ink)
    usual = len(TONES) if options.strip else len(mixtures) or DEFAULT_LEVELS
    levels = usual if options.levels is None else options.levels
    tones = np.arange(levels) / max(levels - 1, 1)
    design = Design(
        sheet=options.sheet,
        levels=levels,
        repeats=options.repeats,
        seed=options.seed,
        resolution_ppi=options.ppi or round(float(path.get("ppi", DEFAULT_PPI))),
        margin=_length(options.margin, "margin"),
        patch=_length(options.patch, "patch"),
        mirrored=options.mirrored,
        tablet_window=options.tablet_window,
        mode=_mode(options, path, coloured=ink is not None or options.mixtures),
        bits=options.bits or int(path.get("bits", 16)),
        negative_levels=tuple(table.negative_level(tones).tolist()) if table else (),
        image_tones=tuple(tones.tolist()) if table else (),
        table=table.identity if table else "",
        ink=ink,
        mixtures=mixtures,
    )
    return design, tuple(_changes(options, design, path))


def _changes(
    options: TargetOptions, design: Design, path: Mapping[str, str]
) -> Iterator[Finding]:
    """Name what differs from the target of the table, if there is one."""
    if not path:
        return
    now = {
        "ppi": options.ppi and str(options.ppi),
        "bits": options.bits and str(options.bits),
        "mode": options.mode,
        "ink": options.ink and (design.ink or BLACK).text,
    }
    for name, value in now.items():
        first = path.get(name, BLACK.text if name == "ink" else "")
        if value and first and value != first:
            yield _changed(name, first, value)


def _ink(options: TargetOptions, path: Mapping[str, str]) -> Ink | None:
    text = options.ink or path.get("ink")
    ink = film_ink(text) if text else BLACK
    return None if ink == BLACK else ink


def _mixtures(options: TargetOptions, ink: Ink | None) -> tuple[Ink, ...]:
    if not options.mixtures:
        return ()
    if options.table is not None or ink is not None:
        raise InvalidValueError(
            "compare inks with each other, so they take neither a table nor an ink",
            where="mixtures",
            fix="Find the ink with them first; then print a target with --ink R,G,B.",
        )
    return ink_mixtures(DEFAULT if options.levels is None else options.levels)


def _mode(options: TargetOptions, path: Mapping[str, str], *, coloured: bool) -> str:
    if not coloured:
        return options.mode or path.get("mode", "grey")
    if options.mode == "grey":
        raise InvalidValueError(
            "grey cannot hold coloured ink",
            where="mode",
            fix="Leave it out, the file is then written as RGB; or use --ink 0,0,0.",
        )
    return "rgb"


def _table(options: TargetOptions) -> tuple[LookupTable | None, dict[str, str]]:
    """Table and the printer path that it was made for, empty where not known."""
    given = options.table
    if isinstance(given, (str, Path)):
        given = read_solution(given)
    if isinstance(given, Solution):
        return given.table, dict(given.printer_path)
    return given, {}


def _length(text: str | None, where: str) -> int | None:
    return None if text is None else length_units(text, where=where)


def _changed(setting: str, first: str, now: str) -> Finding:
    return Finding(
        severity="warning",
        where=setting,
        what=f"is {now} here and was {first} in the target of the table, so the "
        "printer may lay down other ink than the table was made for",
        fix="Leave the option out to print the first target's way.",
    )
