"""Small ICC profiles built byte by byte, so that readers meet every form of curve.

Layouts: ICC.1:2010 (ISO 15076-1), clauses 7.2, 7.3 and 10.
"""

import hashlib
import struct

D50 = (0.9642, 1.0, 0.8249)

# Bradford-adapted primaries of sRGB as stored in the profile at color.org
# ("sRGB_v4_ICC_preference" family uses tables; these are those of the v2 profile by HP
# and Microsoft, 1998), from memory: rXYZ, gXYZ, bXYZ.
SRGB_PRIMARIES = (
    (0.43607, 0.22249, 0.01392),
    (0.38515, 0.71687, 0.09708),
    (0.14307, 0.06061, 0.71410),
)

# Parameters of the sRGB curve as parametric form 3: IEC 61966-2-1:1999, 5.2.
SRGB_CURVE = (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)


def fixed(value):
    return struct.pack(">i", round(value * 65536))


def xyz(x, y, z):
    return b"XYZ \0\0\0\0" + fixed(x) + fixed(y) + fixed(z)


def table(values):
    """A curv tag with samples 0..1."""
    codes = [round(value * 65535) for value in values]
    return b"curv\0\0\0\0" + struct.pack(f">I{len(codes)}H", len(codes), *codes)


def identity():
    return b"curv\0\0\0\0" + struct.pack(">I", 0)


def gamma(value):
    """A curv tag with one entry, 8 bits of fraction."""
    return b"curv\0\0\0\0" + struct.pack(">IH", 1, round(value * 256))


def parametric(form, *parameters):
    head = b"para\0\0\0\0" + struct.pack(">HH", form, 0)
    return head + b"".join(fixed(each) for each in parameters)


def described(text, version):
    if version >= 4:
        packed = text.encode("utf-16-be")
        return (
            b"mluc\0\0\0\0"
            + struct.pack(">II2s2sII", 1, 12, b"en", b"US", len(packed), 28)
            + packed
        )
    packed = text.encode("ascii") + b"\0"
    return b"desc\0\0\0\0" + struct.pack(">I", len(packed)) + packed + bytes(78)


def profile(space, tags, *, version=4, connection=b"XYZ ", kind=b"mntr"):
    """Pack a profile.

    Parameters: colour space as four bytes, tags as a dict of bytes to bytes.
    """
    copyright_text = described("none", 4) if version >= 4 else b"text\0\0\0\0none\0"
    tags = {
        b"desc": described("made for a test", version),
        b"cprt": copyright_text,
        b"wtpt": xyz(*D50),
        **tags,
    }
    place = 132 + 12 * len(tags)
    directory, content = struct.pack(">I", len(tags)), b""
    for name, tag in tags.items():
        directory += struct.pack(">4sII", name, place + len(content), len(tag))
        content += tag + bytes(-len(tag) % 4)
    head = bytearray(128)
    head[8:12] = struct.pack(">I", version << 24 | (0x40 << 16 if version == 2 else 0))
    head[12:16], head[16:20], head[20:24] = kind, space, connection
    head[24:36] = struct.pack(">6H", 2026, 1, 1, 0, 0, 0)
    head[36:40] = b"acsp"
    head[68:80] = b"".join(fixed(each) for each in D50)
    whole = head + directory + content
    whole[0:4] = struct.pack(">I", len(whole))
    if version >= 4:
        whole[84:100] = hashlib.md5(whole, usedforsecurity=False).digest()
    return bytes(whole)


def grey(curve, **options):
    return profile(b"GRAY", {b"kTRC": curve}, **options)


def rgb(curve, primaries=SRGB_PRIMARIES, **options):
    tags = {}
    for name, primary in zip(b"rgb", primaries, strict=True):
        letter = bytes([name])
        tags[letter + b"XYZ"] = xyz(*primary)
        tags[letter + b"TRC"] = curve
    return profile(b"RGB ", tags, **options)


def lut(steps, *, channels=3, black=0.0, exponent=2.2):
    """An A2B0 table of 16 bits (mft2) to XYZ: a print-like profile with its own black.

    Light is black + (1 - black) * level^exponent of the mean level, on a grid.
    """
    grid = []
    for index in range(steps**channels):
        digits, rest = [], index
        for _ in range(channels):
            digits.append(rest % steps / (steps - 1))
            rest //= steps
        mean = sum(digits) / channels
        light = black + (1 - black) * mean**exponent
        grid.extend(round(light * each * 32768) for each in D50)
    matrix = b"".join(fixed(each) for each in (1, 0, 0, 0, 1, 0, 0, 0, 1))
    ramp = struct.pack(">2H", 0, 65535)
    tag = (
        b"mft2\0\0\0\0"
        + struct.pack(">4B", channels, 3, steps, 0)
        + matrix
        + struct.pack(">2H", 2, 2)
        + ramp * channels
        + struct.pack(f">{len(grid)}H", *grid)
        + ramp * 3
    )
    space = b"RGB " if channels == 3 else b"GRAY"
    return profile(space, {b"A2B0": tag}, version=2, kind=b"prtr")
