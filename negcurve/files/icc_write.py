"""ICC profiles that carry a table: device links and grey profiles.

Knows the layout of both alone; their samples come from `negcurve.negative.exporting`,
their tables from `icc_lut`. Source of all layouts: ICC.1:2010 (ISO 15076-1), clause
numbers from memory.
"""

import hashlib
import struct
from dataclasses import dataclass
from datetime import UTC, datetime

import numpy as np

from negcurve.encoding import D50_XYZ
from negcurve.files.icc_lut import (
    LARGEST,
    Lut16,
    codes_of,
    curves_tag,
    sampled_curve,
)
from negcurve.values import FloatArray

COPYRIGHT = "No copyright; use freely"

LAB_FULL = 100 * LARGEST / 65280
"""L* of the largest code: in a lut16Type L* 100 is code 65280, in version 4 as well.
Source: ICC.1:2010, 10.10, and 6.3.4.2, legacy 16-bit PCSLAB."""

LAB_NEUTRAL = 32768
"""Code of a* and b* 0. Source: as above."""

RELATIVE_COLORIMETRIC = 1

_VERSION = 0x04300000


@dataclass(frozen=True, kw_only=True)
class _Header:
    """What of the header differs; ICC.1:2010, 7.2."""

    kind: bytes
    space: bytes
    connection: bytes


def link_profile(
    samples: FloatArray, *, description: str, sequence: tuple[str, str]
) -> bytes:
    """Return a device link from the picture's levels to the negative's, version 4.3.

    Parameters
    ----------
    samples : array, shape (n, 1) or (n, 3)
        Levels of the negative, 0..1, at even steps of the picture's level; n up to
        `icc_lut.MOST_ENTRIES`. One column links grey to grey, three link RGB to RGB,
        where the picture's channels are equal.
    description : str
    sequence : (str, str)
        What is linked: the picture's encoding and the negative.

    Returns
    -------
    bytes

    Notes
    -----
    The link holds curves and nothing else. LittleCMS joins curves as they are, but
    resamples a link with a grid to some 33 points and then sets its white to the white
    of the output, which is clear film: white in the picture would print black.
    """
    space = b"RGB " if samples.shape[1] == 3 else b"GRAY"
    tags = {
        b"desc": _unicode(description),
        b"cprt": _unicode(COPYRIGHT),
        b"pseq": _sequence(sequence),
        b"A2B0": curves_tag(samples),
    }
    return _profile(_Header(kind=b"link", space=space, connection=space), tags)


def grey_profile(
    device_level: FloatArray, lightness: FloatArray, *, description: str
) -> bytes:
    """Return a grey output profile, version 4.3, in relation to L*.

    Parameters
    ----------
    device_level : array, shape (n,)
        Level of the file at even steps of L* from 0 to `LAB_FULL`; level 0 is black,
        as a grey profile has it. [1]
    lightness : array, shape (m,)
        L* of the picture at even steps of the file's level. [L*]
    description : str

    Returns
    -------
    bytes

    Notes
    -----
    The tables say what the curve cannot: which of the levels that show white, or
    black, to use. The curve is for readers that pass over them.
    """
    to_device, to_lightness = _to_device(device_level), _to_lightness(lightness)
    tags = {
        b"desc": _unicode(description),
        b"cprt": _unicode(COPYRIGHT),
        b"wtpt": _xyz(D50_XYZ),
        b"A2B0": to_lightness,
        b"A2B1": to_lightness,
        b"B2A0": to_device,
        b"B2A1": to_device,
        b"kTRC": sampled_curve(lightness / 100),
    }
    header = _Header(kind=b"prtr", space=b"GRAY", connection=b"Lab ")
    return _profile(header, tags)


def _to_device(device_level: FloatArray) -> bytes:
    """From L*, a*, b*: a* and b* do not count."""
    codes = codes_of(device_level)
    unused = codes_of(np.linspace(0, 1, len(codes)))
    grid = np.zeros((2, 2, 2, 1), np.uint16)
    grid[1] = LARGEST
    ramp = np.array([[0, LARGEST]], dtype=np.uint16)
    inputs = np.stack([codes, unused, unused])
    return Lut16(inputs=inputs, grid=grid, outputs=ramp).tag()


def _to_lightness(lightness: FloatArray) -> bytes:
    ramp = np.array([[0, LARGEST]], dtype=np.uint16)
    ends = [(0, LAB_NEUTRAL, LAB_NEUTRAL), (LARGEST, LAB_NEUTRAL, LAB_NEUTRAL)]
    return Lut16(
        inputs=codes_of(lightness / LAB_FULL)[np.newaxis],
        grid=np.array(ends, dtype=np.uint16),
        outputs=np.repeat(ramp, 3, axis=0),
    ).tag()


def _profile(header: _Header, tags: dict[bytes, bytes]) -> bytes:
    """Put header, directory and data together; data given twice is stored once."""
    place = 128 + 4 + 12 * len(tags)
    stored: dict[bytes, int] = {}
    directory = struct.pack(">I", len(tags))
    body = b""
    for name, data in tags.items():
        if data not in stored:
            stored[data] = place + len(body)
            body += _padded(data)
        directory += struct.pack(">4sII", name, stored[data], len(data))
    whole = _head(header, place + len(body)) + directory + body
    # 7.2.18: MD5 of the profile with flags, intent and identity zeroed; the first and
    # the last are zero here already.
    unmarked = whole[:64] + b"\0\0\0\0" + whole[68:]
    identity = hashlib.md5(unmarked, usedforsecurity=False).digest()
    return whole[:84] + identity + whole[100:]


def _head(header: _Header, size: int) -> bytes:
    now = datetime.now(UTC)
    made = (now.year, now.month, now.day, now.hour, now.minute, now.second)
    return struct.pack(
        ">I4sI4s4s4s6H4s24xI12s48x",
        size,
        b"\0\0\0\0",
        _VERSION,
        header.kind,
        header.space,
        header.connection,
        *made,
        b"acsp",
        RELATIVE_COLORIMETRIC,
        _s15_fixed16(D50_XYZ),
    )


def _s15_fixed16(values: tuple[float, ...]) -> bytes:
    codes = (round(each * 65536) for each in values)
    return struct.pack(f">{len(values)}i", *codes)


def _xyz(values: tuple[float, float, float]) -> bytes:
    return b"XYZ \0\0\0\0" + _s15_fixed16(values)


def _unicode(text: str) -> bytes:
    """Return a multiLocalizedUnicodeType of one text; ICC.1:2010, 10.13."""
    packed = text.encode("utf-16-be")
    head = struct.pack(">II2s2sII", 1, 12, b"en", b"US", len(packed), 28)
    return b"mluc\0\0\0\0" + head + packed


def _sequence(texts: tuple[str, ...]) -> bytes:
    """Return a profileSequenceDescType; ICC.1:2010, 10.16."""
    unnamed = bytes(4 + 4 + 8 + 4) + _padded(_unicode(""))
    each = (unnamed + _padded(_unicode(text)) for text in texts)
    return b"pseq\0\0\0\0" + struct.pack(">I", len(texts)) + b"".join(each)


def _padded(data: bytes) -> bytes:
    return data + b"\0" * (-len(data) % 4)
