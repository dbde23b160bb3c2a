"""What a scanner's software does to a picture unasked: levels, contrast, sharpening.

Works on levels, as such software does; the file's encoding comes before it, its bits
after it.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy import ndimage

from negcurve.errors import InvalidValueError
from negcurve.simulation.fields import Image


@dataclass(frozen=True, kw_only=True)
class ScanSoftware:
    """Corrections that should have been off.

    Attributes
    ----------
    auto_levels : {"off", "picture", "channels"}
        Stretch of the levels to 0..1 between two percentiles: the same for all
        channels, or for each its own.
    black_percent, white_percent : float
        Share of the picture that is clipped at each end. [%]
    contrast : float
        Steepness of a logistic S-curve over the levels; 0 for none. At 4 the slope in
        the middle is 1.3. [1]
    sharpening : float
        Share of the difference from a blurred picture that is added. [1]
    sharpening_px : float
        Standard deviation of that blur. [px]
    """

    auto_levels: Literal["off", "picture", "channels"] = "off"
    black_percent: float = 0.1
    white_percent: float = 0.1
    contrast: float = 0.0
    sharpening: float = 0.0
    sharpening_px: float = 1.2

    def __post_init__(self) -> None:
        if min(self.contrast, self.sharpening) < 0:
            raise InvalidValueError("must be 0 or more", where="contrast, sharpening")

    def applied(self, levels: Image) -> Image:
        """Return what the software makes of a picture.

        Parameters
        ----------
        levels : array, shape (rows, columns, channels)
            0..1.

        Returns
        -------
        array, same shape
            0..1.
        """
        picture = np.asarray(levels, dtype=np.float32).copy()
        self._stretch(picture)
        if self.contrast:
            picture = _s_curve(picture, self.contrast)
        if self.sharpening:
            blur = (self.sharpening_px, self.sharpening_px, 0)
            soft = ndimage.gaussian_filter(picture, blur, mode="nearest")
            picture += np.float32(self.sharpening) * (picture - soft)
        return np.clip(picture, 0, 1, out=picture)

    def _stretch(self, picture: Image) -> None:
        if self.auto_levels == "off":
            return
        # Software looks at a preview, not at every pixel.
        preview = picture[::4, ::4].reshape(-1, picture.shape[2])
        ends = self.black_percent, 100 - self.white_percent
        axis = 0 if self.auto_levels == "channels" else None
        low, high = np.percentile(preview, ends, axis=axis).astype(np.float32)
        picture -= low
        picture /= np.maximum(high - low, np.float32(1e-3))
        np.clip(picture, 0, 1, out=picture)


def _s_curve(level: Image, steepness: float) -> Image:
    """Logistic curve through 0 and 1, steepest in the middle."""
    half = np.tanh(steepness / 4)
    bent = np.tanh(np.float32(steepness / 2) * (level - np.float32(0.5)))
    return np.asarray(0.5 + 0.5 * bent / half, dtype=np.float32)
