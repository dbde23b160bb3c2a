"""Add a strip to a calibration, judge all its strips, draw their charts."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from negcurve.darkroom.cautions import Caution, cautions_for
from negcurve.errors import RecordError
from negcurve.files.readings_csv import read_readings
from negcurve.files.safe import check_output
from negcurve.plots.history_plot import history_figure
from negcurve.plots.style import save_figure
from negcurve.readings import Readings
from negcurve.record import Entry, Record, open_record
from negcurve.tasks.record import folder_of, time_of
from negcurve.values import Finding
from negcurve.watch.deviation import Deviation
from negcurve.watch.judgement import Judgement


@dataclass(frozen=True, eq=False, kw_only=True)
class StripResult:
    """A strip that was added, and what all strips now say."""

    entry: Entry
    strip: Entry
    deviation: Deviation
    judgement: Judgement
    plot: Path | None
    cautions: tuple[Caution, ...]
    findings: tuple[Finding, ...]


def strip(
    folder: Path | str | None,
    readings: Path | str,
    name: str,
    *,
    circumstances: Mapping[str, str] | None = None,
    remarks: str = "",
    when: str = "",
    plot: Path | str | None = None,
    overwrite: bool = False,
) -> StripResult:
    """Add a strip to a calibration and judge all its strips."""
    if plot is not None:
        check_output(plot, overwrite=overwrite, inputs=[readings])
    record = open_record(folder_of(folder))
    entry = record.get(name, retired=False)
    print_read = read_readings(readings)
    _refuse_again(record, entry, print_read)
    added, found = record.add_strip(
        entry,
        print_read,
        circumstances=dict(circumstances or {}),
        remarks=remarks,
        time=time_of(when),
    )
    strips = record.strips(entry)
    judgement = record.judgement(entry)
    place = [each.key for each in strips].index(added.key)
    if plot is not None:
        figure = history_figure(judgement, times=[each.time for each in strips])
        save_figure(figure, plot, overwrite=overwrite)
    return StripResult(
        entry=entry,
        strip=added,
        deviation=record.deviations(entry)[place],
        judgement=judgement,
        plot=None if plot is None else Path(plot),
        cautions=_cautions(entry, judgement),
        findings=(*found, *judgement.findings),
    )


def _cautions(entry: Entry, judgement: Judgement) -> tuple[Caution, ...]:
    """Return the cautions for the work that the verdict leads to."""
    if judgement.kind in ("in control", "unreadable"):
        return ()
    words = [str(value) for value in entry.circumstances.values()]
    return cautions_for(words, light=True)


def _refuse_again(record: Record, entry: Entry, readings: Readings) -> None:
    """Refuse readings that are in the record already."""
    for each in record.strips(entry):
        old = record.readings(each)
        if old.sheet == readings.sheet and np.array_equal(
            old.density, readings.density
        ):
            raise RecordError(
                f"is in the record already, as {each.key}",
                where=readings.source or f"sheet {readings.sheet}",
                fix="Nothing was added.",
            )
