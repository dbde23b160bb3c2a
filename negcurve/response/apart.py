"""Film and paper told apart, where a step tablet or known film lay on the sheet.

Knows which readings say what of film, paper and exposure; the fit itself is left to
`negcurve.curves`, the finished data are `film` and `paper`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from negcurve.curves.composed import ComposedFit, fit_composed
from negcurve.curves.model import Effect
from negcurve.errors import ReadingsError
from negcurve.readings import Readings
from negcurve.response.ends import AS_BLACK, AS_WHITE, LOST
from negcurve.response.fields import FEWEST, TERM_SIZE, TERMS
from negcurve.response.film import NODES, STOP, FilmData
from negcurve.response.paper import PaperCurve, SheetExposure
from negcurve.response.pooling import LEFT_OUT, Mask, Pool
from negcurve.response.response import Response
from negcurve.values import Finding, FloatArray

FEWEST_STEPS = 6
"""Usable steps below which a tablet says nothing of the paper."""

FIELD_TYPICAL = 0.02
"""Of one term of the field of light over the sheet. [log10]"""

COATING_TYPICAL = 0.01
"""Of one term, as relative change of density above D-min. [1]"""

FARTHEST = 1.6
"""Places beyond the patches count as no farther: half their breadth is 1."""

SHEET_TYPICAL = 0.2
"""Spread of exposure from print to print, a stop now and then. [log10]"""

HEIGHT_TYPICAL = 0.03
OFFSET_TYPICAL = 0.01
"""Of a sheet: density above D-min, relative, and D-min. Common practice, no source."""

CLEAR_TYPICAL = 0.1
"""Of the levels that were left out beyond a turn at the clear end. [log10]"""

BASE_USUAL, BASE_TYPICAL = 0.1, 0.1
"""Printing density of clear film. [D] Common practice, no source."""

UNLIT = 0.5
"""Log exposure below that of the densest step that stands for no light at all."""

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


@dataclass(frozen=True, eq=False, kw_only=True)
class _Rows:
    """Patches and tablet steps of all sheets in one row, shape (n,) each."""

    value: FloatArray
    known: FloatArray
    inner: FloatArray
    x_mm: FloatArray
    y_mm: FloatArray
    sheet: FloatArray
    step: Mask
    on_film: Mask


def usable_steps(readings: Readings) -> Readings:
    """Return the readings of tablet steps that can be used; may be empty."""
    return readings.chosen(readings.on_tablet & ~readings.flagged(*LEFT_OUT))


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
    rows = _rows(pool, readings, None if measured else film)
    reference = _reference(pool, rows) if measured else 0
    effects = [
        *_sheet_effects(rows, reference, count=len(pool)),
        *_place_effects(rows),
        *_film_effects(pool, rows),
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


def _rows(pool: Pool, readings: Sequence[Readings], film: FilmData | None) -> _Rows:
    names = [each.sheet for each in pool.sheets]
    steps = [(each, usable_steps(each)) for each in readings if each.sheet in names]
    white = [
        each.chosen(each.flagged("covered") & ~each.on_tablet) for each in readings
    ]
    patches = np.concatenate([each.negative_level for each in pool.sheets])
    known = np.zeros(len(patches)) if film is None else -film.density(patches)
    if not np.isfinite(known).all():
        raise ReadingsError(
            f"the film data end at level {film.level_nodes[0] if film else 0:.3f}, the "
            f"readings at {patches.min():.3f}",
            where="film",
        )
    tablet = [-s.tablet_density for _, s in steps]
    dark = min([float(each.min()) for each in tablet if len(each)] or [known.min()])
    parts = [
        *(
            _part(each, which, known[pool.sheet == which], inner=film is None)
            for which, each in enumerate(pool.sheets)
        ),
        *(
            _part(s, names.index(each.sheet), -s.tablet_density, step=True)
            for each, s in steps
        ),
        *(
            _part(each, names.index(each.sheet), np.full(len(each), dark - UNLIT))
            for each in white
            if each.sheet in names
        ),
    ]
    return _Rows(**{key: np.concatenate([p[key] for p in parts]) for key in parts[0]})


def _part(
    readings: Readings,
    sheet: int,
    known: FloatArray,
    *,
    inner: bool = False,
    step: bool = False,
) -> dict[str, FloatArray]:
    count = len(readings)
    bare = step and not readings.tablet_over_film
    return {
        "value": readings.density,
        "known": known + (BASE_USUAL if bare else 0.0),
        "inner": readings.negative_level if inner else np.full(count, np.nan),
        "x_mm": readings.x_mm,
        "y_mm": readings.y_mm,
        "sheet": np.full(count, float(sheet)),
        "step": np.full(count, step),
        "on_film": np.full(count, not bare),
    }


def _reference(pool: Pool, rows: _Rows) -> int:
    """Return the first sheet with enough steps."""
    counts = [
        int((rows.step & (rows.sheet == which)).sum()) for which in range(len(pool))
    ]
    return int(np.argmax(np.array(counts) >= FEWEST_STEPS))


def _sheet_effects(rows: _Rows, reference: int, *, count: int) -> list[Effect]:
    others = [which for which in range(count) if which != reference]
    if not others:
        return []
    columns = (rows.sheet[:, None] == np.array(others, dtype=float)).astype(float)
    sizes = (
        ("sheet exposure", "exposure", SHEET_TYPICAL),
        ("sheet height", "height", HEIGHT_TYPICAL),
        ("sheet offset", "plain", OFFSET_TYPICAL),
    )
    return [
        Effect(name=name, columns=columns, scale=scale, typical=typical, fixed=True)  # type: ignore[arg-type]  # the literals above
        for name, scale, typical in sizes
    ]


def _place_effects(rows: _Rows) -> list[Effect]:
    """Fields of light and of coating over each sheet, tablet included."""
    found = []
    for which in np.unique(rows.sheet):
        mine = rows.sheet == which
        terms = _terms(rows, mine)
        if terms is None:
            continue
        for name, scale, typical in (
            ("light", "exposure", FIELD_TYPICAL),
            ("coating", "height", COATING_TYPICAL),
        ):
            found.append(
                Effect(
                    name=f"{name} {which:.0f}",
                    columns=terms,
                    scale=scale,  # type: ignore[arg-type]  # the two literals above
                    typical=typical,
                )
            )
    return found


def _terms(rows: _Rows, mine: Mask) -> FloatArray | None:
    """Slow terms over one sheet, mean 0 over its patches; None without places."""
    patches = mine & ~rows.step
    x, y = rows.x_mm, rows.y_mm
    if patches.sum() < FEWEST or not np.isfinite(x[mine] + y[mine]).all():
        return None
    if np.ptp(x[patches]) == 0 or np.ptp(y[patches]) == 0:
        return None
    places = []
    for each in (x, y):
        low, high = each[patches].min(), each[patches].max()
        place = (2 * each - low - high) / (high - low)
        places.append(np.clip(place, -FARTHEST, FARTHEST))
    raw = np.column_stack(
        [
            size * places[0] ** across * places[1] ** down
            for (across, down), size in zip(TERMS, TERM_SIZE, strict=True)
        ]
    )
    return np.asarray(np.where(mine[:, None], raw - raw[patches].mean(axis=0), 0.0))


def _film_effects(pool: Pool, rows: _Rows) -> list[Effect]:
    found = []
    bare = ~rows.on_film
    if bare.any():
        found.append(
            Effect(
                name="base",
                columns=bare.astype(float)[:, None],
                scale="exposure",
                typical=BASE_TYPICAL,
                fixed=True,
            )
        )
    if pool.level.max() < 1 and np.isfinite(rows.inner).any():
        found.append(
            Effect(
                name="clear end",
                columns=np.isfinite(rows.inner).astype(float)[:, None],
                scale="exposure",
                typical=CLEAR_TYPICAL,
                fixed=True,
            )
        )
    return found


def _film(pool: Pool, fit: ComposedFit, rows: _Rows, sheet: str) -> FilmData:
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


def _paper(fit: ComposedFit, rows: _Rows, sheet: str) -> PaperCurve:
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
                what=f"predicted for {stops:+.2f} stop from print "
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
