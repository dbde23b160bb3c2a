"""Digital negatives for hand-coated contact printing.

The public names load on first use, so that importing the package costs nothing.
"""

from typing import TYPE_CHECKING

from negcurve.late import late_names

# Loaded late so that `negcurve --help` and `import negcurve` load no numpy.
if TYPE_CHECKING:
    from negcurve.errors import NegcurveError as NegcurveError
    from negcurve.files.readings_csv import read_readings as read_readings
    from negcurve.files.readings_csv import write_readings as write_readings
    from negcurve.files.solution_json import read_solution as read_solution
    from negcurve.files.solution_json import write_solution as write_solution
    from negcurve.readings import Readings as Readings
    from negcurve.response.aim import Aim as Aim
    from negcurve.response.checking import check as check
    from negcurve.response.solution import Solution as Solution
    from negcurve.response.solving import solve as solve
    from negcurve.response.table import LookupTable as LookupTable
    from negcurve.response.verdict import Check as Check
    from negcurve.tasks.apply import apply_table as apply_table
    from negcurve.tasks.export import export_table as export_table
    from negcurve.tasks.read import read_scan as read_scan
    from negcurve.tasks.target import make_target as make_target

__version__ = "0.1.0"

_PLACES = {
    "Aim": "negcurve.response.aim",
    "Check": "negcurve.response.verdict",
    "LookupTable": "negcurve.response.table",
    "NegcurveError": "negcurve.errors",
    "Readings": "negcurve.readings",
    "Solution": "negcurve.response.solution",
    "apply_table": "negcurve.tasks.apply",
    "check": "negcurve.response.checking",
    "export_table": "negcurve.tasks.export",
    "make_target": "negcurve.tasks.target",
    "read_readings": "negcurve.files.readings_csv",
    "read_scan": "negcurve.tasks.read",
    "read_solution": "negcurve.files.solution_json",
    "solve": "negcurve.response.solving",
    "write_readings": "negcurve.files.readings_csv",
    "write_solution": "negcurve.files.solution_json",
}

__all__ = [
    "Aim",
    "Check",
    "LookupTable",
    "NegcurveError",
    "Readings",
    "Solution",
    "__version__",
    "apply_table",
    "check",
    "export_table",
    "make_target",
    "read_readings",
    "read_scan",
    "read_solution",
    "solve",
    "write_readings",
    "write_solution",
]

__getattr__, __dir__ = late_names(__name__, _PLACES, __all__)
