"""What stored samples mean as codes: alpha, palettes, floating-point levels."""

import threading

import numpy as np

from negcurve.errors import FileError
from negcurve.values import CodeArray, Finding

FLOAT_RANGE = (-0.5, 1.5)
"""Levels a little outside 0..1 are clipped; beyond, the file means something else."""


def on_white(colours: CodeArray, alpha: CodeArray, *, premultiplied: bool) -> CodeArray:
    """Lay a picture with transparent parts on white.

    Parameters
    ----------
    colours : array, shape (rows, columns, channels)
        Codes or levels.
    alpha : array, shape (rows, columns)
        Same type; the largest code is opaque.
    premultiplied : bool
        Whether the colours were multiplied by alpha already.

    Returns
    -------
    array, as colours
        Mixed in codes, as image editors do; opaque parts keep their codes.
    """
    if colours.dtype.kind == "f":
        share = alpha[..., np.newaxis]
        laid = colours if premultiplied else colours * share
        light: CodeArray = np.clip(laid + (1 - share), 0, 1)
        return light.astype(colours.dtype)
    # Whole numbers, rounded to the nearest; 32 bits hold the square of 16. The largest
    # code is odd, so nothing lies half-way.
    largest = np.uint32(np.iinfo(colours.dtype).max)
    opaque = alpha.astype(np.uint32)[..., np.newaxis]
    clear = largest - opaque
    mixed: CodeArray
    if premultiplied:
        mixed = np.minimum(colours + clear, largest)
    else:
        mixed = (colours * opaque + largest * clear + largest // 2) // largest
    return mixed.astype(colours.dtype)


def palette_codes(
    palette: np.ndarray[tuple[int, ...], np.dtype[np.uint16]],
) -> CodeArray:
    """Return the codes of a palette of 16-bit colours.

    Parameters
    ----------
    palette : array of uint16, shape (n, 3)
        As stored in a TIFF. Some writers leave 8-bit colours in it.

    Returns
    -------
    array of uint8 or uint16, shape (n, 1) or (n, 3)
        One channel where every colour is grey; 8 bits where that loses nothing.
    """
    codes: CodeArray = palette
    if palette.max() < 256:
        codes = palette.astype(np.uint8)
    elif (palette == (palette >> 8) * 257).all() or (palette & 255 == 0).all():
        codes = (palette >> 8).astype(np.uint8)
    grey = (codes == codes[:, :1]).all()
    return codes[:, :1] if grey else codes


class FloatLevels:
    """Checks floating-point levels and remembers what had to be clipped."""

    def __init__(self, name: str) -> None:
        self._name = name
        self._lock = threading.Lock()
        self.findings: tuple[Finding, ...] = ()

    def checked(self, samples: CodeArray) -> CodeArray:
        """Return float32 levels within 0..1.

        Parameters
        ----------
        samples : array of float, any shape

        Returns
        -------
        array of float32, same shape

        Raises
        ------
        FileError
            If samples are no numbers, or far outside 0..1.
        """
        if samples.size == 0:
            return samples.astype(np.float32)
        low, high = float(samples.min()), float(samples.max())
        if not (np.isfinite(low) and np.isfinite(high)):
            raise FileError(
                "holds samples that are no numbers (NaN or infinite)",
                where=self._name,
                fix="Save it with 16 bits.",
            )
        if low < FLOAT_RANGE[0] or high > FLOAT_RANGE[1]:
            raise FileError(
                f"holds floating-point samples from {low:g} to {high:g}, not 0..1",
                where=self._name,
                fix="Save it with 16 bits.",
            )
        if low < 0 or high > 1:
            self._note_clipping()
            samples = np.clip(samples, 0, 1)
        return samples.astype(np.float32)

    def _note_clipping(self) -> None:
        with self._lock:
            self.findings = (
                Finding(
                    severity="note",
                    where=self._name,
                    what="floating-point samples outside 0..1 are clipped",
                ),
            )
