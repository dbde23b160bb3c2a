"""A print made through a table, against its aim: how far, how surely, and what next.

Knows the comparison and the advice; the table and its aim come from a solution.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import chdtr

from negcurve.curves import CurveFit, fit_monotone
from negcurve.density import lightness_from_density
from negcurve.errors import ReadingsError
from negcurve.readings import Readings
from negcurve.response.fields import place_effects, unevenness
from negcurve.response.fitted import MANY_STRAYS, STRAY
from negcurve.response.pooling import Pool, pooled
from negcurve.response.refusals import channel_findings, check_spread
from negcurve.response.solution import Solution, Unevenness
from negcurve.response.verdict import Check, Verdict
from negcurve.values import Finding, FloatArray

REAL = 0.95
"""Probability from which a difference is called more than a new sheet's noise."""

GOOD = 1.5
"""Printed error that is worth no further sheet, even where it is real. [L* rms]"""

FAR = 6.0
"""Printed error from which something has changed rather than drifted. [L* rms]"""

STRAY_SHARE = 0.08
"""Share of strays from which the print, not the table, wants looking at."""

UNEVEN = 0.1
"""Field at mid-tone, largest less smallest, from which it wants looking at. [D]

A lamp that varies by 10 % either way, still usable, prints 0.07 to 0.10 D at mid-tone
in a process of D-max 1.4 and exposure scale 1.8: common practice, no source.
"""

FEW_TONES = 20
"""Fewer than these, as on an edge strip, say little about the shape in between."""

CAUSE = "print"
"""Where findings point that ask for a cause before another table."""

SMOOTH_OVER = 0.3
"""Image tones over which what one sheet adds stays alike: common practice, no source.
"""

FIT_OVER = 0.1
"""Image tones over which errors of a fit stay alike: a few of its coefficients."""


@dataclass(frozen=True, eq=False, kw_only=True)
class _Compared:
    """Printed and wanted density at the tones that were printed."""

    tone: FloatArray
    printed: FloatArray
    wanted: FloatArray
    error: FloatArray


def check(
    readings: Sequence[Readings],
    solution: Solution,
    *,
    sheet_error: float | None = None,
) -> Check:
    """Compare a print with the aim of the table it was made through.

    Parameters
    ----------
    readings : sequence of Readings
        Of one print: a target printed through the table, or any steps.
    solution : Solution
        Of that table.
    sheet_error : float, optional
        Spread from print to print, standard deviation; the solution's if not given.
        [D]

    Returns
    -------
    Check

    Raises
    ------
    InvalidValueError
        If the spread is negative.
    ReadingsError
        If the readings cannot be used, or are of several prints.
    """
    pool = pooled(readings)
    _check_one_print(pool, solution)
    sheet = pool.sheets[0]
    places = place_effects(sheet, np.arange(len(sheet)), len(sheet))
    fit = fit_monotone(pool.level, pool.density, effects=places.effects)
    compared = _compared(pool, fit, solution)
    if sheet_error is not None:
        check_spread(sheet_error)
    spread = solution.response.sheet_error if sheet_error is None else sheet_error
    known = sheet_error is not None or solution.options.get("sheet_error") is not None
    ratio, real = _judged(compared, spread)
    field = unevenness(sheet, np.arange(len(sheet)), fit, places)
    causes = _causes(pool, fit, compared, field_range=_range_of(field))
    off = compared.printed - compared.wanted
    verdict, advice = _verdict(compared, real, causes, known=known, spread=spread)
    return Check(
        image_tone=compared.tone,
        printed_density=compared.printed,
        aim_density=compared.wanted,
        standard_error=compared.error,
        sheet_error=spread,
        sheet_error_verified=known,
        offset=float(off.mean()),
        offset_error=float(np.hypot(spread, compared.error.mean())),
        chi_square=ratio,
        real=real,
        verdict=verdict,
        advice=advice,
        sheet=sheet.sheet,
        unevenness=field,
        findings=(
            *sheet.findings,
            *pool.findings,
            *channel_findings(sheet),
            *places.findings,
            *_table_findings(pool, solution),
            *_own_readings(pool, solution),
            *_few_tones(compared, sheet.source or f"sheet {sheet.sheet}"),
            *causes,
        ),
    )


def _check_one_print(pool: Pool, solution: Solution) -> None:
    if len(pool) > 1:
        names = ", ".join(each.sheet for each in pool.sheets)
        raise ReadingsError(
            f"readings of {len(pool)} prints ({names})", fix="Check one at a time."
        )
    kinds = {each.density_kind for each in solution.readings}
    kind = pool.sheets[0].density_kind
    if kinds and kind not in kinds:
        raise ReadingsError(
            f"{kind} densities cannot be compared with a table solved from "
            f"{', '.join(sorted(kinds))} densities",
            where=pool.sheets[0].source,
            fix="Read the print the same way as the target.",
        )


def _compared(pool: Pool, fit: CurveFit, solution: Solution) -> _Compared:
    """Compare at the tones that the table gives the printed levels."""
    level = np.unique(pool.level)
    lightest, darkest = solution.table.level_nodes[[-1, 0]]
    slack = 1 / 255
    level = level[(level >= lightest - slack) & (level <= darkest + slack)]
    if len(level) < 5:
        raise ReadingsError(
            f"{len(level)} of the levels lie within what the table uses "
            f"({lightest:.3f} to {darkest:.3f}); 5 or more are needed",
            where=pool.sheets[0].source,
            fix="Check a target that was printed through this table.",
        )
    falling = solution.table.level_nodes[::-1]
    tone = np.interp(level, falling, solution.table.tone_nodes[::-1])
    tone, first = np.unique(tone, return_index=True)
    level = level[first]
    return _Compared(
        tone=tone,
        printed=np.interp(level, fit.abscissa, fit.value),
        wanted=solution.aim.density(tone),
        error=np.interp(level, fit.abscissa, fit.error),
    )


def _judged(compared: _Compared, spread: float) -> tuple[float, bool]:
    """Mean square difference over what noise explains, and whether it is more.

    What one sheet adds is alike over `SMOOTH_OVER` tones, so the mean square has few
    degrees of freedom: matched by its first two moments. Satterthwaite, An approximate
    distribution of estimates of variance components, Biometrics Bulletin 2 (1946).
    """
    apart = compared.tone[:, None] - compared.tone
    own = np.outer(compared.error, compared.error) * np.exp(
        -((apart / FIT_OVER) ** 2) / 2
    )
    new = spread**2 * (0.5 + 0.5 * np.exp(-((apart / SMOOTH_OVER) ** 2) / 2))
    expected = own + new
    off = compared.printed - compared.wanted
    ratio = float(off @ off / np.trace(expected))
    freedom = float(np.trace(expected) ** 2 / np.sum(expected**2))
    return ratio, bool(chdtr(freedom, freedom * ratio) > REAL)


def _range_of(field: Unevenness | None) -> float:
    return 0.0 if field is None else field.range_at_mid_tone


def _causes(
    pool: Pool, fit: CurveFit, compared: _Compared, *, field_range: float
) -> list[Finding]:
    """List what is wrong with the print itself."""
    found = []
    strays = np.flatnonzero(fit.weights < STRAY)
    for place in strays[:MANY_STRAYS]:
        found.append(
            Finding(
                severity="warning",
                where=pool.row_name(int(place)),
                what=f"D {pool.density[place]:.3f} is stray: D "
                f"{fit.expected[place]:.3f} was expected",
                fix="Look at the patch.",
            )
        )
    if len(strays) > STRAY_SHARE * len(fit.weights):
        what = f"{len(strays)} of {len(fit.weights)} readings are stray"
        found.append(Finding(severity="warning", where=CAUSE, what=what))
    if field_range > UNEVEN:
        what = f"the print is uneven by {field_range:.2f} D at mid-tone over the sheet"
        fix = "Look at lamp, contact and coating; the field map shows where."
        found.append(Finding(severity="warning", where=CAUSE, what=what, fix=fix))
    rms = _lightness_rms(compared)
    if rms > FAR:
        what = f"{rms:.1f} L* is far more than a process drifts"
        fix = "Compare exposure, paper, coating, mirroring and driver with before."
        found.append(Finding(severity="warning", where=CAUSE, what=what, fix=fix))
    return found


def _verdict(
    compared: _Compared,
    real: bool,
    causes: Sequence[Finding],
    *,
    known: bool,
    spread: float,
) -> tuple[Verdict, str]:
    rms = _lightness_rms(compared)
    noise = f"{spread:.3f} D" + ("" if known else ", common practice, unverified")
    reasons = [each.what for each in causes if each.where == CAUSE]
    if reasons:
        told = "; ".join(reasons)
        return "look for a cause", (
            f"{told}. Find it first: a table made from this print would build it in."
        )
    if not real:
        return "accept", (
            f"The print differs from its aim by no more than a new sheet ({noise}) "
            "does. Another table would follow noise."
        )
    if rms <= GOOD:
        return "accept", (
            f"The difference is real but small ({rms:.1f} L* rms). Refine only if the "
            "picture asks for it: solve this table together with these readings."
        )
    return "refine", (
        f"The difference is more than a new sheet's noise ({noise}). Solve the old "
        "table together with these readings, and print through the new one."
    )


def _lightness_rms(compared: _Compared) -> float:
    off = lightness_from_density(compared.printed) - lightness_from_density(
        compared.wanted
    )
    return float(np.sqrt(np.mean(off**2)))


def _few_tones(compared: _Compared, where: str) -> list[Finding]:
    count = len(compared.tone)
    if count >= FEW_TONES:
        return []
    apart = float(np.median(np.diff(compared.tone)))
    return [
        Finding(
            severity="note",
            where=where,
            what=f"only {count} tones could be compared, about {apart:.2f} apart: they "
            "show whether exposure, contrast or an end moved, not what happens between",
            fix="Before making another table print a target through this one.",
        )
    ]


def _table_findings(pool: Pool, solution: Solution) -> list[Finding]:
    table = pool.sheets[0].table
    if not table or table == solution.table.identity:
        return []
    return [
        Finding(
            severity="warning",
            where=pool.sheets[0].source or f"sheet {pool.sheets[0].sheet}",
            what=f"was printed through table {table}, not {solution.table.identity}; "
            "the levels printed are compared with this table's tones",
            fix="Name the table that the print was made through.",
        )
    ]


def _own_readings(pool: Pool, solution: Solution) -> list[Finding]:
    """Say where a table is checked against the readings that it was solved from."""
    sheet = pool.sheets[0]
    if not any(np.array_equal(sheet.density, one.density) for one in solution.readings):
        return []
    return [
        Finding(
            severity="warning",
            where=sheet.source or f"sheet {sheet.sheet}",
            what="the table was solved from these very readings, so they agree with "
            "it by themselves and tell nothing about a new print",
            fix="Print a second target through the table and check that.",
        )
    ]
