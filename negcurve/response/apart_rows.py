"""What a fit of film and paper is made of: rows of readings, and effects on them.

Knows patches, tablet steps and covered parts of several sheets, and what place, sheet
and missing film add; the fit and its meaning are left to `apart`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from negcurve.curves.model import Effect
from negcurve.errors import ReadingsError
from negcurve.readings import Readings
from negcurve.response.fields import FEWEST, TERM_SIZE, TERMS
from negcurve.response.film import FilmData
from negcurve.response.pooling import LEFT_OUT, Mask, Pool
from negcurve.values import FloatArray

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


@dataclass(frozen=True, eq=False, kw_only=True)
class ApartRows:
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


def rows_of(
    pool: Pool, readings: Sequence[Readings], film: FilmData | None
) -> ApartRows:
    """Put patches, steps and covered parts of all sheets in one row.

    Parameters
    ----------
    pool : Pool
    readings : sequence of Readings
        What the pool was made of.
    film : FilmData or None
        Known film, which then gives each patch its log exposure.

    Returns
    -------
    ApartRows

    Raises
    ------
    ReadingsError
        If patches lie beyond the levels of the film data.
    """
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
    return ApartRows(
        **{key: np.concatenate([p[key] for p in parts]) for key in parts[0]}
    )


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


def sheet_effects_of(rows: ApartRows, reference: int, *, count: int) -> list[Effect]:
    """Return exposure, height and offset of every sheet but the reference."""
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


def place_effects_of(rows: ApartRows) -> list[Effect]:
    """Return fields of light and of coating over each sheet, tablet included."""
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


def _terms(rows: ApartRows, mine: Mask) -> FloatArray | None:
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


def film_effects_of(pool: Pool, rows: ApartRows) -> list[Effect]:
    """Return what film that was not in the way, and levels left out, add.

    Returns
    -------
    list of Effect
    """
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
