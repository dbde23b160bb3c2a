"""Writing PNG: proofs, overlays, previews; reading is left to `png_picture`."""

import struct
import zlib
from pathlib import Path

import imagecodecs
import numpy as np

from negcurve.errors import InvalidValueError
from negcurve.files.safe import new_file
from negcurve.values import CodeArray

_HEADER_BYTES = 8 + 25
"""Signature and IHDR chunk, which every PNG begins with."""

_INCHES_PER_METRE = 1 / 0.0254


def write_png(
    path: Path | str,
    array: CodeArray,
    *,
    overwrite: bool = False,
    resolution_ppi: float | None = None,
    description: str = "",
) -> None:
    """Write an 8-bit grey or RGB picture.

    Parameters
    ----------
    path : path
        Where the file is to stand.
    array : array of uint8, shape (rows, columns), (rows, columns, 1) or (..., 3)
        Codes.
    overwrite : bool
        Whether a file that stands there may be replaced.
    resolution_ppi : float, optional
        Kept as whole pixels per metre, as PNG does. [pixels per inch]
    description : str
        Kept under the keyword `Description`. Source: PNG, W3C 2003, 11.3.4.3; where
        it is more than Latin-1, 11.3.4.5.

    Raises
    ------
    InvalidValueError
        If the array is not such a picture.
    FileError
        If the file cannot be written.
    """
    picture = np.asarray(array)
    if picture.ndim == 3 and picture.shape[2] == 1:
        picture = picture[..., 0]
    wanted = picture.ndim == 2 or (picture.ndim == 3 and picture.shape[2] == 3)
    if picture.dtype != np.uint8 or not wanted or picture.size == 0:
        raise InvalidValueError(
            f"has type {picture.dtype} and shape {np.shape(array)}",
            where="array",
            fix="A PNG takes uint8, shape (rows, columns) or (rows, columns, 3).",
        )
    packed = imagecodecs.png_encode(np.ascontiguousarray(picture))
    with new_file(path, overwrite=overwrite) as part, part.open("wb") as file:
        file.write(packed[:_HEADER_BYTES])
        if resolution_ppi is not None:
            per_metre = round(resolution_ppi * _INCHES_PER_METRE)
            file.write(_chunk(b"pHYs", struct.pack(">IIB", per_metre, per_metre, 1)))
        if description:
            file.write(_text(description))
        file.write(packed[_HEADER_BYTES:])


def _text(description: str) -> bytes:
    """Pack a description, Latin-1 where that can hold it."""
    try:
        content = description.encode("latin-1")
    except UnicodeEncodeError:
        head = b"Description\0" + bytes(4)  # not compressed, no language named
        return _chunk(b"iTXt", head + description.encode("utf-8"))
    return _chunk(b"tEXt", b"Description\0" + content)


def _chunk(kind: bytes, content: bytes) -> bytes:
    """Pack a chunk. Source: PNG, W3C 2003, 5.3."""
    check = zlib.crc32(kind + content)
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", check)
