"""What a picture file is and what its codes stand for, as every command asks it."""

from dataclasses import dataclass
from pathlib import Path

from negcurve.density import lightness_from_reflectance
from negcurve.encoding import Encoding, black_is_scaled, black_luminance
from negcurve.errors import FileError
from negcurve.files.pictures import encoding_of, own_kind, read_profile
from negcurve.negative.tones import weighted
from negcurve.values import Finding, ImageSource


@dataclass(frozen=True, kw_only=True)
class Seen:
    """How the user wants a picture to be seen; by default as its file says.

    Attributes
    ----------
    profile : path, optional
        ICC profile, instead of the one that the picture carries.
    gamma : float, optional
        Light = level^gamma, instead of a profile.
    weights : (float, float, float), optional
        Shares of red, green and blue light in the grey; luminance by default.
    scale_black : bool
        Take a profile's black above L* 1 as black.
    """

    profile: Path | str | None = None
    gamma: float | None = None
    weights: tuple[float, float, float] | None = None
    scale_black: bool = True


def refuse_own_files(source: ImageSource) -> None:
    """Refuse targets, negatives and proofs, which are no pictures.

    Raises
    ------
    FileError
        If the picture says that it is one.
    """
    kind = own_kind(source)
    if kind:
        raise FileError(
            f"is a {kind}, not a picture",
            where=source.name,
            fix="Give the picture itself. A target is printed as it is, or made "
            "again through a table with `negcurve target --table`.",
        )


def encoding_seen(
    source: ImageSource, seen: Seen
) -> tuple[Encoding, tuple[Finding, ...]]:
    """Say what the codes of a picture stand for.

    Parameters
    ----------
    source : ImageSource
        The picture.
    seen : Seen

    Returns
    -------
    Encoding
    tuple of Finding
        What was assumed.
    """
    profile = None if seen.profile is None else read_profile(seen.profile)
    encoding, found = encoding_of(source, profile=profile, gamma=seen.gamma)
    if seen.weights is not None:
        encoding = weighted(encoding, seen.weights)
    if not (seen.scale_black and black_is_scaled(encoding)):
        return encoding, found
    black = float(lightness_from_reflectance(black_luminance(encoding)))
    note = Finding(
        severity="note",
        where=source.name,
        what=f"has a profile whose black is L* {black:.1f}; it is taken as black",
        fix="With --keep-black it prints as the grey that it is.",
    )
    return encoding, (*found, note)
