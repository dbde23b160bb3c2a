"""How prints differ from one another when several are solved together.

Knows offset and exposure of whole sheets; fields within a sheet are left to `fields`.
"""

import numpy as np

from negcurve.curves import CurveFit, Effect
from negcurve.response.pooling import Pool
from negcurve.response.solution import SheetEffect
from negcurve.values import Finding

OFFSET_TYPICAL = 0.03
"""Of a sheet: the spread of a hand-coated process. Common practice, no source. [D]"""

EXPOSURE_TYPICAL = 0.3
"""Of a sheet, in units of eta: some 0.07 in log exposure. Common practice, no source.
"""

OLD_SHEET = 3.0
"""How many times farther an older sheet may lie from one that is followed."""

SEEN = 0.02
"""Change at mid-tone from which a change of exposure is worth a warning. [D]"""


def sheet_terms(pool: Pool, *, newest: bool) -> tuple[Effect, ...]:
    """Return offset and exposure of each sheet; the newest has none if it is followed.

    Parameters
    ----------
    pool : Pool
    newest : bool
        Whether the response is that of the newest sheet, or the mean of all.

    Returns
    -------
    tuple of Effect
    """
    count = len(pool)
    if count == 1:
        return ()
    free = count - 1 if newest else count
    columns = (pool.sheet[:, None] == np.arange(free)).astype(float)
    wider = OLD_SHEET if newest else 1.0
    return (
        Effect(
            name="sheet offset",
            columns=columns,
            scale="plain",
            typical=wider * OFFSET_TYPICAL,
        ),
        Effect(
            name="sheet exposure",
            columns=columns,
            scale="exposure",
            typical=wider * EXPOSURE_TYPICAL,
        ),
    )


def sheet_effects(
    pool: Pool, fit: CurveFit, *, newest: bool
) -> tuple[SheetEffect, ...]:
    """Return how each sheet differs from the response; empty for a single sheet."""
    if len(pool) == 1:
        return ()
    mid = _mid_tone(fit)
    to_level = float(fit.gain[mid]) / max(float(fit.slope[mid]), 1e-9)
    found = []
    for which, sheet in enumerate(pool.sheets):
        if newest and which == len(pool) - 1:
            found.append(_reference(sheet.sheet))
            continue
        found.append(
            SheetEffect(
                sheet=sheet.sheet,
                offset=float(fit.coefficients["sheet offset"][which]),
                offset_error=float(fit.coefficient_errors("sheet offset")[which]),
                exposure_level=to_level
                * float(fit.coefficients["sheet exposure"][which]),
                exposure_level_error=to_level
                * float(fit.coefficient_errors("sheet exposure")[which]),
            )
        )
    return tuple(found)


def sheet_findings(pool: Pool, fit: CurveFit, *, newest: bool) -> tuple[Finding, ...]:
    """Say which prints were exposed otherwise than the first, and by how much.

    Parameters
    ----------
    pool : Pool
    fit : CurveFit
    newest : bool
        As for `sheet_terms`.

    Returns
    -------
    tuple of Finding
    """
    count = len(pool)
    if count == 1:
        return ()
    exposure, covariance = np.zeros(count), np.zeros((count, count))
    known = fit.coefficients["sheet exposure"]
    exposure[: len(known)] = known
    covariance[: len(known), : len(known)] = fit.covariances["sheet exposure"]
    mid = _mid_tone(fit)
    found = []
    for which in range(1, count):
        contrast = np.zeros(count)
        contrast[[0, which]] = -1, 1
        change = float(contrast @ exposure)
        error = float(np.sqrt(contrast @ covariance @ contrast))
        at_mid_tone = change * float(fit.gain[mid])
        if abs(change) > 2 * error and abs(at_mid_tone) > SEEN:
            to_level = float(fit.gain[mid] / max(fit.slope[mid], 1e-9))
            found.append(
                _changed(pool, which, change * to_level, error * to_level, at_mid_tone)
            )
    if found and not newest:
        found.append(
            Finding(
                severity="note",
                where="response",
                what="it is that of the mean exposure of all prints",
                fix="Let the table follow the newest print if the change is to stay.",
            )
        )
    return tuple(found)


def _changed(
    pool: Pool, which: int, level: float, error: float, density: float
) -> Finding:
    first, sheet = pool.sheets[0].sheet, pool.sheets[which].sheet
    return Finding(
        severity="warning",
        where=f"sheet {sheet}",
        what=f"got {'more' if density > 0 else 'less'} exposure than sheet {first}: as "
        f"if its levels were {level:+z.3f} (+-{error:.3f}) away, {density:+z.2f} D at "
        "mid-tone",
    )


def _mid_tone(fit: CurveFit) -> int:
    return int(np.argmax(fit.value >= (fit.value[0] + fit.value[-1]) / 2))


def _reference(sheet: str) -> SheetEffect:
    return SheetEffect(
        sheet=sheet,
        offset=0.0,
        offset_error=0.0,
        exposure_level=0.0,
        exposure_level_error=0.0,
    )
