"""The ends of the tonal scale: how black, how white, and why.

Knows DESIGN's rule for the ends; what lies between them is the aim's.
"""

from dataclasses import dataclass

from negcurve.density import lightness_from_density
from negcurve.errors import InvalidValueError


@dataclass(frozen=True, kw_only=True)
class Ends:
    """Where the tonal scale of the print begins and ends.

    Attributes
    ----------
    d_min, d_max : float
        Lightest and darkest that the response reaches. [D]
    black_density : float
        Density given to image tone 0. [D]
    white_density : float
        Density given to image tone 1. [D]
    black_share : float
        Share of the density range d_min..d_max that was asked for. [1]
    black_level, white_level : float
        Negative levels of the two. [1]
    black_reached : bool
        False where density still rises at the clear end: d_max is then only what
        this exposure reached.
    """

    d_min: float
    d_max: float
    black_density: float
    white_density: float
    black_share: float
    black_level: float
    white_level: float
    black_reached: bool = True

    def __post_init__(self) -> None:
        if not self.d_min <= self.white_density < self.black_density <= self.d_max:
            raise InvalidValueError(
                f"D {self.d_min:.3f} <= {self.white_density:.3f} < "
                f"{self.black_density:.3f} <= {self.d_max:.3f} does not hold",
                where="ends",
            )

    @property
    def black_lightness(self) -> float:
        """L* of image tone 0."""
        return float(lightness_from_density(self.black_density))

    @property
    def white_lightness(self) -> float:
        """L* of image tone 1."""
        return float(lightness_from_density(self.white_density))
