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
    to_level = fit.gain[mid] / max(float(fit.slope[mid]), 1e-9)
    found = []
    for which, sheet in enumerate(pool.sheets):
        if newest and which == len(pool) - 1:
            found.append(_reference(sheet.sheet))
            continue
        found.append(
            SheetEffect(
                sheet=sheet.sheet,
                offset=float(fit.coefficients["sheet offset"][which]),
                offset_error=float(fit.coefficient_errors["sheet offset"][which]),
                exposure_level=to_level
                * float(fit.coefficients["sheet exposure"][which]),
                exposure_level_error=to_level
                * float(fit.coefficient_errors["sheet exposure"][which]),
            )
        )
    return tuple(found)


def sheet_findings(
    effects: tuple[SheetEffect, ...], fit: CurveFit
) -> tuple[Finding, ...]:
    """Say which sheets were exposed differently, and by how much."""
    slope = float(fit.slope[_mid_tone(fit)])
    found = []
    for each in effects:
        at_mid_tone = each.exposure_level * slope
        sure = abs(each.exposure_level) > 2 * each.exposure_level_error
        if sure and abs(at_mid_tone) > SEEN:
            more = "more" if at_mid_tone > 0 else "less"
            found.append(
                Finding(
                    severity="warning",
                    where=f"sheet {each.sheet}",
                    what=f"got {more} exposure than the response: as if levels were "
                    f"{each.exposure_level:+.3f} (+-{each.exposure_level_error:.3f}) "
                    f"higher, {at_mid_tone:+.2f} D at mid-tone",
                    fix="Expose as the others; if the change is meant to stay, let "
                    "the table follow the newest sheet.",
                )
            )
    return tuple(found)


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
