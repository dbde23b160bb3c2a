"""Small pictures for the page, from arrays."""

import io

import numpy as np
import numpy.typing as npt
from PIL import Image

from negcurve.report.page import Picture

LONGEST_PX = 420
QUALITY = 78


def thumbnail(levels: npt.NDArray[np.float32], *, caption: str, text: str) -> Picture:
    """Make a small picture.

    Parameters
    ----------
    levels : array, shape (rows, columns, 1 or 3)
        0 black to 1 white, as shown on a screen.
    caption, text : str

    Returns
    -------
    Picture
        No side longer than 420 pixels.
    """
    codes = np.rint(255 * np.clip(levels, 0, 1)).astype(np.uint8)
    if codes.shape[2] == 1:
        codes = codes[:, :, 0]
    image = Image.fromarray(codes)
    image.thumbnail((LONGEST_PX, LONGEST_PX))
    held = io.BytesIO()
    image.save(held, format="JPEG", quality=QUALITY, optimize=True)
    return Picture(
        content=held.getvalue(),
        kind="jpeg",
        width=image.width,
        height=image.height,
        caption=caption,
        text=text,
    )
