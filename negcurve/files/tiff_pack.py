"""Packing tags and directories for a TIFF or BigTIFF in little-endian order.

Source: TIFF 6.0 (1992), section 2; BigTIFF as in libtiff's design notes (2004).
"""

import struct

SHORT, LONG, RATIONAL, ASCII, UNDEFINED, LONG8 = 3, 4, 5, 2, 7, 16

Tag = tuple[int, int, int, bytes]
"""Number, type, count, packed values."""


def shorts(number: int, values: list[int]) -> Tag:
    """Pack whole numbers of 16 bits."""
    return number, SHORT, len(values), struct.pack(f"<{len(values)}H", *values)


def longs(number: int, values: list[int]) -> Tag:
    """Pack whole numbers of 32 bits."""
    return number, LONG, len(values), struct.pack(f"<{len(values)}I", *values)


def longs8(number: int, values: list[int]) -> Tag:
    """Pack whole numbers of 64 bits, for BigTIFF."""
    return number, LONG8, len(values), struct.pack(f"<{len(values)}Q", *values)


def rational(number: int, value: tuple[int, int]) -> Tag:
    """Pack one fraction: numerator, denominator."""
    return number, RATIONAL, 1, struct.pack("<2I", *value)


def text(number: int, content: str) -> Tag:
    """Pack a text with its end mark."""
    # TIFF asks for ASCII; UTF-8 is the same for ASCII and what readers expect beyond.
    packed = content.replace("\0", " ").encode("utf-8") + b"\0"
    return number, ASCII, len(packed), packed


def directory(tags: list[Tag], place: int, *, big: bool) -> bytes:
    """Pack an image file directory that starts at `place`, values behind it."""
    count, entry, inline = ("<Q", "<HHQ", 8) if big else ("<H", "<HHI", 4)
    size = struct.calcsize(count) + len(tags) * (struct.calcsize(entry) + inline)
    values_at = place + size + inline
    entries, values = [struct.pack(count, len(tags))], b""
    for number, kind, length, packed in tags:
        entries.append(struct.pack(entry, number, kind, length))
        if len(packed) <= inline:
            entries.append(packed.ljust(inline, b"\0"))
            continue
        values += b"\0" * (len(values) % 2)
        entries.append((values_at + len(values)).to_bytes(inline, "little"))
        values += packed
    return b"".join(entries) + b"\0" * inline + values


def undefined(number: int, content: bytes) -> Tag:
    """Pack bytes as they are."""
    return number, UNDEFINED, len(content), content
