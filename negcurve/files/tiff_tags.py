"""The directories of a TIFF or BigTIFF file: which tags with which values.

Knows tag types and both byte orders, and trusts no number in the file; what the tags
mean for a picture is `tiff_page`'s.
"""

import struct
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from negcurve.errors import FileError
from negcurve.files.block_io import Blocks

MOST_PAGES = 1000
MOST_TAGS = 4096
MOST_VALUES = 4_000_000
"""Of one tag: places of as many blocks as no real picture has."""

LARGEST_CONTENT = 64_000_000
"""Of one text or profile. [bytes]"""

_TYPES = {
    1: "u1",
    2: "S1",
    3: "u2",
    4: "u4",
    5: "u4",
    6: "i1",
    7: "S1",
    8: "i2",
    9: "i4",
    10: "i4",
    11: "f4",
    12: "f8",
    13: "u4",
    16: "u8",
    17: "i8",
    18: "u8",
}
"""Number format of each type. Source: TIFF 6.0 (1992), section 2; BigTIFF (2004)."""

_PAIRS = (5, 10)
_TEXTS = (2, 7)


@dataclass(frozen=True, kw_only=True)
class _Entry:
    kind: int
    count: int
    offset: int


class Directory:
    """The tags of one page; values are read when they are asked for."""

    def __init__(
        self,
        file: Blocks,
        name: str,
        order: Literal["<", ">"],
        entries: dict[int, _Entry],
    ) -> None:
        self._file = file
        self.name = name
        self.order: Literal["<", ">"] = order
        self._entries = entries

    def __contains__(self, tag: int) -> bool:
        return tag in self._entries

    def integers(self, tag: int) -> list[int]:
        """Return whole-number values, empty where the tag is missing."""
        entry = self._entries.get(tag)
        if entry is None:
            return []
        if entry.kind in (*_TEXTS, *_PAIRS, 11, 12):
            raise damaged(self.name, f"tag {tag} is not a whole number")
        if entry.count > MOST_VALUES:
            raise damaged(self.name, f"tag {tag} has {entry.count} values")
        found: list[int] = self._array(entry).tolist()
        return found

    def integer(self, tag: int, default: int) -> int:
        """Return the first whole number, or the default."""
        found = self.integers(tag)
        return found[0] if found else default

    def ratio(self, tag: int) -> float | None:
        """Return a rational or real number, None where it is missing or over 0."""
        entry = self._entries.get(tag)
        if entry is None or entry.count < 1 or entry.kind in _TEXTS:
            return None
        values = self._array(replace(entry, count=1))
        if entry.kind not in _PAIRS:
            return float(values[0])
        return float(values[0]) / float(values[1]) if values[1] else None

    def content(self, tag: int) -> bytes:
        """Return the bytes of a text or undefined value, empty where missing."""
        entry = self._entries.get(tag)
        if entry is None:
            return b""
        if self._length(entry) > LARGEST_CONTENT:
            raise damaged(self.name, f"tag {tag} has {self._length(entry)} bytes")
        return self._file.read(entry.offset, self._length(entry))

    def text(self, tag: int) -> str:
        """Return a text up to its end mark."""
        content = self.content(tag).split(b"\0")[0]
        try:
            return content.decode("utf-8").strip()
        except UnicodeDecodeError:
            return content.decode("latin-1").strip()

    def _array(self, entry: _Entry) -> np.ndarray[tuple[int], np.dtype[np.generic]]:
        content = self._file.read(entry.offset, self._length(entry))
        return np.frombuffer(content, dtype=self.order + _TYPES[entry.kind])

    def _length(self, entry: _Entry) -> int:
        return entry.count * _value_size(entry.kind)


def _value_size(kind: int) -> int:
    return np.dtype(_TYPES[kind]).itemsize * (2 if kind in _PAIRS else 1)


def damaged(name: str, what: str) -> FileError:
    """Say that a TIFF file is not what it should be."""
    return FileError(
        f"is a damaged TIFF: {what}",
        where=name,
        fix="Open it in an image editor and save it again.",
    )


def read_directories(file: Blocks, *, name: str) -> list[Directory]:
    """Read the chain of directories.

    Parameters
    ----------
    file : Blocks
        TIFF or BigTIFF.
    name : str
        File, for messages.

    Returns
    -------
    list of Directory
        One or more.

    Raises
    ------
    FileError
        If the header or chain is damaged, cut off, or leads back to itself.
    """
    order, big, place = _header(file, name)
    found: list[Directory] = []
    seen: set[int] = set()
    while place:
        if place in seen:
            raise damaged(name, "its pages lead back to themselves")
        if len(found) == MOST_PAGES:
            raise damaged(name, f"it has more than {MOST_PAGES} pages")
        seen.add(place)
        entries, place = _entries(file, name, order, place, big=big)
        found.append(Directory(file, name, order, entries))
    if not found:
        raise damaged(name, "it has no page")
    return found


def _header(file: Blocks, name: str) -> tuple[Literal["<", ">"], bool, int]:
    head = file.read(0, 8)
    order: Literal["<", ">"] = "<" if head[:2] == b"II" else ">"
    (version,) = struct.unpack(order + "H", head[2:4])
    if version == 42:
        return order, False, struct.unpack(order + "I", head[4:8])[0]
    if version == 43 and struct.unpack(order + "HH", head[4:8]) == (8, 0):
        return order, True, struct.unpack(order + "Q", file.read(8, 8))[0]
    raise damaged(name, f"its version is {version}, not 42 or 43")


def _entries(
    file: Blocks, name: str, order: Literal["<", ">"], place: int, *, big: bool
) -> tuple[dict[int, _Entry], int]:
    """Read one directory and the place of the next."""
    count_format, entry_format, offset_format = (
        ("Q", "HHQ", "Q") if big else ("H", "HHI", "I")
    )
    start = place + struct.calcsize(count_format)
    (count,) = struct.unpack(order + count_format, file.read(place, start - place))
    inline = struct.calcsize(offset_format)
    head = struct.calcsize("<" + entry_format)
    if not 1 <= count <= MOST_TAGS:
        raise damaged(name, f"a page has {count} tags")
    content = file.read(start, count * (head + inline) + inline)
    entries: dict[int, _Entry] = {}
    for index in range(count):
        at = index * (head + inline)
        tag, kind, length = struct.unpack_from(order + entry_format, content, at)
        if kind not in _TYPES:
            continue  # types of the future are to be skipped, TIFF 6.0 section 2
        offset = start + at + head
        if length * _value_size(kind) > inline:
            (offset,) = struct.unpack_from(order + offset_format, content, at + head)
        if offset + length * _value_size(kind) > file.size:
            raise damaged(name, f"the values of tag {tag} lie beyond its end")
        entries.setdefault(tag, _Entry(kind=kind, count=length, offset=offset))
    (following,) = struct.unpack(order + offset_format, content[-inline:])
    return entries, following
