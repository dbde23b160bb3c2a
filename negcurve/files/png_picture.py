"""Reading a PNG file: unpacked in memory, palette looked up, alpha laid on white.

Source: PNG (ISO/IEC 15948:2004), clauses 5 and 11.
"""

import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import imagecodecs
import numpy as np

from negcurve.errors import FileError
from negcurve.files.block_io import BlockFile
from negcurve.files.memory_picture import MemoryPicture
from negcurve.files.samples import on_white
from negcurve.values import CodeArray, Finding

SIGNATURE = b"\x89PNG\r\n\x1a\n"

LARGEST_BYTES = 900_000_000
"""Unpacked size that still fits beside what is made from it."""

LARGEST_RATIO = 1100
"""Deflate cannot pack tighter than 1032 to 1."""

LARGEST_TEXT = 16_000_000

_CHANNELS = {0: 1, 2: 3, 3: 3, 4: 2, 6: 4}
_BAND_ROWS = 64
_SRGB_GAMMA = 45455
_METRE_PER_INCH = 0.0254


@dataclass(frozen=True, kw_only=True)
class _Header:
    width: int
    height: int
    bits: int
    colour: int
    chunks: dict[bytes, bytes]


def open_png(path: Path | str) -> MemoryPicture:
    """Read a grey, RGB or palette PNG.

    Parameters
    ----------
    path : path
        The file.

    Returns
    -------
    MemoryPicture
        8-bit or 16-bit codes.

    Raises
    ------
    FileError
        If the file is damaged, cut off, or has one bit only.
    """
    name = Path(path).name
    with BlockFile(path) as file:
        content = file.read(0, file.size)
    header = _header(content, name)
    try:
        found = imagecodecs.png_decode(content)
    except Exception as error:  # the codec has an error class of its own
        raise _damaged(name, "its pixels cannot be unpacked") from error
    codes, said = _flattened(found.reshape(header.height, header.width, -1))
    notes = [
        Finding(severity="note", where=name, what=what)
        for what in (*said, *_gamma_note(header))
    ]
    return MemoryPicture(
        name=name,
        array=codes,
        resolution_ppi=_resolution(header),
        profile=_profile(header, name),
        description=header.chunks.get(b"Description", b"").decode("utf-8", "replace"),
        findings=tuple(notes),
    )


def _header(content: bytes, name: str) -> _Header:
    if content[:8] != SIGNATURE or content[12:16] != b"IHDR" or len(content) < 33:
        raise _damaged(name, "it does not begin like a PNG")
    width, height, bits, colour = struct.unpack_from(">IIBB", content, 16)
    if not (1 <= width < 2**31 and 1 <= height < 2**31) or colour not in _CHANNELS:
        raise _damaged(name, f"it measures {width} x {height} pixels")
    if bits == 1:
        raise FileError(
            "has one bit a sample, black or white only",
            where=name,
            fix="Save it as grey or RGB with 8 or 16 bits.",
        )
    size = width * height * _CHANNELS[colour] * max(1, bits // 8)
    packed = width * height * _CHANNELS[colour] * bits // 8
    if packed > len(content) * LARGEST_RATIO * (3 if colour == 3 else 1):
        raise _damaged(
            name, f"{width} x {height} pixels cannot come from {len(content)} bytes"
        )
    if size > LARGEST_BYTES:
        raise FileError(
            f"measures {width} x {height} pixels, too many for a PNG",
            where=name,
            fix="Save it as a TIFF.",
        )
    chunks: dict[bytes, bytes] = {}
    for kind, data in _chunks(content, name):
        if kind in (b"tEXt", b"iTXt"):
            keyword, text = _text(kind, data)
            chunks.setdefault(keyword, text)
        else:
            chunks.setdefault(kind, data)
    return _Header(width=width, height=height, bits=bits, colour=colour, chunks=chunks)


def _chunks(content: bytes, name: str) -> Iterator[tuple[bytes, bytes]]:
    """Yield the chunks but those of pixels."""
    place = 8
    while place + 12 <= len(content):
        length, kind = struct.unpack_from(">I4s", content, place)
        if place + 12 + length > len(content):
            break
        if kind == b"IEND":
            return
        if kind != b"IDAT":
            yield kind, content[place + 8 : place + 8 + length]
        place += 12 + length
    raise _damaged(name, "it is cut off")


def _text(kind: bytes, data: bytes) -> tuple[bytes, bytes]:
    keyword, _, rest = data.partition(b"\0")
    if kind == b"tEXt":
        return keyword, rest.decode("latin-1").encode("utf-8")
    packed = rest[:1] == b"\1"
    text = rest[2:].partition(b"\0")[2].partition(b"\0")[2]
    return keyword, _inflated(text) if packed else text


def _inflated(packed: bytes) -> bytes:
    try:
        return zlib.decompressobj().decompress(packed, LARGEST_TEXT)
    except zlib.error:
        return b""


def _flattened(pixels: CodeArray) -> tuple[CodeArray, tuple[str, ...]]:
    channels = pixels.shape[2]
    if channels in (1, 3):
        return pixels, ()
    if pixels[..., -1].min() == np.iinfo(pixels.dtype).max:
        return pixels[..., :-1], ()
    flat = np.empty((*pixels.shape[:2], channels - 1), pixels.dtype)
    for top in range(0, len(pixels), _BAND_ROWS):
        band = pixels[top : top + _BAND_ROWS]
        flat[top : top + _BAND_ROWS] = on_white(
            band[..., :-1], band[..., -1], premultiplied=False
        )
    return flat, ("transparent parts are laid on white",)


def _gamma_note(header: _Header) -> tuple[str, ...]:
    """Say where a file states a gamma that no profile goes with."""
    stated = header.chunks.get(b"gAMA", b"")
    if len(stated) != 4 or {b"iCCP", b"sRGB"} & set(header.chunks):
        return ()
    (gamma,) = struct.unpack(">I", stated)
    if gamma == 0 or abs(gamma - _SRGB_GAMMA) < 1000:
        return ()
    return (f"states gamma {100_000 / gamma:.2f}; give it with --gamma to use it",)


def _profile(header: _Header, name: str) -> bytes | None:
    chunk = header.chunks.get(b"iCCP")
    if chunk is None:
        return None
    profile = _inflated(chunk.partition(b"\0")[2][1:])
    if not profile:
        raise _damaged(name, "its ICC profile cannot be unpacked")
    return profile


def _resolution(header: _Header) -> tuple[float, float] | None:
    chunk = header.chunks.get(b"pHYs", b"")
    if len(chunk) != 9:
        return None
    across, down, unit = struct.unpack(">IIB", chunk)
    if unit != 1 or not across or not down:
        return None
    return across * _METRE_PER_INCH, down * _METRE_PER_INCH


def _damaged(name: str, what: str) -> FileError:
    return FileError(
        f"is a damaged PNG: {what}",
        where=name,
        fix="Open it in an image editor and save it again.",
    )
