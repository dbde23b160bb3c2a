"""Reading and writing pieces of a file from any thread, by their place in it."""

import os
import threading
from io import BufferedReader
from pathlib import Path
from typing import BinaryIO, Protocol, Self

from negcurve.errors import FileError
from negcurve.files.safe import file_errors

HAS_POSITIONAL_READS = hasattr(os, "preadv")
HAS_POSITIONAL_WRITES = hasattr(os, "pwrite")


class Blocks(Protocol):
    """Bytes that are read by place."""

    @property
    def size(self) -> int:
        """Number of bytes."""
        ...

    def read(self, offset: int, count: int) -> bytes:
        """Return exactly `count` bytes from `offset` on."""
        ...

    def read_into(self, offset: int, room: memoryview) -> None:
        """Fill `room` with the bytes from `offset` on."""
        ...

    def close(self) -> None:
        """Let go of the file."""
        ...


class BlockFile:
    """A file opened for reading by place.

    Parameters
    ----------
    path : path
        An ordinary file.
    positional : bool
        Use the system's positional reads; else each thread has a handle of its own.

    Raises
    ------
    FileError
        If the file cannot be opened, is empty or is no ordinary file.
    """

    def __init__(
        self, path: Path | str, *, positional: bool = HAS_POSITIONAL_READS
    ) -> None:
        self.path = Path(path)
        self._positional = positional
        self._own = threading.local()
        self._handles: list[BufferedReader] = []
        self._lock = threading.Lock()
        with file_errors(path):
            if self.path.exists() and not self.path.is_file():
                kind = "a folder" if self.path.is_dir() else "not an ordinary file"
                raise FileError(f"is {kind}", where=str(path), fix="Name a file.")
            handle = self._open()
            self.size = os.fstat(handle.fileno()).st_size
        self._first = handle
        if self.size == 0:
            self.close()
            raise FileError(
                "is empty",
                where=str(path),
                fix="Save it again from where it comes, or name another file.",
            )

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def read(self, offset: int, count: int) -> bytes:
        """Return bytes of the file.

        Parameters
        ----------
        offset : int
            Place of the first byte.
        count : int
            How many.

        Returns
        -------
        bytes
            Exactly `count`.

        Raises
        ------
        FileError
            If the file ends before, or cannot be read.
        """
        if offset < 0 or count < 0 or offset + count > self.size:
            raise self._cut_off(offset + count)
        with file_errors(self.path):
            content = self._read(offset, count)
        if len(content) != count:  # the file has shrunk since it was opened
            raise self._cut_off(offset + count)
        return content

    def read_into(self, offset: int, room: memoryview) -> None:
        """Fill memory with bytes of the file, without a copy between.

        Parameters
        ----------
        offset : int
            Place of the first byte.
        room : memoryview of bytes
            Filled to its end.

        Raises
        ------
        FileError
            If the file ends before, or cannot be read.
        """
        if offset < 0 or offset + len(room) > self.size:
            raise self._cut_off(offset + len(room))
        done = 0
        with file_errors(self.path):
            while done < len(room):  # one call reads 2 GiB at most
                count = self._read_some(offset + done, room[done:])
                if count == 0:  # the file has shrunk since it was opened
                    raise self._cut_off(offset + len(room))
                done += count

    def close(self) -> None:
        """Close every handle."""
        with self._lock:
            for handle in self._handles:
                handle.close()
            self._handles.clear()

    def _read(self, offset: int, count: int) -> bytes:
        if self._positional:
            return _read_positional(self._first.fileno(), offset, count)
        return self._own_handle(offset).read(count)

    def _read_some(self, offset: int, room: memoryview) -> int:
        if self._positional:
            return os.preadv(self._first.fileno(), [room], offset)
        return self._own_handle(offset).readinto(room)

    def _own_handle(self, offset: int) -> BufferedReader:
        """Return this thread's handle, at a place."""
        handle: BufferedReader | None = getattr(self._own, "handle", None)
        if handle is None or handle.closed:
            handle = self._own.handle = self._open()
        handle.seek(offset)
        return handle

    def _open(self) -> BufferedReader:
        handle = self.path.open("rb")
        with self._lock:
            self._handles.append(handle)
        return handle

    def _cut_off(self, needed: int) -> FileError:
        return FileError(
            f"is cut off: it has {self.size} bytes, byte {needed} is asked for",
            where=str(self.path),
            fix="Copy or save the file again.",
        )


def _read_positional(descriptor: int, offset: int, count: int) -> bytes:
    """Read in full; one system call returns 2 GiB at most."""
    parts = []
    while count > 0:
        part = os.pread(descriptor, count, offset)
        if not part:
            break
        parts.append(part)
        offset += len(part)
        count -= len(part)
    return parts[0] if len(parts) == 1 else b"".join(parts)


class BlockBytes:
    """Bytes in memory, read like a file."""

    def __init__(self, content: bytes, *, name: str) -> None:
        self._content = content
        self._name = name
        self.size = len(content)

    def read(self, offset: int, count: int) -> bytes:
        """Return exactly `count` bytes from `offset` on."""
        if offset < 0 or count < 0 or offset + count > self.size:
            raise FileError(
                "is cut off",
                where=self._name,
                fix="Save or copy it again from where it comes.",
            )
        return self._content[offset : offset + count]

    def read_into(self, offset: int, room: memoryview) -> None:
        """Fill `room` with the bytes from `offset` on."""
        room[:] = self.read(offset, len(room))

    def close(self) -> None:
        """Do nothing."""


class PlacedWriter:
    """Writes pieces of an open file by place, from any thread.

    Parameters
    ----------
    handle : binary file
        Open for writing, nothing waiting in its buffer.
    positional : bool
        Use the system's positional writes; else one thread after the other seeks.
    """

    def __init__(
        self, handle: BinaryIO, *, positional: bool = HAS_POSITIONAL_WRITES
    ) -> None:
        self._handle = handle
        self._positional = positional
        self._lock = threading.Lock()

    def write(self, offset: int, content: memoryview) -> None:
        """Write bytes in full.

        Parameters
        ----------
        offset : int
            Place of the first.
        content : memoryview of bytes

        Raises
        ------
        OSError
            As the system says, such as when the disk is full.
        """
        if not self._positional:
            with self._lock:
                self._handle.seek(offset)
                self._handle.write(content)
            return
        while content:  # one call may write less
            count = os.pwrite(self._handle.fileno(), content, offset)
            content, offset = content[count:], offset + count
