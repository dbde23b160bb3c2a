"""The HTML page that a command writes beside its answer."""

from collections.abc import Iterable
from pathlib import Path

from negcurve.files.safe import check_output, check_suffix
from negcurve.values import Finding


def check_page(
    page: Path | str | None,
    *,
    overwrite: bool,
    inputs: Iterable[Path | str | None] = (),
) -> tuple[Finding, ...]:
    """Check that a page can be written, before the work starts.

    Parameters
    ----------
    page : path or None
        None where no page is wanted.
    overwrite : bool
        Replace a file that exists.
    inputs : iterable of path or None
        Files that the command reads; None is left out.

    Returns
    -------
    tuple of Finding
        Leftovers that were removed.

    Raises
    ------
    FileError
        If the page's name is that of another kind of file, exists, is an input, or
        cannot be written.
    """
    if page is None:
        return ()
    named = [each for each in inputs if each is not None]
    check_suffix(page, ".html", ".htm", kind="page")
    return tuple(check_output(page, overwrite=overwrite, inputs=named))
