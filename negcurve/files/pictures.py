"""Opening a picture or scan of any supported format as an `ImageSource`."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Self

import imagecodecs
import numpy as np
import tifffile
from PIL import Image

from negcurve.encoding import SRGB, SRGB_GREY, Encoding, grey_encoding, rgb_encoding
from negcurve.errors import FileError
from negcurve.values import CodeArray, Finding, ImageSource


@dataclass(eq=False, kw_only=True)
class ArraySource:
    """A picture held in memory."""

    name: str
    array: CodeArray
    resolution_ppi: tuple[float, float] | None = None
    profile: bytes | None = None
    description: str = ""
    findings: tuple[Finding, ...] = ()

    @property
    def height(self) -> int:
        """Rows."""
        return int(self.array.shape[0])

    @property
    def width(self) -> int:
        """Columns."""
        return int(self.array.shape[1])

    @property
    def channels(self) -> int:
        """1 or 3."""
        return int(self.array.shape[2])

    @property
    def dtype(self) -> np.dtype[Any]:
        """Type of the samples."""
        return self.array.dtype

    def rows(self, start: int, stop: int) -> CodeArray:
        """Return whole rows start..stop-1."""
        return self.array[start:stop]

    def window(self, top: int, left: int, height: int, width: int) -> CodeArray:
        """Return a rectangle that lies inside the picture."""
        return self.array[top : top + height, left : left + width]

    def close(self) -> None:
        """Let go of the picture."""

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def open_picture(path: Path | str) -> ArraySource:
    """Open a TIFF, PNG or JPEG."""
    file = Path(path)
    if not file.is_file():
        raise FileError("does not exist", where=str(file), fix="Check the name.")
    head = file.read_bytes()[:8]
    if head[:2] in (b"II", b"MM"):
        return _open_tiff(file)
    if head == b"\x89PNG\r\n\x1a\n":
        array = imagecodecs.png_decode(file.read_bytes())
    elif head[:2] == b"\xff\xd8":
        array = imagecodecs.jpeg_decode(file.read_bytes())
    else:
        raise FileError("is not a TIFF, PNG or JPEG file", where=str(file))
    with Image.open(file) as image:
        info = image.info
        dpi = info.get("dpi")
        resolution = (float(dpi[0]), float(dpi[1])) if dpi else None
    return ArraySource(
        name=file.name,
        array=array.reshape(array.shape[0], array.shape[1], -1)[..., :3],
        resolution_ppi=resolution,
        profile=info.get("icc_profile"),
    )


def _open_tiff(file: Path) -> ArraySource:
    with tifffile.TiffFile(file) as opened:
        page = opened.pages[0]
        array = page.asarray()
        resolution = None
        if page.tags.get(296) and page.resolutionunit == 2:
            resolution = page.get_resolution("inch")
        return ArraySource(
            name=file.name,
            array=array.reshape(array.shape[0], array.shape[1], -1)[..., :3],
            resolution_ppi=resolution,
            profile=page.iccprofile,
            description=page.description,
        )


def encoding_of(
    source: ImageSource, *, profile: bytes | None = None, gamma: float | None = None
) -> tuple[Encoding, tuple[Finding, ...]]:
    """Say how the codes of a picture stand for light."""
    if gamma is not None:
        make = grey_encoding if source.channels == 1 else rgb_encoding
        return make(gamma), ()
    note = Finding(
        severity="note",
        where=source.name,
        what="carries no profile; sRGB is assumed",
        fix="Give --profile or --gamma if it is not.",
    )
    return (SRGB_GREY if source.channels == 1 else SRGB), (note,)
