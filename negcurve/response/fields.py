"""Unevenness of a print: what place, not tone, added to the readings.

Knows which effects of place are worth fitting and how to report them; fitting them
together with the response is left to `negcurve.curves`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.polynomial import legendre

from negcurve.curves import CurveFit, Effect
from negcurve.readings import Readings
from negcurve.response.refusals import Rows
from negcurve.response.solution import Unevenness
from negcurve.values import Finding, FloatArray

FEWEST = 12
"""Readings with a place below which no field is fitted."""

TERMS = ((1, 0), (0, 1), (2, 0), (1, 1), (0, 2), (3, 0), (2, 1), (1, 2), (0, 3))
"""Powers of x and y: lamps and brushes leave slow fields. Common practice, no source.
"""

TERM_SIZE = (1.0, 1.0, 1.0, 0.7, 1.0, 0.4, 0.4, 0.4, 0.4)

EXPOSURE_TYPICAL = 0.2
"""Of a term, in units of eta: some 0.05 in log exposure on a paper of middling
contrast. Common practice, no source."""

SHIFT_TYPICAL = 0.02
"""Of a term, as shift of the level, for papers that are no plain S. [1]"""

COATING_TYPICAL = 0.02
"""Of a term, as relative change of density above D-min. [1]"""

STREAK_TYPICAL = 0.01
"""Of one row or column of patches, relative change of density above D-min. [1]"""

WORTH_SAYING = 0.02
"""Unevenness at mid-tone that is worth a note. [D]"""

CONFOUNDED = 0.5
"""Share of a term that a smooth function of level explains, above which the term cannot
be told from tone."""


@dataclass(frozen=True, eq=False, kw_only=True)
class PlaceEffects:
    """What to fit for one sheet, and what to say about it.

    Attributes
    ----------
    effects : tuple of Effect
        Columns over all readings, 0 outside this sheet.
    terms : array, shape (n, q)
        Slow terms over this sheet's readings.
    confounded : tuple of str
        Directions (`across`, `down`) in which tone and place run together.
    findings : tuple of Finding
    """

    effects: tuple[Effect, ...]
    terms: FloatArray
    confounded: tuple[str, ...]
    findings: tuple[Finding, ...]


def place_effects(readings: Readings, rows: Rows, total: int) -> PlaceEffects:
    """Choose the effects of place for one sheet.

    Parameters
    ----------
    readings : Readings
        Of one sheet, those that are fitted.
    rows : array of int, shape (n,)
        Their places among all readings.
    total : int
        Number of all readings.

    Returns
    -------
    PlaceEffects
    """
    sheet = readings.sheet
    if not _fit_for_fields(readings):
        return PlaceEffects(
            effects=(),
            terms=np.empty((len(readings), 0)),
            confounded=(),
            findings=_unplaced(readings),
        )
    terms = _terms(readings)
    confounded = tuple(
        name
        for name, column in (("across", 0), ("down", 1))
        if _explained(terms[:, column], readings.negative_level) > CONFOUNDED
    )
    whole = np.zeros((total, terms.shape[1]))
    whole[rows] = terms
    slow = (
        ("exposure", "exposure", EXPOSURE_TYPICAL),
        ("shift", "slope", SHIFT_TYPICAL),
        ("coating", "height", COATING_TYPICAL),
    )
    effects = [
        Effect(
            name=f"{name} {sheet}",
            columns=whole,
            scale=scale,  # type: ignore[arg-type]  # the three literals above
            typical=typical,
            optional=True,
        )
        for name, scale, typical in slow
    ]
    effects += _streaks(readings, rows, total)
    return PlaceEffects(
        effects=tuple(effects),
        terms=terms,
        confounded=confounded,
        findings=_confounding(sheet, confounded),
    )


def unevenness(
    readings: Readings, rows: Rows, fit: CurveFit, chosen: PlaceEffects
) -> Unevenness | None:
    """Report the fields of one sheet as a map; None where none were fitted.

    Parameters
    ----------
    readings : Readings
        Of one sheet, those that were fitted.
    rows : array of int, shape (n,)
        Their places among all readings.
    fit : CurveFit
    chosen : PlaceEffects

    Returns
    -------
    Unevenness or None
    """
    if not chosen.effects or chosen.confounded:
        return None
    sheet = readings.sheet
    mid = int(np.argmax(fit.value >= (fit.value[0] + fit.value[-1]) / 2))
    height = float(fit.value[mid] - fit.value[0])
    eta = chosen.terms @ fit.coefficients[f"exposure {sheet}"]
    shift = chosen.terms @ fit.coefficients[f"shift {sheet}"]
    coating = chosen.terms @ fit.coefficients[f"coating {sheet}"]
    width = float(np.ptp(fit.abscissa))
    level = shift * width + eta * fit.gain[mid] / fit.slope[mid]
    added = sum(fit.parts[each.name] for each in chosen.effects)
    return Unevenness(
        sheet=sheet,
        x_mm=readings.x_mm,
        y_mm=readings.y_mm,
        exposure_level=level,
        coating=coating,
        density=np.asarray(added)[rows],
        at_mid_tone=level * fit.slope[mid] + coating * height,
    )


def field_findings(fields: Sequence[Unevenness]) -> tuple[Finding, ...]:
    """Say how uneven each print was, and that it was taken off the response."""
    return tuple(
        Finding(
            severity="note",
            where=f"sheet {each.sheet}",
            what=f"uneven by {each.range_at_mid_tone:.2f} D at mid-tone: "
            f"exposure as levels {each.exposure_level.min():+z.3f} to "
            f"{each.exposure_level.max():+z.3f}, coating {each.coating.min():+z.1%} to "
            f"{each.coating.max():+z.1%}; taken off the response",
        )
        for each in fields
        if each.range_at_mid_tone > WORTH_SAYING
    )


def _fit_for_fields(readings: Readings) -> bool:
    if len(readings) < FEWEST or not readings.placed:
        return False
    return bool(np.ptp(readings.x_mm) > 0 and np.ptp(readings.y_mm) > 0)


def _terms(readings: Readings) -> FloatArray:
    """Slow terms over the sheet, mean 0 over the readings, shape (n, q)."""
    x, y = _centred(readings.x_mm), _centred(readings.y_mm)
    raw = [
        size * x**across * y**down
        for (across, down), size in zip(TERMS, TERM_SIZE, strict=True)
    ]
    return np.column_stack([each - each.mean() for each in raw])


def _centred(place_mm: FloatArray) -> FloatArray:
    low, high = place_mm.min(), place_mm.max()
    return np.asarray((2 * place_mm - low - high) / (high - low))


def _explained(term: FloatArray, level: FloatArray) -> float:
    """Share of a term that a polynomial in level explains, adjusted for its degree."""
    count = len(level)
    degree = min(8, count // 3)
    q, _ = np.linalg.qr(legendre.legvander(2 * level - 1, degree))
    off = term - term.mean()
    share = float(np.sum((q.T @ off) ** 2) / max(float(off @ off), 1e-12))
    return 1 - (1 - share) * (count - 1) / max(count - degree - 1, 1)


def _streaks(readings: Readings, rows: Rows, total: int) -> list[Effect]:
    """Give each row and column of patches a coefficient, where patches form a grid.

    Mean 0 over the readings, so that no coefficient takes part in the response itself.
    """
    found = []
    for name, place in (("row", readings.y_mm), ("column", readings.x_mm)):
        lines, which = np.unique(np.round(place, 1), return_inverse=True)
        if not 3 <= len(lines) <= len(readings) / 3:
            continue
        own = np.zeros((len(readings), len(lines)))
        own[np.arange(len(readings)), which] = 1
        columns = np.zeros((total, len(lines)))
        columns[rows] = own - own.mean(axis=0)
        found.append(
            Effect(
                name=f"{name} streaks {readings.sheet}",
                columns=columns,
                scale="height",
                typical=STREAK_TYPICAL,
                optional=True,
            )
        )
    return found


def _unplaced(readings: Readings) -> tuple[Finding, ...]:
    if readings.placed and len(readings) >= FEWEST:
        what = "all patches lie in one line, so unevenness cannot be told from tone"
    elif readings.placed:
        what = f"{len(readings)} readings are too few to tell unevenness from tone"
    else:
        what = "the readings have no places, so unevenness is not told from tone"
    return (Finding(severity="note", where=f"sheet {readings.sheet}", what=what),)


def _confounding(sheet: str, confounded: Sequence[str]) -> tuple[Finding, ...]:
    if not confounded:
        return ()
    ways = " and ".join(confounded)
    return (
        Finding(
            severity="warning",
            where=f"sheet {sheet}",
            what=f"levels run in order {ways} the sheet, so a gradient that way cannot "
            "be told from tone; no map is given, and the band allows for it",
            fix="Use a target with scattered patches.",
        ),
    )
