"""Reflectance, transmittance, density and lightness: the one place for conversions.

Reflectance and transmittance are factors, 0..1, and share their formulas. Lightness is
CIE 1976 L* of a neutral surface, from luminance factor Y alone.
"""

import numpy as np
import numpy.typing as npt

from negcurve.errors import InvalidValueError
from negcurve.values import FloatArray

CIE_EPSILON = 216 / 24389
"""Luminance factor at which L* turns from straight line to cube root.

Source: CIE 15:2004, section 8.2.1.1, as the exact ratio (6/29)^3.
"""

CIE_KAPPA = 24389 / 27
"""Slope of L* against luminance factor below `CIE_EPSILON`; (29/3)^3. Source: as above.
"""


def density_from_reflectance(reflectance: npt.ArrayLike) -> FloatArray:
    """Absolute density from a reflectance or transmittance factor.

    Parameters
    ----------
    reflectance : array, any shape
        Against the perfect diffuser or the incident light, above 0. [1]

    Returns
    -------
    array, same shape
        D = -log10 R. [D]

    Raises
    ------
    InvalidValueError
        If any reflectance is not above 0.

    Notes
    -----
    Source: ISO 5-1:2009 defines both densities so (from memory); table in
    Radiography in Modern Industry, p. 65.
    """
    factor = np.asarray(reflectance, dtype=np.float64)
    if not (factor > 0).all():
        raise InvalidValueError(
            "must be above 0 to have a density", where="reflectance"
        )
    return -np.log10(factor)


def reflectance_from_density(density: npt.ArrayLike) -> FloatArray:
    """Reflectance or transmittance factor from density: R = 10^-D.

    Parameters
    ----------
    density : array, any shape
        Absolute. [D]

    Returns
    -------
    array, same shape
        [1]
    """
    return np.power(10.0, -np.asarray(density, dtype=np.float64))


def lightness_from_reflectance(reflectance: npt.ArrayLike) -> FloatArray:
    """CIE 1976 lightness from luminance factor.

    Parameters
    ----------
    reflectance : array, any shape
        Luminance factor Y / Yn, 0 or more. [1]

    Returns
    -------
    array, same shape
        L*, 0..100 for factors 0..1.

    Raises
    ------
    InvalidValueError
        If any factor is below 0.

    Notes
    -----
    Source: CIE 15:2004, section 8.2.1.1: L* = 116 Y^(1/3) - 16 above epsilon, kappa Y
    below.
    """
    factor = np.asarray(reflectance, dtype=np.float64)
    if not (factor >= 0).all():
        raise InvalidValueError("must not be negative", where="reflectance")
    return np.where(
        factor > CIE_EPSILON, 116 * np.cbrt(factor) - 16, CIE_KAPPA * factor
    )


def reflectance_from_lightness(lightness: npt.ArrayLike) -> FloatArray:
    """Luminance factor from CIE 1976 lightness; inverse of the above.

    Parameters
    ----------
    lightness : array, any shape
        L*, 0 or more.

    Returns
    -------
    array, same shape
        [1]

    Raises
    ------
    InvalidValueError
        If any lightness is below 0.

    Notes
    -----
    Source: CIE 15:2004, section 8.2.1.1, solved for Y; the pieces meet at L* = 8.
    """
    value = np.asarray(lightness, dtype=np.float64)
    if not (value >= 0).all():
        raise InvalidValueError("must not be negative", where="lightness")
    return np.where(
        value > CIE_KAPPA * CIE_EPSILON, ((value + 16) / 116) ** 3, value / CIE_KAPPA
    )


def lightness_from_density(density: npt.ArrayLike) -> FloatArray:
    """CIE 1976 lightness of a neutral of the given luminance density.

    Parameters
    ----------
    density : array, any shape
        Absolute luminance density. [D]

    Returns
    -------
    array, same shape
        L*.
    """
    return lightness_from_reflectance(reflectance_from_density(density))


def density_from_lightness(lightness: npt.ArrayLike) -> FloatArray:
    """Luminance density of a neutral of the given lightness.

    Parameters
    ----------
    lightness : array, any shape
        L*, above 0.

    Returns
    -------
    array, same shape
        [D]

    Raises
    ------
    InvalidValueError
        If any lightness is not above 0.
    """
    return density_from_reflectance(reflectance_from_lightness(lightness))


def lightness_slope(density: npt.ArrayLike) -> FloatArray:
    """Change of L* for a change of density, dL*/dD; negative everywhere.

    Parameters
    ----------
    density : array, any shape
        Absolute luminance density. [D]

    Returns
    -------
    array, same shape
        [L*/D]

    Notes
    -----
    Derivative of the CIE formula with Y = 10^-D.
    """
    factor = reflectance_from_density(density)
    by_factor = np.where(
        factor > CIE_EPSILON, 116 / 3 * np.cbrt(factor), CIE_KAPPA * factor
    )
    return np.asarray(-np.log(10.0) * by_factor)
