"""Write the whole story of a calibration on one page."""

from collections.abc import Sequence
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np

from negcurve.files.pictures import encoding_of, open_picture
from negcurve.files.readings_csv import read_readings
from negcurve.files.safe import write_text
from negcurve.files.solution_json import read_solution
from negcurve.reading.reduced import reduce_source
from negcurve.record import Record, open_record
from negcurve.report.page import Picture
from negcurve.report.sections import Story, report_html
from negcurve.report.thumbnail import LONGEST_PX, thumbnail
from negcurve.response.checking import check
from negcurve.response.solution import Solution
from negcurve.tasks.evenness import target_size
from negcurve.tasks.one_source import check_one_source
from negcurve.tasks.page_file import check_page
from negcurve.tasks.record import folder_of
from negcurve.values import Finding, Progress, no_progress
from negcurve.watch.even_sheet import is_even, sheet_from_readings
from negcurve.watch.evenness import Evenness, study
from negcurve.watch.judgement import Judgement


@dataclass(frozen=True, eq=False, kw_only=True)
class ReportOptions:
    """What `report` takes.

    Attributes
    ----------
    output : path
        The page, HTML.
    table : path or None
        A solution; or else `record`.
    record : str
        Name of a calibration in the record.
    record_dir : path or None
    checks : sequence of path
        Readings of prints made through the table.
    target, scan : path, optional
        Pictures to show small.
    before, after : path, optional
        Pictures to show side by side.
    title : str
    overwrite : bool
    """

    output: Path | str
    table: Path | str | None = None
    record: str = ""
    record_dir: Path | str | None = None
    checks: Sequence[Path | str] = ()
    target: Path | str | None = None
    scan: Path | str | None = None
    before: Path | str | None = None
    after: Path | str | None = None
    title: str = ""
    overwrite: bool = False


@dataclass(frozen=True, eq=False, kw_only=True)
class ReportResult:
    """A page that was written."""

    output: Path
    size_bytes: int
    figures: int
    findings: tuple[Finding, ...]


@dataclass(frozen=True, eq=False, kw_only=True)
class _Kept:
    """What a record adds to a solution."""

    solution: Solution
    name: str
    solution_name: str
    circumstances: dict[str, str]
    remarks: str = ""
    judgement: Judgement | None = None
    times: tuple[datetime, ...] = ()


def report(options: ReportOptions, *, progress: Progress = no_progress) -> ReportResult:
    """Write the page; see `ReportOptions`."""
    found = list(
        check_page(options.output, overwrite=options.overwrite, inputs=_inputs(options))
    )
    progress("reading", 0.0)
    kept = _kept(options)
    solution = kept.solution
    checks = tuple(check([read_readings(path)], solution) for path in options.checks)
    progress("looking at the sheet", 0.3)
    evenness = _evenness(solution, beside=options.table or options.output)
    progress("drawing", 0.5)
    html = report_html(
        Story(
            name=options.title or kept.name,
            solution=solution,
            solution_name=kept.solution_name,
            checks=checks,
            pictures=_pictures(
                (options.target, "target", "The target as it is printed on film."),
                (options.scan, "scan", "The scan of the printed target."),
            ),
            before_after=_pictures(
                (options.before, "before", "Without the table."),
                (options.after, "after", "With the table."),
            ),
            evenness=evenness,
            judgement=kept.judgement,
            times=kept.times,
            circumstances=kept.circumstances,
            remarks=kept.remarks,
        )
    )
    write_text(options.output, html, overwrite=options.overwrite)
    return ReportResult(
        output=Path(options.output),
        size_bytes=len(html.encode()),
        figures=html.count("<figure>"),
        findings=tuple(found),
    )


def _inputs(options: ReportOptions) -> list[Path | str]:
    named = [options.table, options.target, options.scan, options.before, options.after]
    return [*options.checks, *(each for each in named if each is not None)]


def _kept(options: ReportOptions) -> _Kept:
    check_one_source(options.table, options.record)
    if options.table is not None:
        return _Kept(
            solution=read_solution(options.table),
            name=f"Calibration {Path(options.table).stem}",
            solution_name=Path(options.table).name,
            circumstances={},
        )
    return _from_record(open_record(folder_of(options.record_dir)), options.record)


def _from_record(record: Record, name: str) -> _Kept:
    entry = record.get(name)
    strips = record.strips(entry)
    return _Kept(
        solution=record.solution(entry),
        name=entry.name,
        solution_name=record.solution_path(entry).name,
        circumstances={key: str(value) for key, value in entry.circumstances.items()},
        remarks=entry.remarks,
        judgement=record.judgement(entry) if strips else None,
        times=tuple(each.time for each in strips),
    )


def _evenness(solution: Solution, *, beside: Path | str) -> Evenness | None:
    """Study the newest print whose readings have places."""
    for readings in reversed(solution.readings):
        enough = len(readings) >= 20 and readings.placed and not is_even(readings)
        if enough and np.ptp(readings.x_mm) > 40 and np.ptp(readings.y_mm) > 40:
            size = target_size(beside, readings)
            return study([sheet_from_readings(readings, solution, size_mm=size)])
    return None


def _pictures(
    *named: tuple[Path | str | None, str, str],
) -> tuple[Picture, ...]:
    """Make small pictures of the files that were named, as a screen shows them."""
    made = []
    for path, what, text in named:
        if path is None:
            continue
        with closing(open_picture(path)) as source:
            encoding, _ = encoding_of(source)
            small = reduce_source(source, longest=3 * LONGEST_PX).levels
            shown = np.asarray(small, dtype=np.float64)
            if encoding.name != "sRGB":
                luminance = np.clip(encoding.luminance(shown), 0, 1)
                shown = _srgb(luminance)[..., None]
        made.append(
            thumbnail(
                shown.astype(np.float32),
                caption=f"{what}: {Path(path).name}",
                text=text,
            )
        )
    return tuple(made)


def _srgb(luminance: np.ndarray) -> np.ndarray:
    """Return the screen's level of a luminance; IEC 61966-2-1:1999, equations 5, 6."""
    return np.where(
        luminance <= 0.0031308,
        12.92 * luminance,
        1.055 * np.power(np.maximum(luminance, 1e-9), 1 / 2.4) - 0.055,
    )
