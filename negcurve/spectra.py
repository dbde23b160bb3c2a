"""Reflectance spectra of prints to luminance density and ISO 5-3 visual density.

Knows the weights of both at 10 nm; single numbers are left to `negcurve.density`.
"""

from typing import Literal

import numpy as np
import numpy.typing as npt
from scipy.interpolate import CubicSpline

from negcurve.density import density_from_reflectance
from negcurve.errors import InvalidValueError
from negcurve.values import FloatArray

SpectralKind = Literal["luminance", "visual"]

WAVELENGTHS_NM = np.arange(380.0, 731.0, 10.0)
"""Where spectra are weighted. [nm]"""

NEEDED_NM = (400.0, 700.0)
"""What a spectrum must cover; beyond its ends the end values are taken.

The weights left out are below 0.03 % of the sum at either end. ASTM E308 adds the
weights of missing wavelengths to the nearest one measured, which is the same.
"""

WIDEST_STEP_NM = 20.0
"""Step up to which ASTM E308 computes from a spectrum. [nm]"""

# fmt: off
STANDARD_OBSERVER = (
    0.000039, 0.00012, 0.000396, 0.00121, 0.004, 0.0116, 0.023, 0.038, 0.06, 0.09098,
    0.13902, 0.20802, 0.323, 0.503, 0.71, 0.862, 0.954, 0.99495, 0.995, 0.952, 0.87,
    0.757, 0.631, 0.503, 0.381, 0.265, 0.175, 0.107, 0.061, 0.032, 0.017, 0.00821,
    0.004102, 0.002091, 0.001047, 0.00052, 0.000249, 0.00012,
)
"""y of the CIE 1931 2 degree observer, 380..750 nm. Source: CIE 15:2004, table T.4
(ISO 11664-1)."""

ILLUMINANT_D50 = (
    24.49, 29.87, 49.31, 56.51, 60.03, 57.82, 74.83, 87.25, 90.61, 91.37, 95.11, 91.96,
    95.72, 96.61, 97.13, 102.1, 100.75, 102.32, 100.0, 97.73, 98.92, 93.5, 97.69, 99.27,
    99.04, 95.72, 98.86, 95.67, 98.19, 103.0, 99.13, 87.38, 91.6, 92.89, 76.85, 86.51,
    92.58, 78.23,
)
"""Relative power of CIE D50, 380..750 nm. Source: CIE 15:2004, table T.1."""

VISUAL_LOG10 = (
    1.322, 1.914, 2.447, 2.811, 3.090, 3.346, 3.582, 3.818, 4.041, 4.276, 4.513, 4.702,
    4.825, 4.905, 4.957, 4.989, 5.000, 4.989, 4.956, 4.902, 4.827, 4.731, 4.593, 4.433,
    4.238, 4.013, 3.749, 3.490, 3.188, 2.901, 2.622, 2.334, 2.041, 1.732, 1.431, 1.146,
)
"""log10 of the visual spectral products, 410..760 nm, peak 5.

Source: ISO 5-3:1995, table 2 (second-hand transcription). Products, not the weights of
the 2009 edition: densities differ by up to 0.0002 D on the spectra tested.
"""
# fmt: on


def spectral_density(
    wavelength_nm: npt.ArrayLike, reflectance: npt.ArrayLike, kind: SpectralKind
) -> FloatArray:
    """Density of prints from their reflectance spectra.

    Parameters
    ----------
    wavelength_nm : array, shape (m,)
        Rising, from 400 nm or less to 700 nm or more, in steps of 20 nm at most. [nm]
    reflectance : array, shape (n, m)
        Reflectance factors. [1]
    kind : {"luminance", "visual"}
        -log10 Y (D50, 2 degrees), or ISO 5-3 visual density.

    Returns
    -------
    array, shape (n,)
        [D]

    Raises
    ------
    InvalidValueError
        If the wavelengths do not reach far or close enough, or a weighted reflectance
        is not above 0.

    Notes
    -----
    Weighted ordinates at 10 nm. Source: ASTM E308 (CIE 15:2004, section 7); ISO 5-3.
    """
    wavelength = np.asarray(wavelength_nm, dtype=np.float64)
    _check_wavelengths(wavelength)
    even = _at_ten_nm(wavelength, np.asarray(reflectance, dtype=np.float64))
    return density_from_reflectance(even @ weights(kind))


def weights(kind: SpectralKind) -> FloatArray:
    """Return the weights of a kind of density at `WAVELENGTHS_NM`; their sum is 1."""
    if kind == "luminance":
        start, products = 380, np.multiply(STANDARD_OBSERVER, ILLUMINANT_D50)
    else:
        start, products = 410, np.power(10.0, VISUAL_LOG10)
    at = start + 10 * np.arange(len(products))
    place = np.clip(at, WAVELENGTHS_NM[0], WAVELENGTHS_NM[-1]) - WAVELENGTHS_NM[0]
    summed = np.bincount(
        (place / 10).astype(int), weights=products, minlength=len(WAVELENGTHS_NM)
    )
    return np.asarray(summed / summed.sum())


def _check_wavelengths(wavelength: FloatArray) -> None:
    step = np.diff(wavelength)
    if len(wavelength) < 2 or not (step > 0).all():
        raise InvalidValueError("must rise", where="wavelengths")
    low, high = NEEDED_NM
    if wavelength[0] > low or wavelength[-1] < high:
        raise InvalidValueError(
            f"reach from {wavelength[0]:g} to {wavelength[-1]:g} nm; {low:g} to "
            f"{high:g} nm are needed",
            where="wavelengths",
            fix="Export the whole visible spectrum, 380 to 730 nm.",
        )
    if step.max() > WIDEST_STEP_NM:
        raise InvalidValueError(
            f"leave a gap of {step.max():g} nm, {WIDEST_STEP_NM:g} are the most",
            where="wavelengths",
            fix="Export the spectrum in steps of 10 nm.",
        )


def _at_ten_nm(wavelength: FloatArray, reflectance: FloatArray) -> FloatArray:
    """Bring spectra to `WAVELENGTHS_NM`, shape (n, 36)."""
    inside = np.clip(WAVELENGTHS_NM, wavelength[0], wavelength[-1])
    known = np.isin(inside, wavelength).all()
    if np.diff(wavelength).max() > 10 and not known:
        return np.asarray(CubicSpline(wavelength, reflectance, axis=1)(inside))
    even = [np.interp(inside, wavelength, each) for each in reflectance]
    return np.reshape(even, (len(reflectance), len(inside)))
