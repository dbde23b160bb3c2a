"""Film and paper told apart, where a step tablet or known film lay on the sheet.

Knows which readings say what of film, paper and exposure; the fit itself is left to
`negcurve.curves`, the finished data are `film` and `paper`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from negcurve.curves.composed import ComposedFit, fit_composed
from negcurve.errors import ReadingsError
from negcurve.readings import Readings
from negcurve.response.apart_rows import (
    BASE_USUAL,
    ApartRows,
    film_effects_of,
    place_effects_of,
    rows_of,
    sheet_effects_of,
    usable_steps,
)
from negcurve.response.ends import AS_BLACK, AS_WHITE, LOST
from negcurve.response.film import NODES, STOP, FilmData
from negcurve.response.paper import PaperCurve, SheetExposure
from negcurve.response.pooling import Pool
from negcurve.response.response import Response
from negcurve.values import Finding, FloatArray

FEWEST_STEPS = 6
"""Usable steps below which a tablet says nothing of the paper."""

KNOWN = 0.06
"""Standard error beyond that at mid-tone up to which a printing density counts as
measured; that at mid-tone is one of the clear film they are relative to. [D]"""


@dataclass(frozen=True, eq=False, kw_only=True)
class Apart:
    """What could be told apart.

    Attributes
    ----------
    film : FilmData
        As measured, or as it was given.
    paper : PaperCurve
    exposures : tuple of SheetExposure
        Of every print but the one that they are compared with.
    fit : ComposedFit
    findings : tuple of Finding
    """

    film: FilmData
    paper: PaperCurve
    exposures: tuple[SheetExposure, ...]
    fit: ComposedFit
    findings: tuple[Finding, ...] = ()


def has_tablet(readings: Sequence[Readings]) -> bool:
    """Tell whether a print carries enough steps of a tablet to tell film from paper."""
    steps: dict[str, int] = {}
    for each in readings:
        steps[each.sheet] = steps.get(each.sheet, 0) + len(usable_steps(each))
    return max(steps.values(), default=0) >= FEWEST_STEPS


def told_apart(
    pool: Pool, readings: Sequence[Readings], *, film: FilmData | None
) -> Apart | None:
    """Tell film and paper apart where that is possible, else return None."""
    if film is None and not has_tablet(readings):
        return None
    return tell_apart(pool, readings, film=film)


def tell_apart(
    pool: Pool, readings: Sequence[Readings], *, film: FilmData | None = None
) -> Apart:
    """Tell film, paper and exposure apart.

    Parameters
    ----------
    pool : Pool
        Patches to use, of one paper and one chemistry.
    readings : sequence of Readings
        What the pool was made of; a tablet's steps are taken from here.
    film : FilmData, optional
        Known film, where no tablet lay on any of the sheets.

    Returns
    -------
    Apart

    Raises
    ------
    ReadingsError
        If there is neither a tablet nor film data.
    """
    measured = has_tablet(readings)
    if not measured and film is None:
        raise ReadingsError(
            "neither a step tablet nor film data say how dense the film is",
            where="film",
            fix="Lay a step tablet in the target's window, or give --film.",
        )
    rows = rows_of(pool, readings, None if measured else film)
    reference = _reference(pool, rows) if measured else 0
    effects = [
        *sheet_effects_of(rows, reference, count=len(pool)),
        *place_effects_of(rows),
        *film_effects_of(pool, rows),
    ]
    fit = fit_composed(
        rows.value,
        known=rows.known,
        inner=rows.inner if measured else None,
        effects=effects,
    )
    named = pool.sheets[reference].sheet
    found = film if film is not None and not measured else _film(pool, fit, rows, named)
    paper = _paper(fit, rows, named)
    return Apart(
        film=found,
        paper=paper,
        exposures=_exposures(pool, fit, reference, assumed=found.assumed),
        fit=fit,
        findings=(
            *_findings(found, measured=measured),
            *_over_exposed(found, paper),
        ),
    )


def _reference(pool: Pool, rows: ApartRows) -> int:
    """Return the first sheet with enough steps."""
    counts = [
        int((rows.step & (rows.sheet == which)).sum()) for which in range(len(pool))
    ]
    return int(np.argmax(np.array(counts) >= FEWEST_STEPS))


def _film(pool: Pool, fit: ComposedFit, rows: ApartRows, sheet: str) -> FilmData:
    level = np.linspace(float(pool.level.min()), 1.0, NODES)
    density, error = fit.inner(level)
    printed, _ = fit.composed(level)
    half = int(np.argmax(printed >= (printed[0] + printed[-1]) / 2))
    unknown = np.flatnonzero(error[:half] > error[half] + KNOWN)
    white = np.flatnonzero(printed <= fit.floor[0] + AS_WHITE)
    base, base_error = np.nan, np.nan
    if not rows.on_film.all():
        base = BASE_USUAL + float(fit.coefficients["base"][0])
        base_error = float(fit.coefficient_errors["base"][0])
    first = min(int(unknown[-1]) + 1 if len(unknown) else 0, NODES - 1)
    return FilmData(
        level_nodes=level,
        density_nodes=np.minimum.accumulate(density),
        error_nodes=error,
        base=base,
        base_error=base_error,
        least_ink_level=float(level[white[-1]]) if len(white) else np.nan,
        measured_from=float(level[first]),
        printer_path=dict(pool.sheets[0].printer_path),
        source=f"sheet {sheet}",
    )


def _paper(fit: ComposedFit, rows: ApartRows, sheet: str) -> PaperCurve:
    x = np.linspace(*fit.task.domain, NODES)
    density, error = fit.outer(x)
    known = rows.known[rows.step] if rows.step.any() else rows.known
    return PaperCurve(
        log_exposure_nodes=x,
        density_nodes=np.maximum.accumulate(density),
        error_nodes=error,
        measured=(float(known.min()), max(float(known.max()), 0.0)),
        sheet=sheet,
    )


def _exposures(
    pool: Pool, fit: ComposedFit, reference: int, *, assumed: bool
) -> tuple[SheetExposure, ...]:
    others = [which for which in range(len(pool)) if which != reference]
    return tuple(
        SheetExposure(
            sheet=pool.sheets[which].sheet,
            against=pool.sheets[reference].sheet,
            stops=float(fit.coefficients["sheet exposure"][place]) / STOP,
            standard_error=float(fit.coefficient_errors["sheet exposure"][place])
            / STOP,
            assumed=assumed,
        )
        for place, which in enumerate(others)
    )


def _findings(film: FilmData, *, measured: bool) -> tuple[Finding, ...]:
    if film.assumed:
        return (
            Finding(
                severity="note",
                where="film",
                what=f"stops rest on {film.source}, straight in level, not on a "
                "measurement",
            ),
        )
    if not measured or film.measured_from <= film.level_nodes[0]:
        return ()
    return (
        Finding(
            severity="note",
            where="film",
            what=f"printing density below level {film.measured_from:.3f} is continued: "
            "the print is white there",
            fix="A longer exposure or a paper of longer scale would measure it.",
        ),
    )


def _over_exposed(film: FilmData, paper: PaperCurve) -> tuple[Finding, ...]:
    """Say by how much clear film gets more light than black needs."""
    x = np.linspace(paper.log_exposure_nodes[0], 0.0, 1001)
    black = float(paper.density(0.0)) - AS_BLACK
    spare = -float(x[np.argmax(paper.density(x) >= black)])
    lost = float(np.mean(film.density_nodes < spare))
    if lost <= LOST:
        return ()
    assumed = " (assumed)" if film.assumed else ""
    return (
        Finding(
            severity="note",
            where="black",
            what=f"print {paper.sheet} got {spare / STOP:.1f} stop{assumed} more than "
            f"clear film needs to print within {AS_BLACK} D of its black",
        ),
    )


def exposed_more(
    response: Response, apart: Apart | None, stops: float
) -> tuple[Response, tuple[Finding, ...]]:
    """Predict the response for another exposure.

    Parameters
    ----------
    response : Response
        At the exposure of the prints.
    apart : Apart or None
    stops : float
        More exposure than that of the print they are compared with. [stops]

    Returns
    -------
    Response, tuple of Finding

    Raises
    ------
    ReadingsError
        If nothing tells film from paper.
    """
    if stops == 0:
        return response, ()
    if apart is None:
        raise ReadingsError(
            "a change in stops cannot be predicted from grey patches alone",
            where="stops",
            fix="Lay a step tablet in the target's window, or give --film.",
        )
    density, error = _predicted(apart, response.level_nodes, stops * STOP)
    assumed = ", with a film range that was typed" if apart.film.assumed else ""
    return (
        replace(
            response, density_nodes=np.maximum.accumulate(density), error_nodes=error
        ),
        (
            Finding(
                severity="warning",
                where="exposure",
                what=f"predicted for {stops:+z.2f} stop from print "
                f"{apart.paper.sheet}{assumed}, not printed",
                fix="Print a target through this table and check it.",
            ),
        ),
    )


def _predicted(
    apart: Apart, level: FloatArray, shift: float
) -> tuple[FloatArray, FloatArray]:
    if np.isfinite(apart.fit.task.inner).any():
        return apart.fit.composed(level, shift=shift)
    log_exposure = shift - apart.film.density(level)
    density, error = apart.fit.outer(log_exposure)
    own = apart.film.standard_error(level) * apart.paper.slope(log_exposure)
    return density, np.hypot(error, own)
