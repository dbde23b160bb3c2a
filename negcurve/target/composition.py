"""From what a target shall be to its layout."""

from collections.abc import Sequence
from dataclasses import dataclass

from negcurve.errors import InvalidValueError
from negcurve.target import lettering
from negcurve.target.grid import (
    SMALLEST_PATCH,
    Grid,
    Rectangle,
    best_grid,
    most_patches,
)
from negcurve.target.ink import Ink
from negcurve.target.layout import Box, Layout, Patch, ScaleBar
from negcurve.target.page import MARK, STRIP, Page, cut_page, millimetres
from negcurve.target.placement import scatter

_DECIMALS = 6
"""Levels are kept to a millionth: finer than a 16-bit code, the same everywhere."""

CODES_OF_8_BITS = 255


@dataclass(frozen=True, kw_only=True)
class Design:
    """What a target shall be; lengths in 1/200 mm.

    Attributes
    ----------
    sheet : str
        Name of the sheet size, see `sizes.sheet_size`.
    levels, repeats, seed : int
        Number of levels, how often each occurs, and what scatters them.
    resolution_ppi : int
        Pixels per inch of the file.
    margin : int or None
        Clear edge; None for the default of the sheet, see `page.cut_page`.
    patch : int or None
        Side of a square patch; None for as large as fits.
    mirrored : bool
        Whether the file is mirrored, for the ink side on the coating.
    tablet_window : bool or None
        None for the default of the sheet.
    mode : {"grey", "rgb"}
    bits : {8, 16}
        Of the file, as the printer takes it.
    negative_levels, image_tones : tuple of float, length levels
        Levels taken through a table and the tones they stand for; both empty for
        levels evenly spaced from 0 to 1.
    table : str
        Identity of that table.
    ink : Ink or None
        Full ink, where it is not black; mode rgb.
    mixtures : tuple of Ink, length levels
        Inks to compare in place of levels, from least to most; empty for levels.
    """

    sheet: str = "8x10in"
    levels: int = 51
    repeats: int = 2
    seed: int = 1
    resolution_ppi: int = 360
    margin: int | None = None
    patch: int | None = None
    mirrored: bool = True
    tablet_window: bool | None = None
    mode: str = "grey"
    bits: int = 16
    negative_levels: tuple[float, ...] = ()
    image_tones: tuple[float, ...] = ()
    table: str = ""
    ink: Ink | None = None
    mixtures: tuple[Ink, ...] = ()

    def __post_init__(self) -> None:
        _check_range("levels", self.levels, 2, 256)
        _check_range("repeats", self.repeats, 1, 16)
        _check_range("ppi", self.resolution_ppi, 72, 2880)
        _check_range("seed", self.seed, 0, (1 << 32) - 1)
        if self.mixtures and self.repeats < 2:
            raise InvalidValueError(
                "mixtures printed once cannot be told from chance",
                where="repeats",
                fix="Use 2 or more.",
            )
        if self.patch is not None and self.patch < SMALLEST_PATCH:
            raise InvalidValueError(
                f"{millimetres(self.patch):g} mm is too small to be read",
                where="patch",
                fix=f"Use {millimetres(SMALLEST_PATCH):g} mm or more.",
            )
        for name in ("negative_levels", "image_tones", "mixtures"):
            given = len(getattr(self, name))
            if given not in (0, self.levels):
                raise InvalidValueError(
                    f"{given} values for {self.levels} levels", where=name
                )


def compose(design: Design) -> Layout:
    """Lay a target out.

    Parameters
    ----------
    design : Design
        What it shall be.

    Returns
    -------
    Layout

    Raises
    ------
    InvalidValueError
        If the sheet is too small; the message gives the number of levels that fit.
    """
    page = cut_page(
        design.sheet, margin=design.margin, tablet_window=design.tablet_window
    )
    grid = _grid(design, page)
    return Layout(
        sheet=page.sheet,
        width_mm=millimetres(page.width),
        height_mm=millimetres(page.height),
        margin_mm=millimetres(page.margin),
        resolution_ppi=design.resolution_ppi,
        mirrored=design.mirrored,
        levels=design.levels,
        repeats=design.repeats,
        seed=design.seed,
        marks_mm=_marks(page),
        identity_boxes=_identity_boxes(page),
        patches=_patches(design, grid),
        tape_box=_box(page.tape) if page.tape else None,
        tablet_window=_box(page.window) if page.window else None,
        scale_bars=_scale_bars(page),
        texts=(
            *lettering.caption(page, caption_lines(design, page.sheet)),
            *lettering.labels(page),
            *lettering.row_numbers(page, grid),
        ),
        table=design.table,
        mode=design.mode,
        bits=design.bits,
        ink=design.ink,
    )


def caption_lines(design: Design, sheet: str) -> tuple[str, ...]:
    """Return what the caption says, its title first."""
    steps = "ink mixtures" if design.mixtures else "levels"
    what = f"{sheet}, {design.levels} {steps} x {design.repeats}, seed {design.seed}"
    kind = "RGB" if design.mode == "rgb" else "grey"
    kind += f", ink {design.ink.text}" if design.ink else ""
    way = "BACKWARDS" if design.mirrored else "RIGHT"
    return (
        "negcurve target {identity}",
        f"{what}, table {design.table}" if design.table else what,
        f"Print at 100 %, {design.resolution_ppi} ppi, {design.bits}-bit {kind}",
        f"READS {way} ON THE INK SIDE",
    )


def _check_range(name: str, value: int, low: int, high: int) -> None:
    if not low <= value <= high:
        raise InvalidValueError(
            f"{value} is not possible", where=name, fix=f"Use {low} to {high}."
        )


def _grid(design: Design, page: Page) -> Grid:
    count = design.levels * design.repeats
    grid = best_grid(page.patches, count=count, patch=design.patch)
    if grid:
        return grid
    size = millimetres(design.patch or SMALLEST_PATCH)
    fitting = most_patches(page.patches, patch=design.patch) // design.repeats
    would = f"{fitting} levels would" if fitting >= 2 else "not even 2 levels would"
    fixes = [f"Use --levels {fitting}"] if fitting >= 2 else []
    fixes += ["fewer repeats"] if design.repeats > 1 else []
    fixes += ["smaller patches"] if design.patch else []
    fixes += ["no tablet window"] if page.window else []
    text = ", ".join([*fixes, "a larger sheet"])
    raise InvalidValueError(
        f"{design.levels} levels x {design.repeats} do not fit in patches of "
        f"{size:g} mm or more; {would}",
        where=f"sheet {page.sheet}",
        fix=f"{text[0].upper()}{text[1:]}.".replace(", a larger", " or a larger"),
    )


def _marks(page: Page) -> tuple[tuple[float, float], ...]:
    left = millimetres(page.left + MARK // 2)
    right = millimetres(page.right - MARK // 2)
    top, bottom = (millimetres(each) for each in page.mark_lines)
    return (left, top), (right, top), (right, bottom), (left, bottom)


def _identity_boxes(page: Page) -> tuple[Box, Box]:
    width, height = STRIP
    left = (page.width - width) // 2
    top, bottom = (
        _box((left, line - height // 2, width, height)) for line in page.mark_lines
    )
    return top, bottom


def _patches(design: Design, grid: Grid) -> tuple[Patch, ...]:
    level_at = scatter(
        [(left + wide // 2, top + high // 2) for left, top, wide, high in grid.boxes],
        levels=design.levels,
        repeats=design.repeats,
        seed=design.seed,
        pitch=grid.pitch,
    )
    values = _values(design)
    seen = [0] * design.levels
    found = []
    for place, (level, box) in enumerate(zip(level_at, grid.boxes, strict=True)):
        seen[level] += 1
        found.append(
            Patch(
                number=place + 1,
                negative_level=kept_level(values[level], design.bits),
                repeat=seen[level],
                box=_box(box),
                image_tone=_tone(design.image_tones, level),
                ink=design.mixtures[level] if design.mixtures else None,
            )
        )
    return tuple(found)


def _values(design: Design) -> Sequence[float]:
    """Negative level of each step; a mixture is printed at full ink."""
    steps = design.levels - 1
    if design.mixtures:
        return [0.0] * design.levels
    return design.negative_levels or [each / steps for each in range(steps + 1)]


def kept_level(value: float, bits: int) -> float:
    """Return a level as the file can hold it; 16 bits are finer than is kept."""
    if bits == 8:
        value = round(value * CODES_OF_8_BITS) / CODES_OF_8_BITS
    return round(value, _DECIMALS)


def _tone(tones: Sequence[float], level: int) -> float | None:
    return round(tones[level], _DECIMALS) if tones else None


def _scale_bars(page: Page) -> tuple[ScaleBar, ...]:
    across = ScaleBar(
        box=_box(page.bar_across),
        direction="across",
        length_mm=millimetres(page.bar_across[2]),
    )
    if page.bar_down is None:
        return (across,)
    down = ScaleBar(
        box=_box(page.bar_down),
        direction="down",
        length_mm=millimetres(page.bar_down[3]),
    )
    return across, down


def _box(part: Rectangle) -> Box:
    left, top, width, height = (millimetres(each) for each in part)
    return Box(left_mm=left, top_mm=top, width_mm=width, height_mm=height)
