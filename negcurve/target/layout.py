"""What stands where on a target: patches, marks, identity, captions.

All places are millimetres on the print as it reads right, origin at its top left, y
down. How the places are chosen is `placement.py`, how they become pixels `drawing.py`.
"""

import hashlib
import json
from collections.abc import Iterator
from dataclasses import asdict, dataclass, replace
from functools import cached_property
from typing import Any, Literal

from negcurve.errors import InvalidValueError
from negcurve.target.glyphs import GLYPH_HEIGHT, text_width
from negcurve.target.ink import Ink

SCHEMA = "negcurve/layout/1"

REMAKE = "Make the target again: a layout is not edited by hand."

MARK_RADIUS_MM = 5.0
"""Outer radius of a mark: a white disc on the dark ground."""

MARK_RING_MM = (2.2, 3.6)
"""Inner and outer radius of the dark ring within the disc."""

IDENTITY_COLUMNS = 48
IDENTITY_CELL_MM = (1.3, 2.4)
"""Width and height of one cell; two cells stand above each other in a column."""

FRAME_MM = 0.8
"""How far the corner angles round tape box and tablet window reach outside them."""

TABLET_CLEARANCE_MM = 15.0
"""No patch lies nearer to the tablet window: a tablet lifts the film around it."""


@dataclass(frozen=True, kw_only=True)
class Box:
    """Upright rectangle on the print, in millimetres."""

    left_mm: float
    top_mm: float
    width_mm: float
    height_mm: float

    def __post_init__(self) -> None:
        if not (self.width_mm > 0 and self.height_mm > 0):
            raise InvalidValueError(
                f"must have an extent, has {self.width_mm:g} x {self.height_mm:g} mm",
                where="box",
            )

    @property
    def right_mm(self) -> float:
        """Right edge, in millimetres."""
        return self.left_mm + self.width_mm

    @property
    def bottom_mm(self) -> float:
        """Lower edge, in millimetres."""
        return self.top_mm + self.height_mm

    @property
    def center(self) -> tuple[float, float]:
        """Centre as (x, y), in millimetres."""
        return (
            self.left_mm + self.width_mm / 2,
            self.top_mm + self.height_mm / 2,
        )

    def grown(self, by_mm: float) -> "Box":
        """Return the box with every edge moved outwards."""
        return Box(
            left_mm=self.left_mm - by_mm,
            top_mm=self.top_mm - by_mm,
            width_mm=self.width_mm + 2 * by_mm,
            height_mm=self.height_mm + 2 * by_mm,
        )

    def overlaps(self, other: "Box") -> bool:
        """Tell whether the two share any area; a common edge is not shared area."""
        return (
            self.left_mm < other.right_mm
            and other.left_mm < self.right_mm
            and self.top_mm < other.bottom_mm
            and other.top_mm < self.bottom_mm
        )

    def holds(self, other: "Box", *, slack_mm: float = 1e-6) -> bool:
        """Tell whether the other box lies inside this one."""
        return (
            other.left_mm >= self.left_mm - slack_mm
            and other.top_mm >= self.top_mm - slack_mm
            and other.right_mm <= self.right_mm + slack_mm
            and other.bottom_mm <= self.bottom_mm + slack_mm
        )


@dataclass(frozen=True, kw_only=True)
class Patch:
    """One flat area of a known level.

    Attributes
    ----------
    number : int
        From 1, in the order of the layout: row by row from the top left.
    negative_level : float
        Level in the file, 0 full ink to 1 clear film. [1]
    repeat : int
        Which repeat of its level it is, from 1.
    box : Box
        Where it lies on the print.
    image_tone : float or None
        Image tone that the level was computed from, where a table was used. [1]
    ink : Ink or None
        Full ink of this patch alone, on a sheet of ink mixtures.
    """

    number: int
    negative_level: float
    repeat: int
    box: Box
    image_tone: float | None = None
    ink: Ink | None = None


@dataclass(frozen=True, kw_only=True)
class ScaleBar:
    """A bar of known length between the outer edges of its end strokes.

    Attributes
    ----------
    box : Box
        Bar with its end strokes.
    direction : {"across", "down"}
        Along which side of the box `length_mm` runs.
    length_mm : float
        [mm]
    """

    box: Box
    direction: Literal["across", "down"]
    length_mm: float


@dataclass(frozen=True, kw_only=True)
class Text:
    """One line of lettering in the project's own dot glyphs.

    Attributes
    ----------
    text : str
        What it says; `{identity}` stands for the layout's identity.
    left_mm, top_mm : float
        Top left corner of the first letter. [mm]
    dot_mm : float
        Side of one dot of the glyphs. [mm]
    """

    text: str
    left_mm: float
    top_mm: float
    dot_mm: float

    @property
    def box(self) -> Box:
        """Box that its glyphs fill, parts below the line included."""
        return Box(
            left_mm=self.left_mm,
            top_mm=self.top_mm,
            width_mm=text_width(self.text) * self.dot_mm,
            height_mm=GLYPH_HEIGHT * self.dot_mm,
        )


@dataclass(frozen=True, kw_only=True)
class Layout:
    """A target, complete: everything that its pixels follow from.

    Attributes
    ----------
    sheet : str
        Name of the sheet size, such as `8x10in`.
    width_mm, height_mm : float
        Size of the sheet. [mm]
    margin_mm : float
        Nothing is drawn nearer to an edge. [mm]
    resolution_ppi : int
        Pixels per inch of the file.
    mirrored : bool
        Whether the file is the print's mirror image, as emulsion to emulsion needs.
    levels, repeats, seed : int
        Number of levels, how often each is repeated, and what scattered them.
    marks_mm : tuple of four (x, y)
        Mark centres: top left, top right, bottom right, bottom left. A strip has two:
        left, right. [mm]
    identity_boxes : tuple of two Box
        Top copy and bottom copy of the printed identity. A strip has one.
    patches : tuple of Patch
    tape_box : Box or None
        May be covered with opaque tape: coated but unexposed white.
    tablet_window : Box or None
        Clear film where a step tablet can lie during the exposure.
    scale_bars : tuple of ScaleBar
    texts : tuple of Text
    table : str
        Identity of the table that the levels were taken through, empty without one.
    mode : {"grey", "rgb"}
        Channels of the file; RGB has three equal ones.
    bits : {8, 16}
        Per sample.
    profile : str
        Name of the profile tag. With mode, bits and resolution it is the printer path,
        which a negative must share.
    ink : Ink or None
        Full ink, where it is not black.
    """

    sheet: str
    width_mm: float
    height_mm: float
    margin_mm: float
    resolution_ppi: int
    mirrored: bool
    levels: int
    repeats: int
    seed: int
    marks_mm: tuple[tuple[float, float], ...]
    identity_boxes: tuple[Box, ...]
    patches: tuple[Patch, ...]
    tape_box: Box | None = None
    tablet_window: Box | None = None
    scale_bars: tuple[ScaleBar, ...] = ()
    texts: tuple[Text, ...] = ()
    table: str = ""
    mode: str = "grey"
    bits: int = 16
    profile: str = "none"
    ink: Ink | None = None

    def __post_init__(self) -> None:
        marks, copies = len(self.marks_mm), len(self.identity_boxes)
        _check(marks in (2, 4), "marks_mm", "four marks are needed, two for a strip")
        wanted = "one is needed" if marks == 2 else "two are needed"
        _check(copies == marks // 2, "identity_boxes", wanted)
        _check(
            self.resolution_ppi > 0,
            "resolution_ppi",
            f"{self.resolution_ppi:g} is not above 0",
            "Give the printer's resolution, such as 360.",
        )
        bits = f"{self.bits} is not 8 or 16"
        _check(
            self.bits in (8, 16),
            "bits",
            bits,
            "Use 16, or 8 where the driver takes no more.",
        )
        mode = f"{self.mode!r} is not grey or rgb"
        _check(self.mode in ("grey", "rgb"), "mode", mode, "Use grey or rgb.")
        coloured = self.ink is not None or self.has_mixtures
        _check(
            self.mode == "rgb" or not coloured,
            "ink",
            "a colour needs mode rgb",
            "Set the mode to rgb, or leave the ink away.",
        )
        _check(
            len(self.patches) == self.levels * self.repeats > 0,
            "patches",
            f"{len(self.patches)} for {self.levels} levels x {self.repeats} repeats",
        )
        sheet = Box(
            left_mm=0, top_mm=0, width_mm=self.width_mm, height_mm=self.height_mm
        )
        for place, patch in enumerate(self.patches, start=1):
            where = f"patch {patch.number}"
            _check(patch.number == place, where, f"stands in place {place}")
            _check(0 <= patch.negative_level <= 1, where, "level lies outside 0..1")
            _check(sheet.holds(patch.box), where, "lies outside the sheet")

    @property
    def is_strip(self) -> bool:
        """Whether it is one row of patches between two marks, not a whole sheet."""
        return len(self.marks_mm) == 2

    @cached_property
    def identity(self) -> int:
        """32-bit number printed on the target: SHA-256 of the canonical text."""
        digest = hashlib.sha256(self.canonical_text.encode("ascii")).digest()
        return int.from_bytes(digest[:4], "big")

    @property
    def identity_text(self) -> str:
        """Identity as eight hexadecimal digits, as readings files name it."""
        return f"{self.identity:08X}"

    @cached_property
    def canonical_text(self) -> str:
        """JSON with sorted keys and no spaces; equal layouts have equal text."""
        return json.dumps(
            self.as_plain(), sort_keys=True, separators=(",", ":"), allow_nan=False
        )

    def as_plain(self) -> dict[str, Any]:
        """Return the layout as dicts, lists, text and numbers, with its schema.

        Inks stand as text, and only where there are any.
        """
        plain = {"schema": SCHEMA, **asdict(self)}
        _put_ink(plain, self.ink)
        for each, patch in zip(plain["patches"], self.patches, strict=True):
            _put_ink(each, patch.ink)
        return plain

    @property
    def has_mixtures(self) -> bool:
        """Whether patches have inks of their own."""
        return any(patch.ink is not None for patch in self.patches)

    @property
    def printer_path(self) -> dict[str, str]:
        """How the file goes to the printer; a negative must go the same way."""
        path = {
            "mode": self.mode,
            "bits": str(self.bits),
            "ppi": str(self.resolution_ppi),
            "profile": self.profile,
        }
        return path if self.ink is None else {**path, "ink": self.ink.text}

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height of the file, in pixels."""
        return (
            int(self.width_mm * self.resolution_ppi / 25.4 + 0.5),
            int(self.height_mm * self.resolution_ppi / 25.4 + 0.5),
        )

    def lettering(self) -> Iterator[Text]:
        """Yield the texts with the identity filled in."""
        for each in self.texts:
            yield replace(
                each, text=each.text.replace("{identity}", self.identity_text)
            )


def _check(holds: bool, where: str, what: str, fix: str = REMAKE) -> None:
    if not holds:
        raise InvalidValueError(what, where=where, fix=fix)


def _put_ink(plain: dict[str, Any], ink: Ink | None) -> None:
    del plain["ink"]
    if ink is not None:
        plain["ink"] = ink.text
