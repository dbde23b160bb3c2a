"""The schema of our own files: older ones stay readable, newer ones are refused."""

from negcurve import __version__
from negcurve.errors import FileError


def check_schema(found: str, kind: str, newest: int, *, where: str) -> int:
    """Return the version of a schema such as `negcurve/readings/1`.

    Parameters
    ----------
    found : str
        What the file says.
    kind : str
        What it should be, such as `readings`.
    newest : int
        Newest version that this program reads.
    where : str
        File, for the message.

    Returns
    -------
    int
        1..newest.

    Raises
    ------
    FileError
        If the file is of another kind, or newer than this program.
    """
    start = f"negcurve/{kind}/"
    number = found.removeprefix(start)
    if number == found or not (number.isascii() and number.isdigit()):
        said = f"says it is {found!r}" if found else "does not say what it is"
        raise FileError(
            f"{said}, not {start}{newest}",
            where=where,
            fix=f"Name a {kind} file.",
        )
    version = int(number)
    if not 1 <= version <= newest:
        raise FileError(
            f"is written as {found}, which negcurve {__version__} does not know",
            where=where,
            fix="Use the newer negcurve that wrote it.",
        )
    return version
