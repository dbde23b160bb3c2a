"""From an ICC profile to an encoding: what light its levels stand for.

Grey and matrix profiles are worked out here, exactly; profiles with tables of
several dimensions go through LittleCMS. Source of all layouts: ICC.1:2010 (ISO
15076-1), clause numbers from memory.
"""

import struct
from dataclasses import dataclass
from itertools import pairwise

import imagecodecs
import numpy as np

from negcurve.density import reflectance_from_lightness
from negcurve.encoding import CurveEncoding, Encoding, TransferCurve
from negcurve.errors import FileError
from negcurve.files.icc_curves import CurveDamagedError, parse_curve
from negcurve.values import FloatArray

MOST_TAGS = 500

_SPACES = {1: b"GRAY", 3: b"RGB "}
_RELATIVE_COLORIMETRIC = 1


@dataclass(frozen=True, eq=False, kw_only=True)
class TableEncoding:
    """A profile with tables of several dimensions, seen through LittleCMS in float.

    Attributes
    ----------
    name : str
        For messages.
    channels : int
        1 or 3.
    profile : bytes
        ICC profile.
    """

    name: str
    channels: int
    profile: bytes

    def luminance(self, level: FloatArray) -> FloatArray:
        """D50 luminance factor of levels, relative colorimetric.

        Parameters
        ----------
        level : array, shape (..., channels)
            Clipped to 0..1. An RGB encoding also takes shape (..., 1): equal channels.

        Returns
        -------
        array, shape (...)
            [1]
        """
        given = np.clip(np.asarray(level, dtype=np.float64), 0.0, 1.0)
        shape = (*given.shape[:-1], self.channels)
        pixels = np.ascontiguousarray(np.broadcast_to(given, shape))
        found = imagecodecs.cms_transform(
            pixels.reshape((1, -1, 3) if self.channels == 3 else (1, -1)),
            self.profile,
            imagecodecs.cms_profile("xyz"),
            colorspace="rgb" if self.channels == 3 else "gray",
            outcolorspace="xyz",
            outdtype=np.float64,
            intent=_RELATIVE_COLORIMETRIC,
        )
        return np.clip(found.reshape(-1, 3)[:, 1].reshape(shape[:-1]), 0.0, None)


def encoding_from_profile(
    profile: bytes, *, channels: int, where: str = "profile"
) -> Encoding:
    """Turn an ICC profile into an encoding.

    Parameters
    ----------
    profile : bytes
        The whole profile.
    channels : int
        1 or 3, of the picture that it is for. A grey picture may carry an RGB profile.
    where : str
        File, for messages.

    Returns
    -------
    Encoding
        Media-relative, relative colorimetric.

    Raises
    ------
    FileError
        If the profile is damaged, or is for another number of channels.
    """
    try:
        return _encoding(profile, channels=channels, where=where)
    except (struct.error, CurveDamagedError, IndexError) as error:
        raise damaged(where, str(error)) from error


def damaged(where: str, what: str) -> FileError:
    """Say that a profile cannot be used."""
    return FileError(
        f"the ICC profile is damaged: {what}",
        where=where,
        fix="Name the right profile with --profile, or the gamma with --gamma.",
    )


def _encoding(profile: bytes, *, channels: int, where: str) -> Encoding:
    tags = profile_tags(profile)
    space, connection = profile[16:20], profile[20:24]
    if channels == 1 and space == b"RGB ":
        return _greys_of(_encoding(profile, channels=3, where=where))
    if space != _SPACES[channels]:
        kinds = {b"GRAY": "grey", b"RGB ": "RGB", b"CMYK": "CMYK"}
        raise FileError(
            f"the ICC profile is for {kinds.get(space, repr(space))}, the picture is "
            f"{kinds[_SPACES[channels]]}",
            where=where,
            fix="Name a profile for it with --profile, or the gamma with --gamma.",
        )
    if profile[12:16] in (b"link", b"nmcl"):
        raise FileError(
            "the ICC profile is a link or a colour list, not a picture's profile",
            where=where,
            fix="Name the scanner's or the picture's own profile.",
        )
    name = _description(tags.get(b"desc", b"")) or "unnamed profile"
    if b"A2B1" in tags or b"A2B0" in tags:
        return _table_encoding(profile, name, channels, where)
    if channels == 1:
        return _grey_encoding(tags, name, in_lightness=connection == b"Lab ")
    return _matrix_encoding(tags, name)


def _greys_of(encoding: Encoding) -> CurveEncoding:
    """Read a grey picture that carries an RGB profile: its channels are equal."""

    def curve(level: FloatArray) -> FloatArray:
        return encoding.luminance(np.asarray(level)[..., np.newaxis])

    return CurveEncoding(name=encoding.name, curves=(curve,))


def profile_tags(profile: bytes) -> dict[bytes, bytes]:
    """Split a profile into its tags; clauses 7.2 and 7.3.

    Raises
    ------
    CurveDamagedError
        If the profile is cut off or is none.
    """
    if len(profile) < 132 or profile[36:40] != b"acsp":
        raise CurveDamagedError("it does not begin like a profile")
    (size,) = struct.unpack(">I", profile[:4])
    (count,) = struct.unpack(">I", profile[128:132])
    if size > len(profile) or count > MOST_TAGS or 132 + 12 * count > len(profile):
        raise CurveDamagedError("it is cut off")
    tags = {}
    for place in range(count):
        name, start, length = struct.unpack_from(">4sII", profile, 132 + 12 * place)
        if start + length > len(profile):
            raise CurveDamagedError(f"tag {name.decode('ascii', 'replace')} is cut off")
        tags[name] = profile[start : start + length]
    return tags


def _tag(tags: dict[bytes, bytes], name: bytes) -> bytes:
    if name not in tags:
        raise CurveDamagedError(f"it has no tag {name.decode('ascii')}")
    return tags[name]


def _grey_encoding(
    tags: dict[bytes, bytes], name: str, *, in_lightness: bool
) -> CurveEncoding:
    """Build a grey encoding; clause 8.3.4: the curve gives Y, or L* in Lab space."""
    curve = _rising(parse_curve(_tag(tags, b"kTRC")), "kTRC")
    if not in_lightness:
        return CurveEncoding(name=name, curves=(curve,))

    def from_lightness(level: FloatArray) -> FloatArray:
        return reflectance_from_lightness(100 * curve(level))

    return CurveEncoding(name=name, curves=(from_lightness,))


def _matrix_encoding(tags: dict[bytes, bytes], name: str) -> CurveEncoding:
    """Build a matrix encoding; annex F.3, of which only the row of Y is needed."""
    parts = [_xyz(_tag(tags, each))[1] for each in (b"rXYZ", b"gXYZ", b"bXYZ")]
    total = sum(parts)
    if not 0.9 < total < 1.1:
        raise CurveDamagedError(f"its primaries add up to Y = {total:.3f}, not 1")
    red, green, blue = (
        _rising(parse_curve(_tag(tags, each)), each.decode("ascii"))
        for each in (b"rTRC", b"gTRC", b"bTRC")
    )
    # White is 1 by definition; the primaries are stored with 16 bits of fraction.
    weights = tuple(part / total for part in parts)
    return CurveEncoding(name=name, curves=(red, green, blue), weights=weights)


def _xyz(tag: bytes) -> tuple[float, float, float]:
    kind, x, y, z = struct.unpack_from(">4s4x3i", tag)
    if kind != b"XYZ ":
        raise CurveDamagedError("a primary is not of type XYZ")
    return x / 65536, y / 65536, z / 65536


def _rising(curve: TransferCurve, name: str) -> TransferCurve:
    light = curve(np.linspace(0, 1, 1025))
    if not np.isfinite(light).all() or light[-1] <= light[0]:
        raise CurveDamagedError(f"curve {name} does not rise from black to white")
    return curve


def _table_encoding(
    profile: bytes, name: str, channels: int, where: str
) -> TableEncoding:
    encoding = TableEncoding(name=name, channels=channels, profile=profile)
    steps = np.repeat(np.linspace(0, 1, 9)[:, np.newaxis], channels, axis=1)
    try:
        light = encoding.luminance(steps)
    except Exception as error:  # the library's own classes of error
        raise damaged(where, "its tables cannot be used") from error
    if any(after < before - 1e-3 for before, after in pairwise(light)):
        raise damaged(where, "its greys do not rise from black to white")
    return encoding


def _description(tag: bytes) -> str:
    """Return the text of a description; clauses 10.13 (v4), ICC.1:2001 6.5.17 (v2)."""
    if tag[:4] == b"desc":
        (length,) = struct.unpack_from(">I", tag, 8)
        return tag[12 : 12 + length].split(b"\0")[0].decode("latin-1").strip()
    if tag[:4] == b"mluc" and len(tag) >= 28:
        length, start = struct.unpack_from(">II", tag, 20)
        return tag[start : start + length].decode("utf-16-be", "replace").strip()
    return ""
