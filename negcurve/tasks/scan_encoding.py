"""How the codes of a scan stand for light; asked for where that cannot be known."""

from pathlib import Path

import numpy as np

from negcurve.encoding import Encoding
from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.files.pictures import encoding_of, is_untagged, read_profile
from negcurve.values import Finding, ImageSource


def scan_encoding(
    source: ImageSource, *, profile: Path | str | None, gamma: float | None
) -> tuple[Encoding, tuple[Finding, ...]]:
    """Say how a scan is encoded.

    Parameters
    ----------
    source : ImageSource
        An opened scan.
    profile : path or None
        ICC profile of the scanner, in place of an embedded one.
    gamma : float or None
        In place of any profile; 1 for linear scans.

    Returns
    -------
    encoding : Encoding
    findings : tuple of Finding
        What was assumed.

    Raises
    ------
    InvalidValueError
        If both options are given.
    ReadingsError
        If a scan of more than 8 bits says nothing and no option does: many are linear,
        and read as sRGB a density of 0.5 would become 1.09.
    """
    if profile is not None and gamma is not None:
        raise InvalidValueError(
            "a profile and a gamma were both given",
            where="--gamma",
            fix="Give the one that belongs to the scan: either says all of it.",
        )
    told = profile is not None or gamma is not None
    if is_untagged(source) and not told and source.dtype != np.uint8:
        raise ReadingsError(
            f"this scan has {8 * source.dtype.itemsize} bits and no profile, so its "
            "levels may be linear or not",
            where=source.name,
            fix="Give --gamma 1.0 for a linear (raw) scan, --gamma 2.2 or the "
            "scanner's --profile FILE.icc otherwise; or save scans with a profile.",
        )
    known = None if profile is None else read_profile(profile)
    return encoding_of(source, profile=known, gamma=gamma)
