"""How large the negative is, in pixels and on the sheet.

Knows how a wanted length and a resolution give pixels; resampling to them is left to
`resampling`.
"""

from dataclasses import dataclass

from negcurve.errors import InvalidValueError
from negcurve.values import Finding

MM_PER_INCH = 25.4

LONGEST_MM = 5000.0
"""Longest side of a negative; beyond it a unit was mistyped. [mm]"""

STRETCH_LIMIT = 0.005
"""By how much width and height given together may disagree with the picture."""

COARSE_PPI = 180
"""Fewer pixels of the picture an inch look soft in the hand; common practice, no
source."""

LARGEST_SIDE_PX = 300_000


@dataclass(frozen=True, kw_only=True)
class WantedSize:
    """What was asked for; one length, or width and height that agree, or a room.

    Attributes
    ----------
    width_mm, height_mm, long_edge_mm : float, optional
        Of the picture on the sheet. [mm]
    fit_mm : (float, float), optional
        Sides of the room that the picture is to fill, either way round. [mm]
    resolution_ppi : float
        Of the negative. [pixels per inch]
    below_mm : float
        Of the room, taken up below the picture. [mm]
    """

    width_mm: float | None = None
    height_mm: float | None = None
    long_edge_mm: float | None = None
    fit_mm: tuple[float, float] | None = None
    resolution_ppi: float
    below_mm: float = 0.0

    def __post_init__(self) -> None:
        if not 30 <= self.resolution_ppi <= 20_000:
            raise InvalidValueError(
                f"{self.resolution_ppi:g} pixels per inch lies outside 30..20000",
                where="ppi",
                fix="Give what the printer driver prints at, such as 360 or 720.",
            )
        for name in ("width_mm", "height_mm", "long_edge_mm"):
            value = getattr(self, name)
            if value is not None and not 0 < value <= LONGEST_MM:
                raise InvalidValueError(
                    f"{value:g} mm is no side of a negative",
                    where=name.removesuffix("_mm"),
                    fix=f"Give a length above 0 and up to {LONGEST_MM / 1000:g} m, and "
                    "check the unit.",
                )
        if self.fit_mm is not None and min(self.fit_mm) <= self.below_mm:
            raise InvalidValueError(
                "margins and border leave no room for a picture",
                where="fit",
                fix="Fit a larger sheet, or narrow the border.",
            )
        sides = self.width_mm is not None or self.height_mm is not None
        if sides + (self.long_edge_mm is not None) + (self.fit_mm is not None) > 1:
            raise InvalidValueError(
                "is given in more than one way",
                where="size",
                fix="Give width and height, or the long edge, or a sheet to fit.",
            )


@dataclass(frozen=True, kw_only=True)
class Size:
    """Size of the negative.

    Attributes
    ----------
    width_px, height_px : int
    resolution_ppi : float
        [pixels per inch]
    findings : tuple of Finding
    """

    width_px: int
    height_px: int
    resolution_ppi: float
    findings: tuple[Finding, ...] = ()

    @property
    def width_mm(self) -> float:
        """Printed width. [mm]."""
        return self.width_px / self.resolution_ppi * MM_PER_INCH

    @property
    def height_mm(self) -> float:
        """Printed height. [mm]."""
        return self.height_px / self.resolution_ppi * MM_PER_INCH


def negative_size(
    width_px: int,
    height_px: int,
    wanted: WantedSize,
    *,
    own_ppi: tuple[float, float] | None = None,
    name: str = "picture",
) -> Size:
    """Pixels and resolution of the negative of a picture.

    Parameters
    ----------
    width_px, height_px : int
        Of the picture.
    wanted : WantedSize
        Without any length the pixels stay as they are, and the size follows.
    own_ppi : (float, float), optional
        Resolution stated in the picture's file, for a note. [pixels per inch]
    name : str
        Of the picture, for messages.

    Returns
    -------
    Size

    Raises
    ------
    InvalidValueError
        If width and height would stretch the picture, or leave less than a pixel.
    """
    width_mm = _width_mm(width_px, height_px, wanted)
    if width_mm is None:
        return Size(
            width_px=width_px,
            height_px=height_px,
            resolution_ppi=wanted.resolution_ppi,
            findings=_other_size(width_px, height_px, wanted, own_ppi, name),
        )
    width = _pixels(width_mm, wanted.resolution_ppi, name)
    height_mm = wanted.height_mm or width_mm * height_px / width_px
    height = _pixels(height_mm, wanted.resolution_ppi, name)
    return Size(
        width_px=width,
        height_px=height,
        resolution_ppi=wanted.resolution_ppi,
        findings=_coarse(width_px / width_mm * MM_PER_INCH, name),
    )


def _width_mm(width_px: int, height_px: int, wanted: WantedSize) -> float | None:
    shape = width_px / height_px
    if wanted.long_edge_mm is not None:
        return wanted.long_edge_mm * min(1.0, shape)
    if wanted.fit_mm is not None:
        short, long = sorted(wanted.fit_mm)
        across, down = (long, short) if shape > 1 else (short, long)
        return min(across, (down - wanted.below_mm) * shape)
    if wanted.width_mm is not None and wanted.height_mm is not None:
        stretch = wanted.width_mm / wanted.height_mm / shape
        if abs(stretch - 1) > STRETCH_LIMIT:
            raise InvalidValueError(
                f"{wanted.width_mm:g} x {wanted.height_mm:g} mm would stretch a "
                f"picture of {width_px} x {height_px} pixels by "
                f"{100 * abs(stretch - 1):.1f} %",
                where="size",
                fix="Give the width or the height alone, or crop the picture first.",
            )
    if wanted.width_mm is not None:
        return wanted.width_mm
    return None if wanted.height_mm is None else wanted.height_mm * shape


def _pixels(length_mm: float, resolution_ppi: float, name: str) -> int:
    pixels = round(length_mm / MM_PER_INCH * resolution_ppi)
    if not 1 <= pixels <= LARGEST_SIDE_PX:
        raise InvalidValueError(
            f"{length_mm:g} mm at {resolution_ppi:g} ppi is {pixels} pixels",
            where=name,
            fix=f"A side has 1 to {LARGEST_SIDE_PX} pixels; check the unit.",
        )
    return pixels


def _other_size(
    width_px: int,
    height_px: int,
    wanted: WantedSize,
    own_ppi: tuple[float, float] | None,
    name: str,
) -> tuple[Finding, ...]:
    """Say so when the file itself asks for another printed size."""
    if own_ppi is None or abs(own_ppi[0] / wanted.resolution_ppi - 1) < 0.001:
        return _coarse(wanted.resolution_ppi, name)
    own_width, own_height = width_px / own_ppi[0], height_px / own_ppi[1]
    return (
        Finding(
            severity="note",
            where=name,
            what=f"states {own_ppi[0]:g} ppi, which makes it {own_width:.2f} x "
            f"{own_height:.2f} in; its pixels are kept at {wanted.resolution_ppi:g} "
            f"ppi, {width_px / wanted.resolution_ppi:.2f} x "
            f"{height_px / wanted.resolution_ppi:.2f} in",
            fix=f"For its own size give --width {own_width:.2f}in.",
        ),
    )


def _coarse(picture_ppi: float, name: str) -> tuple[Finding, ...]:
    if picture_ppi >= COARSE_PPI:
        return ()
    return (
        Finding(
            severity="note",
            where=name,
            what=f"has {picture_ppi:.0f} pixels for each inch of the print, which may "
            "look soft",
            fix="Print it smaller, or scan it again with more pixels.",
        ),
    )
