"""A strip of a few patches between two marks, for the edge of every negative.

Knows which tones it shows and where; it is a `Layout` like any target, so that drawing,
finding and reading it are those of a sheet.
"""

import random
from collections.abc import Sequence
from dataclasses import dataclass

from negcurve.errors import InvalidValueError
from negcurve.target.composition import kept_level
from negcurve.target.grid import GUTTER
from negcurve.target.ink import Ink
from negcurve.target.layout import Box, Layout, Patch, Text
from negcurve.target.page import LABEL_DOT, STRIP, millimetres, units
from negcurve.target.placement import PPM

SHEET = "strip"
"""Stands for the sheet's name in its layout."""

TONES = tuple(step / 10 for step in range(11))
"""Image tones that are shown through the table."""

RAW_LEVELS = (0.0, 0.5, 1.0)
"""Negative levels shown beside them as they are: they print alike through any table."""

PATCHES = len(TONES) + len(RAW_LEVELS)

WIDTH, HEIGHT = units(136), units(18)
"""Of the strip with the clear film around it. [1/200 mm]"""

_MARGIN = units(1.6)
_MARK_LINE = HEIGHT // 2
_MARK_PLACE = units(7)
IDENTITY_ABOVE_MM = millimetres(_MARK_LINE - _MARGIN - STRIP[1] // 2)
"""From the line between the marks up to the middle of the printed identity."""

_PATCH_TOP, _PATCH_HEIGHT = units(7.9), units(8)
_PATCHES_LEFT = units(14)
_LINE = units(2.75)
_ORDERS = 600


@dataclass(frozen=True, kw_only=True)
class StripDesign:
    """What a strip shall be.

    Attributes
    ----------
    resolution_ppi : int
        Pixels per inch of the file.
    mirrored : bool
    mode : {"grey", "rgb"}
    bits : {8, 16}
    tone_levels : tuple of float, length 11, or empty
        Negative levels of `TONES` through the table; without a table the patches
        have evenly spaced levels. [1]
    table : str
        Identity of that table.
    seed : int
        Scatters the levels.
    ink : Ink or None
        Full ink, where it is not black.
    """

    resolution_ppi: int
    mirrored: bool = True
    mode: str = "grey"
    bits: int = 16
    tone_levels: tuple[float, ...] = ()
    table: str = ""
    seed: int = 1
    ink: Ink | None = None

    def __post_init__(self) -> None:
        if not 72 <= self.resolution_ppi <= 2880:
            raise InvalidValueError(
                f"{self.resolution_ppi} is not possible", where="ppi", fix="72 to 2880."
            )
        if len(self.tone_levels) not in (0, len(TONES)):
            raise InvalidValueError(
                f"{len(self.tone_levels)} values for {len(TONES)} tones",
                where="tone_levels",
            )


def compose_strip(design: StripDesign) -> Layout:
    """Lay a strip out.

    Parameters
    ----------
    design : StripDesign

    Returns
    -------
    Layout
        `WIDTH` by `HEIGHT`; equal designs give equal layouts.
    """
    centre = millimetres(_MARK_LINE)
    marks = (millimetres(_MARK_PLACE), millimetres(WIDTH - _MARK_PLACE))
    width, height = (millimetres(each) for each in STRIP)
    return Layout(
        sheet=SHEET,
        width_mm=millimetres(WIDTH),
        height_mm=millimetres(HEIGHT),
        margin_mm=millimetres(_MARGIN),
        resolution_ppi=design.resolution_ppi,
        mirrored=design.mirrored,
        levels=PATCHES,
        repeats=1,
        seed=design.seed,
        marks_mm=tuple((x, centre) for x in marks),
        identity_boxes=(
            Box(
                left_mm=millimetres((WIDTH - STRIP[0]) // 2),
                top_mm=millimetres(_MARGIN),
                width_mm=width,
                height_mm=height,
            ),
        ),
        patches=_patches(design),
        texts=_texts(design),
        table=design.table,
        mode=design.mode,
        bits=design.bits,
        ink=design.ink,
    )


def _values(design: StripDesign) -> list[tuple[float, float | None]]:
    """Levels, lowest first, each with the tone that it stands for if any."""
    if not design.tone_levels:
        steps = PATCHES - 1
        return [(each / steps, None) for each in range(PATCHES)]
    found: list[tuple[float, float | None]] = [
        (level, tone) for tone, level in zip(TONES, design.tone_levels, strict=True)
    ]
    found += [(level, None) for level in RAW_LEVELS]
    return sorted(found, key=lambda each: each[0])


def _patches(design: StripDesign) -> tuple[Patch, ...]:
    """One row; levels scattered so that no slope along it looks like a tone."""
    room = WIDTH - 2 * _PATCHES_LEFT
    pitch = (room + GUTTER) // PATCHES
    lefts = [_PATCHES_LEFT + place * pitch for place in range(PATCHES)]
    values = [(kept_level(level, design.bits), tone) for level, tone in _values(design)]
    order = _scattered(values, seed=design.seed)
    seen: dict[float, int] = {}
    found = []
    for number, (rank, left) in enumerate(zip(order, lefts, strict=True), start=1):
        kept, tone = values[rank]
        seen[kept] = seen.get(kept, 0) + 1
        found.append(
            Patch(
                number=number,
                negative_level=kept,
                repeat=seen[kept],
                box=Box(
                    left_mm=millimetres(left),
                    top_mm=millimetres(_PATCH_TOP),
                    width_mm=millimetres(pitch - GUTTER),
                    height_mm=millimetres(_PATCH_HEIGHT),
                ),
                image_tone=tone,
            )
        )
    return tuple(found)


def _scattered(values: Sequence[tuple[float, float | None]], *, seed: int) -> list[int]:
    """Rank of the value at each place, from 0.

    Fourteen places are few: of many shuffles the one is taken whose levels, and whose
    tones, go along least with the place and with its square. Only `random()` is used
    and all is judged in whole numbers, so that it is the same everywhere.
    """
    draw = random.Random(seed)
    levels = [round(level * PPM) for level, _ in values]
    tones = [None if tone is None else round(tone * PPM) for _, tone in values]
    order = list(range(PATCHES))
    best, least = list(order), 2 * PPM
    for _ in range(_ORDERS):
        for place in range(PATCHES - 1, 0, -1):
            other = int(draw.random() * (place + 1))
            order[place], order[other] = order[other], order[place]
        worst = max(
            _uneven([levels[rank] for rank in order]),
            _uneven([tones[rank] for rank in order]),
        )
        if worst < least:
            best, least = list(order), worst
    return best


def _uneven(sizes: Sequence[int | None]) -> int:
    """Larger of the squared correlations with place and its square. [ppm]."""
    known = [(place, size) for place, size in enumerate(sizes) if size is not None]
    about = _about_mean([size for _, size in known])
    spread = sum(each * each for each in about)
    worst = 0
    for power in (1, 2):
        shape = _about_mean(
            [(2 * place - len(sizes) + 1) ** power for place, _ in known]
        )
        along = sum(here * each for here, each in zip(shape, about, strict=True))
        size = spread * sum(each * each for each in shape)
        worst = max(worst, along * along * PPM // size if size else 0)
    return worst


def _about_mean(values: Sequence[int]) -> list[int]:
    """Whole numbers proportional to the distance from the mean."""
    total = sum(values)
    return [len(values) * each - total for each in values]


def _texts(design: StripDesign) -> tuple[Text, ...]:
    """Two lines at either side of the printed identity."""
    kind = "RGB" if design.mode == "rgb" else "grey"
    right = (WIDTH + STRIP[0]) // 2 + units(1.5)
    return tuple(
        Text(
            text=text,
            left_mm=millimetres(left),
            top_mm=millimetres(_MARGIN + line * _LINE),
            dot_mm=millimetres(LABEL_DOT),
        )
        for left, line, text in (
            (_PATCHES_LEFT, 0, "negcurve strip"),
            (_PATCHES_LEFT, 1, "{identity}"),
            (right, 0, f"table {design.table}" if design.table else "no table"),
            (right, 1, f"{design.resolution_ppi} ppi {kind}"),
        )
    )
