"""Names of a package that load on first use.

So `import negcurve` and `negcurve --help` load no numpy, and a command only what it
needs.
"""

from collections.abc import Callable, Iterable, Mapping
from importlib import import_module
from typing import Any


def late_names(
    package: str, places: Mapping[str, str], names: Iterable[str]
) -> tuple[Callable[[str], Any], Callable[[], list[str]]]:
    """Return a package's `__getattr__` and `__dir__`.

    Parameters
    ----------
    package : str
        Its full name, for messages.
    places : mapping of str to str
        Late names to the modules that hold them.
    names : iterable of str
        All public names.

    Notes
    -----
    Source: PEP 562, module `__getattr__` and `__dir__`.
    """

    def get(name: str) -> Any:
        if name not in places:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        return getattr(import_module(places[name]), name)

    def listed() -> list[str]:
        return sorted(names)

    return get, listed
