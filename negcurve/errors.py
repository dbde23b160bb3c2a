"""Every exception that negcurve raises on purpose, with its exit code.

Raise the narrowest class that fits; anything else that escapes is a bug and shows its
traceback. The message says where, what is wrong, and what to do about it.
"""

from typing import ClassVar


class NegcurveError(Exception):
    """Base of every error that is raised on purpose.

    Parameters
    ----------
    what : str
        What is wrong, with the offending value.
    where : str, optional
        File, line, patch or argument that is meant.
    fix : str, optional
        What the user can do about it.
    """

    exit_code: ClassVar[int] = 1

    def __init__(self, what: str, *, where: str = "", fix: str = "") -> None:
        super().__init__(what)
        self.what = what
        self.where = where
        self.fix = fix

    def __str__(self) -> str:
        """Return `where: what`, then the remedy on a line of its own."""
        first = f"{self.where}: {self.what}" if self.where else self.what
        return f"{first}\n{self.fix}" if self.fix else first

    def __reduce__(self) -> tuple[object, ...]:
        return _rebuilt, (type(self), self.what, self.where, self.fix)


def _rebuilt(
    kind: type[NegcurveError], what: str, where: str, fix: str
) -> NegcurveError:
    return kind(what, where=where, fix=fix)


class InvalidValueError(NegcurveError, ValueError):
    """An argument is outside its documented shape or range."""

    exit_code = 2


class FileError(NegcurveError):
    """A file is missing, unreadable, of the wrong kind, or would be overwritten."""

    exit_code = 3


class ReadingsError(NegcurveError):
    """No target found or another one; readings incomplete or contradictory."""

    exit_code = 4


class SolveError(NegcurveError):
    """The response has no monotone part to invert."""

    exit_code = 5


class RecordError(NegcurveError):
    """A record is damaged or its parts do not belong together."""

    exit_code = 6
