"""From readings to a solution.

Puts the steps in order: pool, find where the response turns back, fit tone and place
together, find the ends, aim, table. Each step's own rules are in its module.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from negcurve.curves import Effect, fit_monotone, turning_points
from negcurve.errors import SolveError
from negcurve.readings import Readings
from negcurve.response.aim import Aim, reachable_aim, scaled_aim, straight_aim
from negcurve.response.apart import exposed_more, told_apart
from negcurve.response.ends import Ends, find_ends
from negcurve.response.fields import field_findings, place_effects, unevenness
from negcurve.response.film import FilmData
from negcurve.response.fitted import Fitted, band_findings, stray_findings
from negcurve.response.pooling import Mask, Pool, pooled
from negcurve.response.refusals import check_aim_kind, check_spread
from negcurve.response.response import Response
from negcurve.response.sheets import sheet_effects, sheet_findings, sheet_terms
from negcurve.response.solution import Solution
from negcurve.response.table import make_table
from negcurve.values import Finding, FloatArray

SHEET_ERROR = 0.03
"""Spread from print to print of a hand-coated process, in density, until a record
says better. Common practice (0.02 to 0.04 D), no source."""

TOO_NOISY = 0.15
"""Noise over the density range from which a response cannot be trusted."""


def solve(
    readings: Sequence[Readings],
    *,
    aim: str | Aim = "lightness",
    black_share: float = 0.98,
    scale_aim: bool = False,
    sheet_error: float | None = None,
    follow_newest: bool = False,
    notes: Mapping[str, str] | None = None,
    film: FilmData | None = None,
    stops: float = 0.0,
) -> Solution:
    """Solve readings to a lookup table and a response.

    Parameters
    ----------
    readings : sequence of Readings
        Of one print or several, any mixture of first targets, targets printed through
        a table and checks, the newest last. Those with one `sheet` are one print.
    aim : {"lightness", "density", "luminance"} or Aim
        Wanted print tones; an `Aim` is taken absolutely.
    black_share : float
        Share of the density range that image tone 0 asks for, 0.5..1. [1]
    scale_aim : bool
        Stretch an `Aim` to this print's own ends.
    sheet_error : float, optional
        Spread from print to print, standard deviation; 0.03 D, unverified, if not
        given. [D]
    follow_newest : bool
        The newest sheet differs for good: the table follows it, older sheets only
        lend their shape.
    notes : mapping of str to str, optional
        What the table holds for: exposure, lamp, paper, development and so on.
    film : FilmData, optional
        Known film, for prints without a step tablet: exposures are then in stops.
    stops : float
        Predict the table for so much more exposure. Needs a tablet or known film.
        [stops]

    Returns
    -------
    Solution

    Raises
    ------
    ReadingsError
        If readings are wet, mixed, contradictory or too few; rows are named.
    SolveError
        If the response has no monotone part to invert.
    """
    pool = pooled(readings)
    about_kind = check_aim_kind(readings, aim)
    pool, turned = _rising_part(pool)
    fitted = _fit(pool, newest=follow_newest)
    _check_signal(fitted)
    response = _response(fitted, sheet_error)
    apart = told_apart(pool, readings, film=film)
    response, exposed = exposed_more(response, apart, stops)
    ends, end_findings = find_ends(response, black_share=black_share, white=pool.white)
    wanted, aim_findings = wanted_aim(aim, ends, response, scale=scale_aim)
    effects = sheet_effects(pool, fitted.fit, newest=follow_newest)
    maps = tuple(
        unevenness(sheet, fitted.rows(which), fitted.fit, fitted.places[which])
        for which, sheet in enumerate(pool.sheets)
    )
    fields = tuple(each for each in maps if each is not None)
    findings = (
        # Notes were said when the prints were read.
        *(w for one in readings for w in one.findings if w.severity == "warning"),
        *about_kind,
        *pool.findings,
        *turned,
        *(each for place in fitted.places for each in place.findings),
        *field_findings(fields),
        *stray_findings(fitted),
        *sheet_findings(pool, fitted.fit, newest=follow_newest),
        *((each for each in apart.findings) if apart else ()),
        *exposed,
        *end_findings,
        *aim_findings,
        *band_findings(response, fitted, verified=sheet_error is not None),
    )
    return Solution(
        table=make_table(response, wanted, ends),
        response=response,
        aim=wanted,
        ends=ends,
        noise=fitted.noise,
        weights=pool.spread(fitted.fit.weights, sum(map(len, readings))),
        unevenness=fields,
        sheet_effects=effects,
        findings=findings,
        notes=dict(notes or {}),
        readings=tuple(readings),
        options={
            "aim": aim if isinstance(aim, str) else aim.document(),
            "black_share": black_share,
            "scale_aim": scale_aim,
            "sheet_error": sheet_error,
            "follow_newest": follow_newest,
            "film": None if film is None else film.document(),
            "stops": stops,
        },
        printer_path=dict(readings[-1].printer_path),
        film=apart.film if apart else None,
        paper=apart.paper if apart else None,
        exposures=apart.exposures if apart else (),
    )


def solve_again(
    old: Solution, readings: Sequence[Readings] = (), **changes: Any
) -> Solution:
    """Repeat an old solution with its own readings and options.

    Parameters
    ----------
    old : Solution
    readings : sequence of Readings
        Further prints, newer than the old ones.
    **changes
        Arguments of `solve` to change; those that are None are kept.

    Returns
    -------
    Solution
    """
    kept = {key: value for key, value in old.options.items() if value is not None}
    if isinstance(kept.get("aim"), Mapping):
        kept["aim"] = Aim.from_document(kept["aim"])
    if isinstance(kept.get("film"), Mapping):
        kept["film"] = FilmData.from_document(kept["film"])
    given = {key: value for key, value in changes.items() if value is not None}
    notes = {**old.notes, **given.pop("notes", {})}
    return solve([*old.readings, *readings], **{**kept, **given}, notes=notes)


def _rising_part(pool: Pool) -> tuple[Pool, tuple[Finding, ...]]:
    """Leave out readings beyond a turn at either end."""
    bottom, top = turning_points(pool.level, pool.density)
    bottom, top = _with_neighbours(pool, bottom, top)
    rows = (pool.level >= bottom) & (pool.level <= top)
    if rows.all():
        return pool, ()
    if len(np.unique(pool.level[rows])) < 8:
        raise SolveError(
            f"density rises only between levels {bottom:.2f} and {top:.2f}, too few to "
            "invert",
            fix="Check exposure and ink, then print the target again.",
        )
    findings = []
    if top < pool.level.max():
        findings.append(
            _turn(
                f"above level {top:.3f} density falls again",
                "Expose less, or look for ink that bleeds or lifts near clear film.",
                pool,
                rows,
            )
        )
    if bottom > pool.level.min():
        findings.append(
            _turn(
                f"below level {bottom:.3f} density rises again",
                "Use less ink: the heaviest prints darker.",
                pool,
                rows,
            )
        )
    return pool.chosen(rows), tuple(findings)


def _with_neighbours(pool: Pool, bottom: float, top: float) -> tuple[float, float]:
    """Move each turn to the level beside it that reaches farther.

    A turn lies between two levels that were printed; leaving out the one beyond it
    would lose range wherever that still prints darker (or lighter) than the other.
    """
    level, place = np.unique(pool.level, return_inverse=True)
    density = np.bincount(place, pool.density) / np.bincount(place)
    after = int(np.searchsorted(level, top))
    if 0 < after < len(level) and density[after] >= density[after - 1]:
        top = float(level[after])
    before = int(np.searchsorted(level, bottom, side="right")) - 1
    if 0 <= before < len(level) - 1 and density[before] <= density[before + 1]:
        bottom = float(level[before])
    return bottom, top


def _turn(what: str, fix: str, pool: Pool, rows: Mask) -> Finding:
    return Finding(
        severity="warning",
        where="response",
        what=f"{what} by more than 3 standard errors; only the rising part is used "
        f"({int((~rows).sum())} of {len(pool.level)} readings left out)",
        fix=fix,
    )


def _fit(pool: Pool, *, newest: bool) -> Fitted:
    places = tuple(
        place_effects(sheet, np.flatnonzero(pool.sheet == which), len(pool.level))
        for which, sheet in enumerate(pool.sheets)
    )
    effects: list[Effect] = list(sheet_terms(pool, newest=newest))
    for place in places:
        effects += place.effects
    fit = fit_monotone(
        pool.level,
        pool.density,
        effects=effects,
        relative_error=_relative_error(pool),
    )
    return Fitted(pool=pool, fit=fit, places=places, newest=newest)


def _relative_error(pool: Pool) -> FloatArray:
    """Trust a reading less where its own patch was worse than the others.

    The standard error within a patch is only part of the noise from patch to patch, so
    only its excess over the median counts, against the weak guess of the noise.
    """
    own = pool.standard_error
    if not np.isfinite(own).any():
        return np.ones(len(own))
    excess = np.nan_to_num(own**2 - np.nanmedian(own) ** 2)
    return np.asarray(np.sqrt(1 + np.maximum(excess, 0) / 0.01**2))


def _check_signal(fitted: Fitted) -> None:
    span = float(np.ptp(fitted.fit.value))
    noise = float(np.median(fitted.fit.noise))
    if noise > TOO_NOISY * span:
        raise SolveError(
            f"the readings scatter by {noise:.2f} D about any monotone response, whose "
            f"whole range is {span:.2f} D",
            fix="Check that the readings belong to these patches; read again.",
        )


def _response(fitted: Fitted, sheet_error: float | None) -> Response:
    spread = SHEET_ERROR if sheet_error is None else sheet_error
    check_spread(spread)
    fit = fitted.fit
    return Response(
        level_nodes=fit.abscissa,
        density_nodes=fit.value,
        error_nodes=fit.error,
        sheet_error=spread,
        sheets=1 if fitted.newest else len(fitted.pool),
    )


def wanted_aim(
    aim: str | Aim, ends: Ends, response: Response, *, scale: bool
) -> tuple[Aim, tuple[Finding, ...]]:
    """Return the aim between these ends, and what it asks for in vain."""
    black, white = ends.black_density, ends.white_density
    if isinstance(aim, str):
        return straight_aim(aim, black_density=black, white_density=white), ()
    if scale:
        return scaled_aim(aim, black_density=black, white_density=white), ()
    darkest = float(response.density_nodes[-1])
    return reachable_aim(aim, black_density=darkest, white_density=white)
