"""The scan with everything drawn on it that was read, to be checked at a glance.

Shown as the print reads right, whichever way it lay on the glass. Drawn as pixels;
writing the file is left to `negcurve.files.png`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageDraw, ImageFont

from negcurve.encoding import Encoding
from negcurve.reading.geometry import Geometry
from negcurve.reading.patches import trimmed
from negcurve.reading.scan import ScanReading
from negcurve.reading.wedge_place import WedgePlace
from negcurve.target.layout import MARK_RADIUS_MM, Box
from negcurve.values import FloatArray

LONGEST = 1600
"""Longest side of the picture. [px]"""

AROUND_MM = 12.0
"""What is shown around the sheet of film. [mm]"""

READ = (86, 180, 233)
MARK = (0, 158, 115)
LOST = (213, 94, 0)
FLAGS = {
    "stray": ((213, 94, 0), "S"),
    "covered": ((204, 121, 167), "F"),
    "uneven": ((240, 228, 66), "U"),
    "clipped": ((230, 159, 0), "C"),
}
"""Okabe and Ito, Color Universal Design (2008); each flag has its letter as well."""

WORDS = {
    "stray": "stray",
    "covered": "foreign matter",
    "uneven": "uneven",
    "clipped": "clipped",
}

LEGEND_PX = 76
PAPER, INK = (255, 255, 255), (34, 34, 34)

Colour = tuple[int, int, int]


@dataclass(frozen=True, eq=False, kw_only=True)
class _View:
    """The picture that is drawn on, and how the print lies in it."""

    image: Image.Image
    geometry: Geometry
    scale: float  # pixels per millimetre


def overlay(
    reading: ScanReading,
    encoding: Encoding,
    *,
    numbers: bool = False,
    steps: Sequence[Box] = (),
    wedge: WedgePlace | None = None,
) -> npt.NDArray[np.uint8]:
    """Draw marks, patches and flags on a scan.

    Parameters
    ----------
    reading : ScanReading
        What was read.
    encoding : Encoding
        Of the scan; only decides how light the picture is shown.
    numbers : bool
        Write every patch's number, not only those of flagged ones.
    steps : sequence of Box
        Where the steps of a tablet were read. [mm]
    wedge : WedgePlace, optional
        Step wedge beside the print, which is then shown as well.

    Returns
    -------
    array of uint8, shape (rows, columns, 3)
        About `LONGEST` pixels on the long side, sRGB.
    """
    view = _view(reading, encoding, wedge)
    draw = ImageDraw.Draw(view.image)
    for place, patch in enumerate(reading.layout.patches):
        flags = reading.readings.flags[place]
        _draw_patch(draw, view, patch.box, flags)
        if numbers or flags:
            _draw_number(draw, view, patch.box, str(patch.number))
    for box in steps:
        _draw_patch(draw, view, box, frozenset())
    for corner, place_mm in enumerate(reading.layout.marks_mm):
        _draw_mark(draw, view, place_mm, seen=corner in reading.corners)
    for box in reading.layout.identity_boxes:
        _outline(draw, view, box.grown(0.6), MARK, width=2)
    if wedge is not None:
        seen = _as_seen(wedge.geometry, view.geometry, reading)
        beside = _View(image=view.image, geometry=seen, scale=view.scale)
        _outline(draw, beside, _wedge_box(wedge), MARK, width=2)
        for box in wedge.boxes:
            _outline(draw, beside, trimmed(box), READ, width=2)
    cells = 0 if wedge is None else len(wedge.boxes)
    return np.asarray(_with_legend(view.image, reading, cells))


def _view(reading: ScanReading, encoding: Encoding, wedge: WedgePlace | None) -> _View:
    """Turn the scan upright, cut it to the print and size it for a page."""
    levels = reading.reduced.levels
    if levels.shape[2] == 1:
        levels = np.repeat(levels, 3, axis=2)
    grey = float(encoding.luminance(np.full((1, encoding.channels), 0.5))[0])
    shown = np.clip(levels, 0, 1) ** _display_power(grey)
    codes = np.rint(shown * 255).astype(np.uint8)
    geometry = reading.geometry.scaled(1 / reading.reduced.factor)
    codes, geometry = _upright(codes, geometry)
    shown = _shown(geometry, reading, wedge)
    left, top, right, bottom = _extent(shown, codes.shape)
    factor = LONGEST / max(right - left, bottom - top)
    image = Image.fromarray(np.ascontiguousarray(codes[top:bottom, left:right]))
    size = (round((right - left) * factor), round((bottom - top) * factor))
    image = image.resize(size, Image.Resampling.BICUBIC)
    move = np.array(
        [[factor, 0, -left * factor], [0, factor, -top * factor], [0, 0, 1]]
    )
    geometry = _moved(geometry, move)
    return _View(image=image, geometry=geometry, scale=geometry.px_per_mm)


def _display_power(grey: float) -> float:
    """Exponent that brings levels to about those of sRGB, from the light at 0.5."""
    return float(np.clip(np.log(max(grey, 1e-3)) / np.log(0.5) / 2.2, 0.3, 1.5))


def _moved(geometry: Geometry, move: FloatArray) -> Geometry:
    return Geometry(
        matrix=move @ geometry.matrix,
        size_mm=geometry.size_mm,
        shift_mm=geometry.shift_mm,
    )


def _upright(
    codes: npt.NDArray[np.uint8], geometry: Geometry
) -> tuple[npt.NDArray[np.uint8], Geometry]:
    """Mirror and turn by quarters until the print reads right."""
    if geometry.mirrored:
        width = codes.shape[1]
        codes = codes[:, ::-1]
        geometry = _moved(geometry, np.array([[-1.0, 0, width], [0, 1, 0], [0, 0, 1]]))
    for _ in range(round(geometry.turn_degrees / 90) % 4):
        width = codes.shape[1]
        codes = np.rot90(codes)
        geometry = _moved(geometry, np.array([[0, 1.0, 0], [-1, 0, width], [0, 0, 1]]))
    return codes, geometry


def _shown(
    geometry: Geometry, reading: ScanReading, wedge: WedgePlace | None
) -> FloatArray:
    """Return corners of the sheet and its surroundings, and of a wedge. [px]."""
    layout = reading.layout
    around = Box(
        left_mm=0, top_mm=0, width_mm=layout.width_mm, height_mm=layout.height_mm
    ).grown(AROUND_MM)
    corners = geometry.to_scan(_corners(around))
    if wedge is None:
        return corners
    strip = _wedge_box(wedge).grown(AROUND_MM / 3)
    beside = _as_seen(wedge.geometry, geometry, reading)
    return np.concatenate([corners, beside.to_scan(_corners(strip))])


def _as_seen(other: Geometry, geometry: Geometry, reading: ScanReading) -> Geometry:
    """Carry a geometry of the scan over to where the print has another one."""
    return _moved(other, geometry.matrix @ np.linalg.inv(reading.geometry.matrix))


def _wedge_box(wedge: WedgePlace) -> Box:
    first, last = wedge.boxes[0], wedge.boxes[-1]
    return Box(
        left_mm=first.left_mm,
        top_mm=first.top_mm,
        width_mm=last.right_mm - first.left_mm,
        height_mm=first.height_mm,
    )


def _extent(corners: FloatArray, shape: tuple[int, ...]) -> tuple[int, int, int, int]:
    """Return left, top, right, bottom of what is shown, in pixels."""
    low = np.clip(np.floor(corners.min(axis=0)), 0, None).astype(int)
    high = np.ceil(corners.max(axis=0)).astype(int)
    return (
        int(low[0]),
        int(low[1]),
        min(int(high[0]), shape[1]),
        min(int(high[1]), shape[0]),
    )


def _corners(box: Box) -> list[tuple[float, float]]:
    return [
        (box.left_mm, box.top_mm),
        (box.right_mm, box.top_mm),
        (box.right_mm, box.bottom_mm),
        (box.left_mm, box.bottom_mm),
    ]


def _outline(
    draw: ImageDraw.ImageDraw, view: _View, box: Box, colour: Colour, *, width: int
) -> None:
    """Draw a box in a colour with a dark line beneath, so that it shows on any tone."""
    corners = [tuple(each) for each in view.geometry.to_scan(_corners(box)).tolist()]
    closed = [*corners, corners[0], corners[1]]
    draw.line(closed, fill=(0, 0, 0), width=width + 2, joint="curve")
    draw.line(closed, fill=colour, width=width, joint="curve")


def _draw_patch(
    draw: ImageDraw.ImageDraw, view: _View, box: Box, flags: frozenset[str]
) -> None:
    read = trimmed(box)
    if not flags:
        _outline(draw, view, read, READ, width=3)
        return
    first = next(name for name in FLAGS if name in flags)
    colour = FLAGS[first][0]
    _outline(draw, view, read, colour, width=5)
    x, y = view.geometry.to_scan([box.center])[0]
    letters = "".join(FLAGS[name][1] for name in FLAGS if name in flags)
    size = max(12, int(0.35 * min(box.width_mm, box.height_mm) * view.scale))
    _write(draw, (x, y), letters, size=size, fill=colour, anchor="mm")


def _draw_number(draw: ImageDraw.ImageDraw, view: _View, box: Box, number: str) -> None:
    size = max(9, min(15, int(0.2 * box.height_mm * view.scale)))
    place = [(box.left_mm + 0.4, box.top_mm + 0.3)]
    x, y = view.geometry.to_scan(place)[0]
    _write(draw, (x, y), number, size=size, fill=PAPER, anchor="lt")


def _write(
    draw: ImageDraw.ImageDraw,
    place: tuple[float, float],
    text: str,
    *,
    size: int,
    fill: Colour,
    anchor: str,
) -> None:
    draw.text(
        place,
        text,
        font=ImageFont.load_default(size),
        fill=fill,
        anchor=anchor,
        stroke_width=2,
        stroke_fill=(0, 0, 0),
    )


def _draw_mark(
    draw: ImageDraw.ImageDraw,
    view: _View,
    place_mm: tuple[float, float],
    *,
    seen: bool,
) -> None:
    x, y = view.geometry.to_scan([place_mm])[0]
    colour = MARK if seen else LOST
    reach = (MARK_RADIUS_MM + 0.8) * view.scale
    for width, line in ((6, (0, 0, 0)), (4, colour)):
        draw.ellipse(
            (x - reach, y - reach, x + reach, y + reach), outline=line, width=width
        )
    if not seen:
        _write(draw, (x, y), "?", size=int(reach), fill=LOST, anchor="mm")
        return
    arm = 0.55 * reach
    for width, line in ((4, (0, 0, 0)), (2, colour)):
        draw.line((x - arm, y, x + arm, y), fill=line, width=width)
        draw.line((x, y - arm, x, y + arm), fill=line, width=width)


def _with_legend(image: Image.Image, reading: ScanReading, cells: int) -> Image.Image:
    """Add a strip below that says what the lines mean and what was found."""
    page = Image.new("RGB", (image.width, image.height + LEGEND_PX), PAPER)
    page.paste(image, (0, 0))
    draw = ImageDraw.Draw(page)
    draw.text(
        (14, image.height + 9),
        _summary(reading, cells),
        font=ImageFont.load_default(19),
        fill=INK,
    )
    x, y = 14, image.height + 52
    keys: list[tuple[Colour, str]] = [
        (READ, "area read"),
        (MARK, "mark and number found"),
    ]
    if len(reading.corners) < 4:
        keys.append((LOST, "? mark not found"))
    for name, (colour, letter) in FLAGS.items():
        count = int(reading.readings.flagged(name).sum())
        if count:
            keys.append((colour, f"{letter} {WORDS[name]}: {count}"))
    font = ImageFont.load_default(17)
    for colour, words in keys:
        draw.rectangle((x, y - 8, x + 22, y + 8), outline=INK, fill=colour)
        draw.text((x + 30, y), words, font=font, fill=INK, anchor="lm")
        x += 30 + int(draw.textlength(words, font=font)) + 28
    return page


def _summary(reading: ScanReading, cells: int) -> str:
    layout = reading.layout
    flagged = sum(bool(each) for each in reading.readings.flags)
    parts = [
        f"target {layout.identity_text}",
        f"{len(layout.patches)} patches read"
        + (f", {flagged} flagged" if flagged else ""),
        f"{len(reading.corners)} of {len(reading.layout.marks_mm)} marks",
        f"turned {abs(reading.geometry.turn_degrees):.1f}\N{DEGREE SIGN} in the scan",
    ]
    if cells:
        parts.append(f"wedge of {cells} steps")
    if reading.geometry.mirrored:
        parts.append("READS MIRRORED in the scan")
    return "   |   ".join(parts)
