"""Digital negatives for hand-coated contact printing.

The public names load on first use, so that importing the package costs nothing.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

# Loaded late so that `negcurve --help` and `import negcurve` load no numpy.
if TYPE_CHECKING:
    from negcurve.files.readings_csv import read_readings as read_readings
    from negcurve.files.readings_csv import write_readings as write_readings
    from negcurve.readings import Readings as Readings
    from negcurve.tasks.apply import apply_table as apply_table
    from negcurve.tasks.read import read_scan as read_scan
    from negcurve.tasks.target import make_target as make_target

__version__ = "0.1.0"

_PLACES = {
    "Readings": "negcurve.readings",
    "apply_table": "negcurve.tasks.apply",
    "make_target": "negcurve.tasks.target",
    "read_readings": "negcurve.files.readings_csv",
    "read_scan": "negcurve.tasks.read",
    "write_readings": "negcurve.files.readings_csv",
}

__all__ = [
    "Readings",
    "__version__",
    "apply_table",
    "make_target",
    "read_readings",
    "read_scan",
    "write_readings",
]


def __getattr__(name: str) -> Any:
    if name not in _PLACES:
        raise AttributeError(f"module 'negcurve' has no attribute {name!r}")
    return getattr(import_module(_PLACES[name]), name)


def __dir__() -> list[str]:
    return sorted(__all__)
