"""A table for a new paper or chemistry from the print of a step tablet alone.

Known film gives the log exposure of every negative level, the tablet's print gives the
density of every log exposure; together they are the response.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from negcurve.curves.composed import ComposedFit, fit_composed
from negcurve.curves.model import Effect
from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.readings import Readings
from negcurve.response.aim import Aim
from negcurve.response.apart import FEWEST_STEPS
from negcurve.response.apart_rows import BASE_TYPICAL, BASE_USUAL, usable_steps
from negcurve.response.ends import find_ends
from negcurve.response.film import STOP, FilmData
from negcurve.response.paper import PaperCurve
from negcurve.response.pooling import check_prints
from negcurve.response.refusals import check_aim_kind
from negcurve.response.response import Response
from negcurve.response.solution import Solution
from negcurve.response.solving import SHEET_ERROR, wanted_aim
from negcurve.response.table import make_table
from negcurve.response.transfer_words import film_findings, strip_findings
from negcurve.values import Finding, FloatArray

FALL_TYPICAL = 0.02
"""Fall of light along one strip that nothing tells, in log10 from end to end: some 5 %.
Common practice, no source."""

FALL_FOUND = 0.04
"""The same beforehand where two strips lie head to tail and tell it. [log10]"""

BESIDE_TYPICAL = 0.02
"""Exposure of one strip against the one beside it. [log10]"""

UNSURE = 0.05
"""Standard error of a predicted density beyond which levels whose film density was not
measured are not used. [D]"""


@dataclass(frozen=True, eq=False, kw_only=True)
class _Strips:
    """Steps of all strips in one row, shape (n,) each."""

    density: FloatArray
    log_exposure: FloatArray
    along: FloatArray
    strip: FloatArray


def predict(
    film: FilmData,
    strips: Sequence[Readings],
    *,
    turned: Sequence[Readings] = (),
    fall: float | None = None,
    stops: float = 0.0,
    aim: str | Aim = "lightness",
    black_share: float = 0.98,
    scale_aim: bool = False,
    sheet_error: float | None = None,
    notes: Mapping[str, str] | None = None,
) -> Solution:
    """Predict the table for a paper of which only tablet strips were printed.

    Parameters
    ----------
    film : FilmData
    strips : sequence of Readings
        Rows of tablet steps, printed on one sheet of the new paper; others are not
        used.
    turned : sequence of Readings
        Strips of the same sheet that lay beside these, head to tail.
    fall : float, optional
        Share of the light that is lost from the clear end of a strip to its dense end,
        of those that are not turned; negative where light gains. [1]
    stops : float
        More exposure than the strips had. [stops]
    aim, black_share, scale_aim, sheet_error, notes
        As for `solve`.

    Returns
    -------
    Solution
        Its readings are the strips; nothing of it was printed yet.

    Raises
    ------
    ReadingsError
        If there are too few steps, or they were read wet.
    """
    check_prints([*strips, *turned])
    about_kind = check_aim_kind([*strips, *turned], aim)
    rows = _rows(strips, turned, fall)
    fit = fit_composed(
        rows.density, known=rows.log_exposure, effects=_effects(rows, fall)
    )
    base, base_error, about_base = _base(film, [*strips, *turned])
    paper = _paper(fit, rows, strips[0].sheet)
    response = _response(film, fit, stops * STOP - base, base_error, sheet_error)
    ends, end_findings = find_ends(response, black_share=black_share)
    wanted, aim_findings = wanted_aim(aim, ends, response, scale=scale_aim)
    count = sum(len(each) for each in (*strips, *turned))
    return Solution(
        table=make_table(response, wanted, ends),
        response=response,
        aim=wanted,
        ends=ends,
        noise=fit.noise,
        weights=np.zeros(count),
        findings=(
            *(each for one in strips for each in one.findings),
            *about_kind,
            *strip_findings(strips, fit, fall=fall, both_ways=_both_ways(rows)),
            *about_base,
            *film_findings(film, response, paper, stops),
            *end_findings,
            *aim_findings,
        ),
        notes=dict(notes or {}),
        readings=(*strips, *turned),
        options={
            "aim": aim if isinstance(aim, str) else aim.document(),
            "black_share": black_share,
            "scale_aim": scale_aim,
            "sheet_error": sheet_error,
            "film": film.document(),
            "strips": len(strips),
            "fall": fall,
            "stops": stops,
        },
        printer_path=dict(film.printer_path),
        film=film,
        paper=paper,
    )


def is_predicted(solution: Solution) -> bool:
    """Tell whether a solution was predicted from strips, not solved from patches."""
    return "strips" in solution.options


def predict_again(old: Solution, **changes: Any) -> Solution:
    """Repeat a prediction with its own film, strips and options, some changed."""
    kept = {key: value for key, value in old.options.items() if value is not None}
    count = kept.pop("strips")
    film = FilmData.from_document(kept.pop("film"))
    if isinstance(kept.get("aim"), Mapping):
        kept["aim"] = Aim.from_document(kept["aim"])
    given = {key: value for key, value in changes.items() if value is not None}
    notes = {**old.notes, **given.pop("notes", {})}
    return predict(
        film,
        old.readings[:count],
        turned=old.readings[count:],
        **{**kept, **given},
        notes=notes,
    )


def _rows(
    strips: Sequence[Readings], turned: Sequence[Readings], fall: float | None
) -> _Strips:
    if fall is not None and not -0.5 <= fall <= 0.5:
        raise InvalidValueError(
            f"{fall:g} of the light lost along a strip is beyond use",
            where="fall",
            fix="State a share between -0.5 and 0.5, as 0.1 for 10 %.",
        )
    density, exposure, along, strip = [], [], [], []
    for which, (each, sign) in enumerate(
        [(one, 1.0) for one in strips] + [(one, -1.0) for one in turned]
    ):
        steps = usable_steps(each)
        if len(np.unique(steps.tablet_density)) < FEWEST_STEPS:
            raise ReadingsError(
                f"has {len(np.unique(steps.tablet_density))} usable tablet steps; "
                f"{FEWEST_STEPS} or more are needed",
                where=each.source or f"sheet {each.sheet}",
                fix="Read the strip with --tablet, so that its densities are known.",
            )
        place = _along(steps.tablet_density) * sign
        light = 0.0 if fall is None else np.log10(1 - fall)
        density.append(steps.density)
        exposure.append(-steps.tablet_density + light * place)
        along.append(place)
        strip.append(np.full(len(steps), float(which)))
    return _Strips(
        density=np.concatenate(density),
        log_exposure=np.concatenate(exposure),
        along=np.concatenate(along),
        strip=np.concatenate(strip),
    )


def _along(tablet_density: FloatArray) -> FloatArray:
    """Place of each step along its strip, -0.5 at the clear end to 0.5 at the dense.

    Steps are equally wide; those that were left out leave their place empty.
    """
    increment = np.median(np.diff(np.unique(tablet_density)))
    step = np.rint((tablet_density - tablet_density.min()) / increment)
    return np.asarray(step / step.max() - 0.5)


def _effects(rows: _Strips, fall: float | None) -> list[Effect]:
    told = rows.along.min() * rows.along.max() < 0 and _both_ways(rows)
    found = []
    if fall is None:
        found.append(
            Effect(
                name="fall",
                columns=rows.along[:, None],
                scale="exposure",
                typical=FALL_FOUND if told else FALL_TYPICAL,
                fixed=True,
            )
        )
    # A strip alone may also lie in more or less light than the negative will.
    count = int(rows.strip.max()) + 1
    found.append(
        Effect(
            name="strip",
            columns=(rows.strip[:, None] == np.arange(count)).astype(float),
            scale="exposure",
            typical=BESIDE_TYPICAL / np.sqrt(2),
            fixed=True,
        )
    )
    return found


def _both_ways(rows: _Strips) -> bool:
    """Tell whether strips lay head to tail."""
    ways = {
        np.sign(
            np.corrcoef(
                rows.along[rows.strip == each], rows.log_exposure[rows.strip == each]
            )[0, 1]
        )
        for each in np.unique(rows.strip)
    }
    return len(ways) > 1


def _base(
    film: FilmData, strips: Sequence[Readings]
) -> tuple[float, float, tuple[Finding, ...]]:
    """Density of clear film that the strips lacked."""
    over = {each.tablet_over_film for each in strips}
    if len(over) > 1:
        raise ReadingsError(
            "some strips had clear film over them, some had not",
            where="strips",
            fix="Expose all strips of a sheet the same way.",
        )
    if over == {True}:
        return 0.0, 0.0, ()
    if np.isfinite(film.base):
        return film.base, film.base_error, ()
    finding = Finding(
        severity="warning",
        where="film",
        what="no film lay over the tablet, and what clear film holds back was not "
        f"measured: D {BASE_USUAL:.2f} +-{BASE_TYPICAL:.2f} is assumed",
        fix="Lay clear film over the tablet, as the negative lies over the paper.",
    )
    return BASE_USUAL, BASE_TYPICAL, (finding,)


def _paper(fit: ComposedFit, rows: _Strips, sheet: str) -> PaperCurve:
    x = np.linspace(*fit.task.domain, 257)
    density, error = fit.outer(x)
    return PaperCurve(
        log_exposure_nodes=x,
        density_nodes=np.maximum.accumulate(density),
        error_nodes=error,
        measured=(float(rows.log_exposure.min()), float(rows.log_exposure.max())),
        sheet=sheet,
    )


def _response(
    film: FilmData,
    fit: ComposedFit,
    shift: float,
    shift_error: float,
    sheet_error: float | None,
) -> Response:
    """Paper after film; the errors of the two are of different sheets and add up."""
    level = film.level_nodes
    log_exposure = shift - film.density_nodes
    density, error = fit.outer(log_exposure)
    step = 1e-3
    slope = (fit.outer(log_exposure + step)[0] - density) / step
    error = np.hypot(error, slope * np.hypot(film.error_nodes, shift_error))
    unsure = np.flatnonzero((error > UNSURE) & (level < film.measured_from))
    first = int(unsure[-1]) + 1 if len(unsure) else 0
    return Response(
        level_nodes=level[first:],
        density_nodes=np.maximum.accumulate(density[first:]),
        error_nodes=error[first:],
        sheet_error=SHEET_ERROR if sheet_error is None else sheet_error,
    )
