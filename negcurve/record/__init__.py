"""The record of a darkroom: calibrations with their circumstances, strips, dry-down.

    import negcurve.record
    record = negcurve.record.open_record("record", create=True)
    entry = record.add(solution, name="matt paper", circumstances={"paper": "..."})
    record.add_strip(entry, readings)
    record.judgement(entry).kind

Entries are only added, never changed; taking out of service is an entry too.
"""

from negcurve.record.book import Record, open_record
from negcurve.record.comparison import Comparison, compare
from negcurve.record.entry import Entry

__all__ = ["Comparison", "Entry", "Record", "compare", "open_record"]
