"""Strips of a calibration: which belong to it, and what they deviate by.

Knows solution and readings; judging several strips is left to `watch.judgement`.
"""

import numpy as np

from negcurve.errors import RecordError
from negcurve.readings import Readings
from negcurve.response.solution import Solution
from negcurve.watch.deviation import (
    Deviation,
    StripCurve,
    assumed_curve,
    curve_from_film,
    split_deviation,
)


def strip_deviation(
    readings: Readings, solution: Solution, *, exposure_scale: float | None = None
) -> Deviation:
    """Split what a strip deviates by, see `negcurve.watch.deviation`.

    Parameters
    ----------
    readings : Readings
    solution : Solution
        What it should print.
    exposure_scale : float, optional
        Of the process, to give the exposure in log H.

    Returns
    -------
    Deviation

    Raises
    ------
    RecordError
        If too few of its levels lie on the measured response.
    """
    expected = solution.response.density(readings.negative_level)
    usable = np.isfinite(expected) & ~readings.flagged("stray", "covered", "clipped")
    if usable.sum() < 4:
        raise RecordError(
            f"only {int(usable.sum())} of {len(readings)} patches can be compared",
            where=readings.source or f"sheet {readings.sheet}",
            fix="A strip needs four or more patches on the measured response.",
        )
    error = float(np.hypot(solution.noise, 0.01)) if solution.noise > 0 else 0.02
    return split_deviation(
        expected[usable],
        readings.density[usable],
        strip_curve(solution, exposure_scale=exposure_scale),
        patch_error=max(error, 0.01),
    )


def strip_curve(
    solution: Solution, *, exposure_scale: float | None = None
) -> StripCurve:
    """Return how the print answers to exposure, as far as that is known.

    From the film's measured printing density where the solution holds it; else a
    logistic between the ends, in log exposure if the exposure scale was told.
    """
    film, response = solution.film, solution.response
    if film is not None and not film.assumed:
        level = np.linspace(*response.domain, 201)
        printing = film.density(level)
        known = np.isfinite(printing)
        if known.sum() > 50:
            return curve_from_film(printing[known], response.density(level[known]))
    ends = solution.ends
    return assumed_curve(ends.d_min, ends.d_max, exposure_scale=exposure_scale)


def check_strip(readings: Readings, solution: Solution, name: str) -> None:
    """Refuse a strip that does not belong to the calibration of a name."""
    where = readings.source or f"sheet {readings.sheet}"
    if readings.table and readings.table != solution.table.identity:
        raise RecordError(
            f"was printed through table {readings.table}, not {name!r} with "
            f"{solution.table.identity}",
            where=where,
            fix="Name the calibration that it was printed through.",
        )
    if readings.print_state != "dry":
        raise RecordError(
            "was read wet", where=where, fix="Only dry prints count; read it dry."
        )
    first = solution.readings[0] if solution.readings else readings
    for name in ("density_kind", "density_zero"):
        ours, theirs = getattr(readings, name), getattr(first, name)
        if ours != theirs:
            raise RecordError(
                f"has {name.replace('_', ' ')} {ours}, the calibration {theirs}",
                where=where,
                fix="Read it as the calibration was read.",
            )
