"""Writing so that nothing the user had is lost and nothing incomplete is left.

Knows temporary names, publishing and what the operating system's refusals mean to a
user; what goes into a file is left to the module of its format.
"""

import contextlib
import errno
import os
import secrets
import shutil
import stat
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from negcurve.errors import FileError
from negcurve.values import Finding

try:
    import fcntl
except ImportError:  # Windows: an open file cannot be removed, which serves as the lock
    fcntl = None  # type: ignore[assignment]

PART_PREFIX = ".negcurve-"
PART_SUFFIX = ".part"

_SENTENCES = {
    errno.ENOENT: ("does not exist", "Check the name and the folder."),
    errno.ENOTDIR: (
        "lies in something that is not a folder",
        "Check the name of the folder.",
    ),
    errno.EISDIR: ("is a folder", "Name a file."),
    errno.EACCES: ("is not permitted", "Check the permissions of file and folder."),
    errno.EPERM: ("is not permitted", "Check the permissions of file and folder."),
    errno.EROFS: ("lies on a disk that is read-only", "Choose another folder."),
    errno.ENOSPC: ("does not fit: the disk is full", "Free some space and run again."),
    errno.EFBIG: ("is too large for this disk", "Choose another disk."),
    errno.ENAMETOOLONG: ("has too long a name", "Choose a shorter name."),
    errno.ELOOP: ("is a link that leads back to itself", "Name the file itself."),
}
if hasattr(errno, "EDQUOT"):
    _SENTENCES[errno.EDQUOT] = (
        "does not fit: your disk quota is used up",
        "Free some space and run again.",
    )

_NO_LINKS = {
    getattr(errno, name)
    for name in ("EPERM", "ENOTSUP", "EOPNOTSUPP", "ENOSYS", "EMLINK", "EXDEV")
    if hasattr(errno, name)
}


def file_error(error: OSError, path: Path | str) -> FileError:
    """Put an operating system error into a sentence about a file.

    Parameters
    ----------
    error : OSError
        What the system said.
    path : path
        The file that the user named.

    Returns
    -------
    FileError
    """
    known = _SENTENCES.get(error.errno or 0)
    if known:
        return FileError(known[0], where=str(path), fix=known[1])
    return FileError(f"failed: {error.strerror or error}", where=str(path))


@contextlib.contextmanager
def file_errors(path: Path | str) -> Iterator[None]:
    """Turn every `OSError` of the block into a `FileError` about `path`."""
    try:
        yield
    except OSError as error:
        raise file_error(error, path) from error


def check_output(
    path: Path | str,
    *,
    overwrite: bool,
    inputs: Iterable[Path | str] = (),
    needed_bytes: int = 0,
) -> tuple[Finding, ...]:
    """Check that a file can be written, before any work is done for it.

    Parameters
    ----------
    path : path
        Where the file is to stand.
    overwrite : bool
        Whether a file that stands there may be replaced.
    inputs : iterable of path
        What the command reads; none of these is ever written to.
    needed_bytes : int
        Size that the file will reach, where known.

    Returns
    -------
    tuple of Finding
        What was done on the way: leftovers of a stopped run removed.

    Raises
    ------
    FileError
        If the file could not be written, or would replace something unasked.
    """
    target = Path(path)
    _check_folder(target)
    _check_not_an_input(target, inputs)
    _check_free(target, overwrite=overwrite)
    findings = remove_leftovers(target.parent)
    _check_space(target, needed_bytes)
    return findings


def check_outputs(
    paths: Sequence[Path | str],
    *,
    overwrite: bool,
    inputs: Iterable[Path | str] = (),
) -> tuple[Finding, ...]:
    """Check several outputs of one command; two of one name are refused."""
    names = [os.path.normcase(Path(path).absolute()) for path in paths]
    for place, name in enumerate(names):
        if name in names[:place]:
            raise FileError(
                "is named for two different outputs",
                where=str(paths[place]),
                fix="Give each output a name of its own.",
            )
    kept = tuple(inputs)
    found: list[Finding] = []
    for path in paths:
        found.extend(check_output(path, overwrite=overwrite, inputs=kept))
    return tuple(found)


def check_suffix(path: Path | str, *suffixes: str, kind: str) -> None:
    """Refuse a name that says another kind of file than will stand under it.

    Parameters
    ----------
    path : path
    *suffixes : str
        Endings that fit, lower case; the first is asked for.
    kind : str
        What is written, for the sentence.

    Raises
    ------
    FileError
        If the name ends otherwise.
    """
    ending = Path(path).suffix.lower()
    if ending not in suffixes:
        said = f"a name that ends in {ending}" if ending else "a name without an ending"
        if Path(path).is_dir():
            said = "a folder"
        raise FileError(
            f"is {said}, but a {kind} would be written",
            where=str(path),
            fix=f"Give it a name that ends in {suffixes[0]}.",
        )


@contextlib.contextmanager
def new_file(path: Path | str, *, overwrite: bool) -> Iterator[Path]:
    """Yield a temporary path that becomes `path` when the block ends well.

    Parameters
    ----------
    path : path
        Where the file is to stand.
    overwrite : bool
        Whether a file that stands there may be replaced.

    Yields
    ------
    Path
        An empty file in the same folder. Write to it, or put another in its place.

    Raises
    ------
    FileError
        If writing fails, or the name was taken in the meantime.

    Notes
    -----
    After any error or interruption the temporary file is gone and `path` is as it was.
    """
    target = Path(path)
    _check_folder(target)
    _check_free(target, overwrite=overwrite)
    if target.is_symlink():
        target = target.resolve()
    with file_errors(path):
        part, lock = _new_part(target.parent)
        try:
            yield part
            if fcntl is None:  # Windows renames no file that is open
                _release(lock)
                lock = -1
            _publish(part, target, overwrite=overwrite)
        finally:
            _release(lock)
            part.unlink(missing_ok=True)


def write_bytes(path: Path | str, content: bytes, *, overwrite: bool = False) -> None:
    """Write a whole file, see `new_file`."""
    with new_file(path, overwrite=overwrite) as part:
        part.write_bytes(content)


def write_text(path: Path | str, text: str, *, overwrite: bool = False) -> None:
    r"""Write a whole text file in UTF-8 with `\n` line ends, see `new_file`."""
    write_bytes(path, text.encode("utf-8"), overwrite=overwrite)


def remove_leftovers(folder: Path) -> tuple[Finding, ...]:
    """Remove temporary files of runs that were killed; those in use are left alone.

    Parameters
    ----------
    folder : Path
        Where to look.

    Returns
    -------
    tuple of Finding
        One note for each file removed.
    """
    found = []
    for part in sorted(folder.glob(f"{PART_PREFIX}*{PART_SUFFIX}")):
        if _remove_if_unused(part):
            found.append(
                Finding(
                    severity="note",
                    where=str(part),
                    what="removed, an unfinished file of a run that was stopped",
                )
            )
    return tuple(found)


def _check_folder(target: Path) -> None:
    folder = target.parent
    if not folder.is_dir():
        raise FileError(
            f"the folder {folder} does not exist",
            where=str(target),
            fix="Make the folder first, or choose another.",
        )
    if not os.access(folder, os.W_OK | os.X_OK):
        raise FileError(
            f"the folder {folder} cannot be written to",
            where=str(target),
            fix="Check its permissions, or choose another folder.",
        )


def _check_not_an_input(target: Path, inputs: Iterable[Path | str]) -> None:
    for each in inputs:
        with contextlib.suppress(OSError):
            if target.samefile(each):
                raise FileError(
                    "is an input of this command, so it is not written to",
                    where=str(target),
                    fix="Give the output another name.",
                )


def _check_free(target: Path, *, overwrite: bool) -> None:
    try:
        mode = target.stat().st_mode
    except FileNotFoundError:
        if target.is_symlink():
            raise FileError(
                "is a link to a file that does not exist",
                where=str(target),
                fix="Give the output another name.",
            ) from None
        return
    except OSError as error:
        raise file_error(error, target) from error
    if stat.S_ISDIR(mode):
        raise FileError("is a folder", where=str(target), fix="Name a file in it.")
    if not stat.S_ISREG(mode):
        raise FileError(
            "is not an ordinary file", where=str(target), fix="Name a file on a disk."
        )
    if not overwrite:
        raise _taken(target)


def _check_space(target: Path, needed_bytes: int) -> None:
    free = shutil.disk_usage(target.parent).free
    if needed_bytes > free:
        raise FileError(
            f"needs {needed_bytes / 1e6:.0f} MB, the disk has {free / 1e6:.0f} MB free",
            where=str(target),
            fix="Free some space or choose another disk.",
        )


def _taken(target: Path) -> FileError:
    return FileError(
        "exists already",
        where=str(target),
        fix="Give another name, or --overwrite to replace it.",
    )


def _new_part(folder: Path) -> tuple[Path, int]:
    """Create an empty temporary file and hold a lock on it while it is in use."""
    while True:
        part = folder / f"{PART_PREFIX}{secrets.token_hex(4)}{PART_SUFFIX}"
        # Mode 666 less the user's umask, as for any file that a program creates.
        descriptor = os.open(part, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o666)
        if fcntl is None:
            return part, descriptor
        with contextlib.suppress(OSError):  # some network disks know no locks
            fcntl.flock(descriptor, fcntl.LOCK_EX)
        # Before it was locked another run may have taken it for a leftover.
        if os.fstat(descriptor).st_nlink:
            return part, descriptor
        os.close(descriptor)


def _release(descriptor: int) -> None:
    if descriptor >= 0:
        os.close(descriptor)


def _remove_if_unused(part: Path) -> bool:
    try:
        if fcntl is not None:
            with part.open("rb") as opened:
                fcntl.flock(opened, fcntl.LOCK_EX | fcntl.LOCK_NB)
                part.unlink()
        else:
            part.unlink()
    except OSError:  # in use, or not ours to remove
        return False
    return True


def _publish(part: Path, target: Path, *, overwrite: bool) -> None:
    if overwrite:
        part.replace(target)
        return
    try:
        _publish_new(part, target)
    except FileExistsError:
        raise _taken(target) from None


def _publish_new(part: Path, target: Path) -> None:
    """Give the file its name only if nothing has that name, in one step."""
    if os.name == "nt":
        part.rename(target)  # on Windows this fails when the name is taken
        return
    try:
        target.hardlink_to(part)
    except OSError as error:
        if error.errno not in _NO_LINKS:
            raise
        # A disk without hard links: claim the name, then move over the claim.
        os.close(os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666))
        part.replace(target)
