"""What the page says, section by section, from finished results.

Knows how to tell the story of a calibration; every number comes from its parts.
"""

import shlex
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

import numpy as np

from negcurve.darkroom.cautions import cautions_for
from negcurve.plots.check_plot import check_figure
from negcurve.plots.field_plot import field_figure
from negcurve.plots.history_plot import history_figure
from negcurve.plots.response_plot import response_figure
from negcurve.readings import Readings
from negcurve.report.page import Page, Picture
from negcurve.response.solution import Solution
from negcurve.response.verdict import Check
from negcurve.values import Finding
from negcurve.watch.evenness import Evenness
from negcurve.watch.evenness_words import evenness_findings
from negcurve.watch.judgement import Judgement

MOST_STRAYS = 20


@dataclass(frozen=True, eq=False, kw_only=True)
class Story:
    """All that a page can tell; only the solution is needed.

    Attributes
    ----------
    name : str
        Of the calibration.
    solution : Solution
    solution_name : str
        File name of the solution, for the commands.
    checks : tuple of Check
    pictures : tuple of Picture
        Target, scan and the like.
    before_after : tuple of Picture
    evenness : Evenness or None
    judgement : Judgement or None
    times : tuple of datetime
        Of the strips.
    circumstances : dict of str to str
        Beside the solution's notes.
    remarks : str
    commands : tuple of str
        How to repeat it.
    """

    name: str
    solution: Solution
    solution_name: str = "table.json"
    checks: tuple[Check, ...] = ()
    pictures: tuple[Picture, ...] = ()
    before_after: tuple[Picture, ...] = ()
    evenness: Evenness | None = None
    judgement: Judgement | None = None
    times: tuple[datetime, ...] = ()
    circumstances: dict[str, str] = field(default_factory=dict)
    remarks: str = ""
    commands: tuple[str, ...] = ()


def report_html(story: Story) -> str:
    """Write the page.

    Parameters
    ----------
    story : Story

    Returns
    -------
    str
        One HTML document with everything in it; the same for the same story.
    """
    page = Page(title=story.name, lead=_lead(story))
    if story.pictures:
        page.section("Target and scan")
        page.pictures(story.pictures)
    _readings(page, story.solution)
    _response(page, story.solution)
    for check in story.checks:
        _check(page, check, story.solution)
    if story.before_after:
        page.section("Before and after")
        page.pictures(story.before_after)
    if story.evenness is not None:
        page.section("Evenness")
        page.figure(field_figure(story.evenness))
        page.findings(evenness_findings(story.evenness))
    if story.judgement is not None:
        _history(page, story.judgement, story.times)
    _circumstances(page, story)
    _cautions(page, story)
    page.section("How to repeat it")
    page.commands(story.commands or commands_for(story))
    return page.html()


def _lead(story: Story) -> str:
    ends, solution = story.solution.ends, story.solution
    sheets = len({each.sheet for each in solution.readings}) or 1
    text = (
        f"Table {solution.table.identity}, aim {solution.aim.name}, from "
        f"{sum(map(len, solution.readings))} readings of {sheets} "
        f"{'print' if sheets == 1 else 'prints'}. The print runs from D "
        f"{ends.white_density:.2f} (L* {ends.white_lightness:.0f}) to D "
        f"{ends.black_density:.2f} (L* {ends.black_lightness:.0f})."
    )
    if story.checks:
        last = story.checks[-1]
        text += f" Last check: {last.verdict}, {last.rms:.1f} L* rms."
    if story.judgement is not None:
        text += f" Strips: {story.judgement.kind}."
    return text


def _readings(page: Page, solution: Solution) -> None:
    page.section("Readings")
    rows = []
    for each in solution.readings:
        low, high = float(each.density.min()), float(each.density.max())
        rows.append(
            (
                each.sheet,
                each.source or "not told",
                each.target or "not told",
                str(len(each)),
                str(int(each.flagged("stray").sum())),
                f"{low:.2f} to {high:.2f}",
            )
        )
    page.table(
        ("print", "read from", "target", "readings", "strays", "density, D"),
        rows,
        caption="What was read, one line a print",
        numbers=3,
    )
    strays = [row for each in solution.readings for row in _strays(each, solution)]
    if strays:
        shown = sorted(strays, key=lambda row: -abs(float(row[3])))[:MOST_STRAYS]
        page.table(
            ("patch", "negative level", "density, D", "away from the response, D"),
            shown,
            caption="Readings that were left out as strays"
            + (f", the {MOST_STRAYS} largest" if len(strays) > MOST_STRAYS else ""),
            numbers=3,
        )
    else:
        page.paragraph("No reading was marked as a stray.", quiet=True)


def _strays(readings: Readings, solution: Solution) -> list[tuple[str, str, str, str]]:
    rows = []
    for place in np.flatnonzero(readings.flagged("stray")):
        level, density = readings.negative_level[place], readings.density[place]
        away = float(np.nan_to_num(density - solution.response.density(level)))
        rows.append(
            (
                readings.row_name(int(place)),
                f"{level:.3f}",
                f"{density:.2f}",
                f"{away:+z.3f}",
            )
        )
    return rows


def _response(page: Page, solution: Solution) -> None:
    page.section("Response, aim and table")
    page.figure(response_figure(solution))
    tones = np.linspace(0, 1, 11)
    levels = solution.table.negative_level(tones)
    printed = solution.printed_density(tones)
    page.table(
        ("image tone", "negative level", "print density, D", "print L*"),
        [
            (f"{tone:.1f}", f"{level:.3f}", f"{density:.2f}", f"{lightness:.0f}")
            for tone, level, density, lightness in zip(
                tones,
                levels,
                printed,
                solution.aim.lightness(tones),
                strict=True,
            )
        ],
        caption="The table at eleven tones, with the print that it aims at",
        numbers=4,
    )
    page.findings(solution.findings)


def _check(page: Page, check: Check, solution: Solution) -> None:
    page.section(f"Check: print {check.sheet}")
    page.paragraph(
        f"Verdict: {check.verdict}. {check.advice} Error {check.rms:.1f} L* rms, 95 % "
        f"within {check.percentile_95:.1f}, worst {check.worst:+z.1f} L*."
    )
    page.figure(check_figure(check, solution))
    page.findings(check.findings)


def _history(page: Page, judgement: Judgement, times: Sequence[datetime]) -> None:
    page.section("History: strips of later sessions")
    page.paragraph(f"Verdict: {judgement.kind}. {judgement.advice}")
    page.figure(history_figure(judgement, times=times))
    if judgement.causes:
        page.paragraph("Likely causes, in order:")
        page.items(judgement.causes)
    page.findings(judgement.findings)


def _circumstances(page: Page, story: Story) -> None:
    page.section(
        "Circumstances",
        "The table holds for these; change one, and print a strip before an edition.",
    )
    told = {**story.solution.notes, **story.circumstances}
    path = {f"printer: {k}": v for k, v in story.solution.printer_path.items()}
    rows = [
        (key.replace("_", " "), str(value)) for key, value in {**told, **path}.items()
    ]
    if rows:
        page.table(("circumstance", "value"), rows, caption="As noted")
    else:
        page.findings(
            [
                Finding(
                    severity="warning",
                    what="nothing was noted about exposure, paper or chemistry",
                    fix="Keep them with `negcurve solve --note` or `negcurve record`",
                )
            ]
        )
    if story.remarks:
        page.paragraph(story.remarks)


def _cautions(page: Page, story: Story) -> None:
    words = [*story.solution.notes.values(), *story.circumstances.values()]
    page.section(
        "Cautions",
        "Printing means UV light and often toxic salts. Read the current safety data "
        "sheet of each substance and your local code; have work that needs a licence "
        "done by those who hold one.",
    )
    page.items(str(each) for each in cautions_for(map(str, words), light=True))


def commands_for(story: Story) -> tuple[str, ...]:
    """Return the commands that lead to this table again, and on from it."""
    solution = story.solution
    sources = [each.source for each in solution.readings if each.source]
    options = solution.options
    aim = options.get("aim", "lightness")
    solve = ["negcurve", "solve", *(_csv(each) for each in sources or ["readings"])]
    solve += ["-o", story.solution_name]
    if isinstance(aim, str):
        solve += ["--aim", aim]
    if "black_share" in options:
        solve += ["--black-share", f"{options['black_share']:g}"]
    for key, value in solution.notes.items():
        solve += ["--note", f"{key}={value}"]
    read = [
        shlex.join(["negcurve", "read", each, "-o", _csv(each)])
        for each in sources
        if not each.lower().endswith(".csv")
    ]
    return (
        *read,
        shlex.join(solve),
        shlex.join(
            [
                "negcurve",
                "apply",
                "picture.tif",
                "-o",
                "negative.tif",
                "--table",
                story.solution_name,
            ]
        ),
        shlex.join(["negcurve", "check", "print.csv", "--table", story.solution_name]),
    )


def _csv(source: str) -> str:
    return (
        source if source.lower().endswith(".csv") else source.rsplit(".", 1)[0] + ".csv"
    )
