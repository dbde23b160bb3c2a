"""Writing PNG: proofs, overlays, previews; reading is left to `png_picture`."""

from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from negcurve.errors import InvalidValueError
from negcurve.files.safe import new_file
from negcurve.values import CodeArray


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
        Kept under the keyword `Description`. Source: PNG, W3C 2003, 11.3.4.2.

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
    extra: dict[str, Any] = {}
    if resolution_ppi is not None:
        extra["dpi"] = (resolution_ppi,) * 2
    if description:
        extra["pnginfo"] = PngInfo()
        extra["pnginfo"].add_text("Description", description)
    with new_file(path, overwrite=overwrite) as part:
        Image.fromarray(np.ascontiguousarray(picture)).save(part, format="PNG", **extra)
