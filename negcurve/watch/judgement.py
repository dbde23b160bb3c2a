"""What the sessions say together: in control, or which of four things has changed.

Knows the deviations of all sessions in their order and the usual causes; splitting one
strip is left to `deviation`, the limits to `control_chart`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from negcurve.errors import InvalidValueError
from negcurve.values import Finding, FloatArray
from negcurve.watch.advice import findings_of, likely_causes, next_step
from negcurve.watch.control_chart import ENOUGH, ControlChart, control_chart
from negcurve.watch.deviation import PARTS, Deviation

Kind = Literal["in control", "exposure", "shape", "white", "unreadable"]

PROVISIONAL_LOG_EXPOSURE = 0.03
"""Spread of exposure between sessions until there are ten. Common practice, no source.
[log10 exposure]
"""

PROVISIONAL = np.array([0.03, 0.04, 0.03, 0.012])
"""Spread of the four parts between sessions until there are ten: density at mid-tone,
relative contrast, D-max, white. Common practice, no source: a hand-coated process
repeats to 0.02 to 0.04 D. [D, 1, D, D]
"""

FALSE_ALARM_SESSIONS = (300.0, 1500.0, 1500.0, 1500.0)
"""Sessions from one false alarm to the next, for each part.

With limits from twenty sessions the three long ones come to fewer; together the four
charts raise one false alarm in about 130 sessions, `tests/benchmarks/watching.py`.
"""

_SEVERAL = 11.345
"""Chi-square of three degrees of freedom, 99 % point: any table."""


@dataclass(frozen=True, eq=False, kw_only=True)
class Judgement:
    """What the sessions up to the last one say.

    Attributes
    ----------
    kind : {"in control", "exposure", "shape", "white", "unreadable"}
    part : str
        Which of the four parts changed, `several`, or empty.
    amount, error : float
        Of the change that stands, in the unit of the part; 0 when in control.
    log_exposure, log_exposure_error : float or None
        The exposure change where log exposure is known. [log10 exposure]
    time_factor : float or None
        Multiply the exposure time by this.
    sessions : int
        Sessions charted.
    since : int or None
        Session, from 0, with which the change began.
    provisional : bool
        Whether the limits are common practice rather than the user's own.
    charts : dict of str to ControlChart
        One for each part.
    causes : tuple of str
        Most likely first.
    advice : str
        What to do next.
    findings : tuple of Finding
    """

    kind: Kind
    part: str
    amount: float
    error: float
    log_exposure: float | None
    log_exposure_error: float | None
    time_factor: float | None
    sessions: int
    since: int | None
    provisional: bool
    charts: dict[str, ControlChart]
    causes: tuple[str, ...]
    advice: str
    findings: tuple[Finding, ...] = ()


def judge(deviations: Sequence[Deviation]) -> Judgement:
    """Judge the last session in the light of all.

    Parameters
    ----------
    deviations : sequence of Deviation
        One a session, in the order of time, all of one calibration.

    Returns
    -------
    Judgement

    Raises
    ------
    InvalidValueError
        If there is no session.

    Notes
    -----
    Four charts raise an alarm; then the mean deviation since the change began is
    compared with what a change of one part alone would give, by its chi-square with
    the covariance of patches and sessions. The part with the least is named; if none
    fits at the 99 % point, several parts changed.
    """
    if not deviations:
        raise InvalidValueError("needs a session or more", where="strips")
    charts = _charts(deviations)
    standing = [chart.change for chart in charts.values() if chart.change]
    provisional = bool(charts["exposure"].provisional[-1])
    last = deviations[-1]
    if _unreadable(last):
        return _judgement("unreadable", charts, provisional, last)
    if not standing:
        return _judgement("in control", charts, provisional, last)
    since = min(change.first for change in standing)
    part, amount, error = _which(deviations, since)
    kind: Kind = "exposure" if part == "exposure" else "shape"
    if part == "white" and amount > 0:
        kind = "white"
    return _judgement(
        kind,
        charts,
        provisional,
        last,
        part=part,
        since=since,
        amount=amount,
        error=error,
    )


def _unreadable(deviation: Deviation) -> bool:
    """Tell whether a strip fits no change of the four parts; it is then passed over."""
    return deviation.misfit > 3 and deviation.readings >= 6


def provisional_spread(deviations: Sequence[Deviation]) -> FloatArray:
    """Return the spread of the four parts taken until there are ten sessions."""
    own = PROVISIONAL.copy()
    slope = deviations[-1].mid_slope
    if slope is not None:
        own[0] = PROVISIONAL_LOG_EXPOSURE * slope
    measuring = np.median([np.diag(each.covariance) for each in deviations], axis=0)
    return np.asarray(np.sqrt(own**2 + measuring))


def _charts(deviations: Sequence[Deviation]) -> dict[str, ControlChart]:
    watched = np.array([each.watched for each in deviations])
    watched[[_unreadable(each) for each in deviations]] = np.nan
    spread = provisional_spread(deviations)
    return {
        name: control_chart(
            watched[:, place],
            provisional_spread=float(spread[place]),
            false_alarm_sessions=FALSE_ALARM_SESSIONS[place],
        )
        for place, name in enumerate(PARTS)
    }


def _which(deviations: Sequence[Deviation], since: int) -> tuple[str, float, float]:
    """Return the part that changed, by how much, and its standard error."""
    readable = [not _unreadable(each) for each in deviations]
    parts = np.array([each.parts for each in deviations])[readable]
    since = int(np.sum(readable[:since]))
    measuring = np.mean([each.covariance for each in deviations], axis=0)
    before, after = parts[:since], parts[since:]
    centre, extra = _baseline(before, np.diag(measuring), deviations)
    one = measuring + np.diag(extra)
    share = 1 / len(after) + (1 / len(before) if len(before) >= ENOUGH else 0.0)
    shown = ~np.isnan(after).all(axis=0)
    away = np.where(shown, np.nanmean(np.where(shown, after, 0.0), axis=0) - centre, 0)
    covariance = one * share + np.diag(np.where(shown, 0.0, 1e6))
    fits = [
        _one_part(away, covariance, place, _leak(deviations) if place == 0 else None)
        for place in range(4)
        if shown[place]
    ]
    misfit, _, place, amount, error = min(fits, key=lambda fit: fit[0] + fit[1])
    part = "several" if misfit > _SEVERAL else PARTS[place]
    return part, amount, error


def _leak(deviations: Sequence[Deviation]) -> FloatArray:
    """Return what a change of exposure alone may pretend of the other parts.

    Where the characteristic curve is assumed, a true one of another shape turns part
    of an exposure change into contrast and ends: per D at mid-tone, for a curve with a
    long toe and a hard shoulder in place of the logistic.
    """
    known = deviations[-1].mid_slope is not None
    return np.zeros(4) if known else np.array([0.0, 0.6, 0.1, 0.05])


def _one_part(
    away: FloatArray, covariance: FloatArray, place: int, leak: FloatArray | None
) -> tuple[float, float, int, float, float]:
    """Fit a change of one part; return chi-square, penalty, part, amount, error."""
    weight = np.linalg.inv(covariance)
    penalty = 0.0
    if leak is not None and leak.any():
        amount = float((weight @ away)[place] / weight[place, place])
        wider = covariance + np.diag((leak * amount) ** 2)
        penalty = float(np.linalg.slogdet(wider)[1] - np.linalg.slogdet(covariance)[1])
        weight = np.linalg.inv(wider)
    along = float((weight @ away)[place])
    misfit = float(away @ weight @ away) - along**2 / weight[place, place]
    amount, error = along / weight[place, place], weight[place, place] ** -0.5
    return misfit, penalty, place, float(amount), float(error)


def _baseline(
    before: FloatArray, measuring: FloatArray, deviations: Sequence[Deviation]
) -> tuple[FloatArray, FloatArray]:
    """Return the centre and what sessions vary by beyond the measuring, squared."""
    own = provisional_spread(deviations) ** 2 - measuring
    floor = 0.01 * PROVISIONAL**2
    if len(before) < ENOUGH:
        return np.zeros(4), np.maximum(own, floor)
    known = np.sum(~np.isnan(before), axis=0) >= ENOUGH
    held = np.where(known, before, 0.0)
    centre = np.where(known, np.nanmean(held, axis=0), 0.0)
    varied = np.where(known, np.nanvar(held, axis=0, ddof=1) - measuring, own)
    return centre, np.maximum(varied, floor)


def _judgement(
    kind: Kind,
    charts: dict[str, ControlChart],
    provisional: bool,
    last: Deviation,
    *,
    part: str = "",
    since: int | None = None,
    amount: float = 0.0,
    error: float = 0.0,
) -> Judgement:
    log = factor = log_error = None
    if part == "exposure" and last.mid_slope:
        log, log_error = amount / last.mid_slope, error / last.mid_slope
        factor = 10**-log
    causes = likely_causes(part, amount)
    advice = next_step(kind, part, amount, factor)
    return Judgement(
        kind=kind,
        part=part,
        amount=amount,
        error=error,
        log_exposure=log,
        log_exposure_error=log_error,
        time_factor=factor,
        sessions=len(charts["exposure"].value),
        since=since,
        provisional=provisional,
        charts=charts,
        causes=causes,
        advice=advice,
        findings=findings_of(
            kind, part, amount, error, advice, provisional=provisional, noise=last.noise
        ),
    )
