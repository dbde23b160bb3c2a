"""Opening a picture or scan of any supported format, and how its codes stand for light.

The formats themselves are left to `tiff_picture`, `png_picture` and `jpeg_picture`.
"""

from pathlib import Path

import numpy as np

from negcurve.encoding import SRGB, SRGB_GREY, Encoding, grey_encoding, rgb_encoding
from negcurve.errors import FileError
from negcurve.files.block_io import BlockFile
from negcurve.files.icc import encoding_from_profile
from negcurve.files.jpeg_picture import open_jpeg
from negcurve.files.memory_picture import MemoryPicture
from negcurve.files.png_picture import SIGNATURE, open_png
from negcurve.files.safe import file_errors
from negcurve.files.tiff_picture import TiffPicture
from negcurve.values import Finding, ImageSource

OWN_KINDS = ("negcurve target", "negcurve negative", "negcurve proof")
"""How the image descriptions of our own files begin; none of them is a picture."""


def open_picture(path: Path | str) -> TiffPicture | MemoryPicture:
    """Open a picture; use it in a `with` block.

    Parameters
    ----------
    path : path
        TIFF, BigTIFF, PNG or JPEG, told by its content.

    Returns
    -------
    ImageSource
        Upright, grey or RGB, 0 is black. TIFF is read in pieces, the others whole.

    Raises
    ------
    FileError
        If the file is missing, damaged, or of a kind that is not read, with the cure.
    """
    with BlockFile(path) as file:
        head = file.read(0, min(16, file.size))
    if head[:4] in (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"):
        return TiffPicture(path)
    if head.startswith(SIGNATURE):
        return open_png(path)
    if head.startswith(b"\xff\xd8"):
        return open_jpeg(path)
    raise FileError(
        "is not a TIFF, PNG or JPEG file",
        where=str(path),
        fix="Save the picture or scan as TIFF, PNG or JPEG.",
    )


def own_kind(source: ImageSource) -> str:
    """Return which of our own files a picture is, empty for any other.

    Parameters
    ----------
    source : ImageSource
        An opened picture.

    Returns
    -------
    str
        One of `OWN_KINDS`, or empty.
    """
    return next((kind for kind in OWN_KINDS if source.description.startswith(kind)), "")


def read_profile(path: Path | str) -> bytes:
    """Read an ICC profile from a file, or the one embedded in a picture.

    Raises
    ------
    FileError
        If the file is neither.
    """
    with BlockFile(path) as file, file_errors(path):
        head = file.read(0, min(40, file.size))
        if head[36:40] == b"acsp":
            return file.read(0, file.size)
    try:
        with open_picture(path) as source:
            profile = source.profile
    except FileError:
        profile = None
    if profile is None:
        raise FileError(
            "is no ICC profile, nor a picture that carries one",
            where=str(path),
            fix="Name a file that ends in .icc or .icm.",
        )
    return profile


def is_untagged(source: ImageSource) -> bool:
    """Whether a picture says nothing about how its codes stand for light."""
    return source.profile is None


def encoding_of(
    source: ImageSource,
    *,
    profile: bytes | None = None,
    gamma: float | None = None,
) -> tuple[Encoding, tuple[Finding, ...]]:
    """Say how the codes of a picture stand for light.

    Parameters
    ----------
    source : ImageSource
        An opened picture.
    profile : bytes, optional
        ICC profile to use in place of an embedded one.
    gamma : float, optional
        Light = level^gamma, in place of any profile; 1 for linear scans.

    Returns
    -------
    encoding : Encoding
        With as many channels as the picture.
    findings : tuple of Finding
        That sRGB was assumed, where nothing was given or embedded.

    Raises
    ------
    FileError
        If the profile is damaged or for another number of channels.
    InvalidValueError
        If gamma is out of range.
    """
    if gamma is not None:
        make = grey_encoding if source.channels == 1 else rgb_encoding
        return make(gamma), ()
    used = profile if profile is not None else source.profile
    if used is None:
        return (SRGB_GREY if source.channels == 1 else SRGB), (_assumed(source),)
    where = source.name if profile is None else "profile"
    return encoding_from_profile(used, channels=source.channels, where=where), ()


def _assumed(source: ImageSource) -> Finding:
    """Say that sRGB is assumed: a usual thing for 8 bits, a doubtful one beyond."""
    doubtful = source.dtype == np.float32
    return Finding(
        severity="warning" if doubtful else "note",
        where=source.name,
        what="carries no ICC profile; sRGB is assumed",
        fix="Give --profile or --gamma if it is something else.",
    )
