"""A control chart of one number over sessions: limits, sudden steps, slow drift.

Knows numbers in the order they were measured; what the number is and what a change
means is left to `judgement`.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt
from scipy import optimize, special

from negcurve.errors import InvalidValueError
from negcurve.values import FloatArray, frozen

ENOUGH = 10
"""Sessions from which limits are the user's own."""

FAST, SLOW = 1.0, 0.25
"""Reference values of the two cumulative sums, in standard deviations.

Half the shift that each finds soonest (Page 1954; Lucas, J. Quality Technology 14(2),
51-59, 1982, for the use of two at once): a step of 2 and a drift past 0.5.
"""


@dataclass(frozen=True, eq=False, kw_only=True)
class Change:
    """A change that a chart has found.

    Attributes
    ----------
    first, found : int
        Sessions, from 0: where the cumulative sum began to leave zero, and where it
        passed the limit.
    amount, error : float
        Mean since `first` less the centre before, and its standard error.
    slow : bool
        Whether the slow sum alone found it.
    """

    first: int
    found: int
    amount: float
    error: float
    slow: bool


@dataclass(frozen=True, eq=False, kw_only=True)
class ControlChart:
    """One number over sessions, in their order.

    Attributes
    ----------
    value : array, shape (n,)
        NaN where a session did not show it.
    centre, spread : array, shape (n,)
        What was expected of each session before it was seen: mean and standard
        deviation, the latter with the mean's own uncertainty.
    score : array, shape (n,)
        Normal score of each session: standard normal when nothing has changed.
    sums : array, shape (n, 4)
        Cumulative sums over their limits: fast up, fast down, slow up, slow down.
        1 is an alarm.
    alarm : array of bool, shape (n,)
        Where an alarm stood.
    provisional : array of bool, shape (n,)
        Where fewer than ten sessions were there to set limits.
    reach : float
        Half width of the limits for a single session, in standard deviations: beyond
        it one session alone is an alarm.
    change : Change or None
        What stands at the last session.
    """

    value: FloatArray
    centre: FloatArray
    spread: FloatArray
    score: FloatArray
    sums: npt.NDArray[np.float64]
    alarm: npt.NDArray[np.bool_]
    provisional: npt.NDArray[np.bool_]
    reach: float
    change: Change | None


def control_chart(
    value: npt.ArrayLike,
    *,
    provisional_spread: float,
    false_alarm_sessions: float = 300.0,
) -> ControlChart:
    """Chart one number over sessions.

    Parameters
    ----------
    value : array, shape (n,)
        In the order of time; NaN where a session did not show it.
    provisional_spread : float
        Standard deviation taken until there are ten sessions.
    false_alarm_sessions : float
        Mean number of sessions in control from one false alarm to the next. [1]

    Returns
    -------
    ControlChart

    Notes
    -----
    Scores: self-starting chart of D. M. Hawkins, J. Quality Technology 19(4), 177-189
    (1987): against mean and deviation of the earlier sessions, through Student's t.
    Difference from the source: a session joins these only once the fast sum is back
    at zero, and never if it belonged to an alarm, so that a change does not hide by
    moving the limits. This makes false alarms somewhat more frequent than with known
    limits; the sums' limits are set for that (see `_limits`). An alarm stands until the
    last sessions, one after a large change and up to six after a small one, lie nearer
    to the centre than to the change; the sums then begin anew.
    """
    numbers = frozen(value, "value", unknown_allowed=True)
    if not provisional_spread > 0 or not false_alarm_sessions >= 20:
        raise InvalidValueError(
            "spread must be above 0 and false alarms 20 sessions apart or more",
            where="control chart",
        )
    fast, slow = _limits(round(false_alarm_sessions))
    state = _State(provisional_spread, np.array([fast, fast, slow, slow]))
    rows = [state.take(place, number) for place, number in enumerate(numbers)]
    return ControlChart(
        value=numbers,
        centre=np.array([row[0] for row in rows]),
        spread=np.array([row[1] for row in rows]),
        score=np.array([row[2] for row in rows]),
        sums=np.array([row[3] for row in rows]).reshape(-1, 4),
        alarm=np.array([row[4] for row in rows], dtype=bool),
        provisional=np.array([row[5] for row in rows], dtype=bool),
        reach=fast + FAST,
        change=state.change(numbers),
    )


class _State:
    """The chart while it is being drawn, session by session."""

    def __init__(self, provisional_spread: float, limit: FloatArray) -> None:
        self.provisional_spread = provisional_spread
        self.limit = limit
        self.sums = np.zeros(4)
        self.start = np.zeros(4, dtype=int)
        self.base: list[tuple[int, float]] = []
        self.waiting: list[tuple[int, float]] = []
        self.scores: list[float] = []
        self.places: list[int] = []
        self.alarm = False
        self.first = self.found = self.which = 0
        self.shift = 0.0

    def take(
        self, place: int, number: float
    ) -> tuple[float, float, float, FloatArray, bool, bool]:
        centre, spread, freedom = self.expected()
        provisional = freedom == 0
        if np.isnan(number):
            return centre, spread, np.nan, self.sums / self.limit, False, provisional
        score = _score((number - centre) / spread, freedom)
        self._add(place, score)
        self.places.append(place)
        self._keep(place, number)
        return centre, spread, score, self.sums / self.limit, self.alarm, provisional

    def expected(self) -> tuple[float, float, int]:
        """Return mean, standard deviation and degrees of freedom for a new session."""
        count = len(self.base)
        if count < ENOUGH:
            return 0.0, self.provisional_spread, 0
        numbers = np.array([number for _, number in self.base])
        deviation = max(float(numbers.std(ddof=1)), 1e-9)
        spread = deviation * np.sqrt(1 + 1 / count)
        return float(numbers.mean()), float(spread), count - 1

    def _add(self, place: int, score: float) -> None:
        self.scores.append(score)
        if self.alarm:
            self._release()
            return
        self.start[self.sums <= 0] = place
        step = np.array([score - FAST, -score - FAST, score - SLOW, -score - SLOW])
        self.sums = np.maximum(0.0, self.sums + step)
        if not (self.sums >= self.limit).any():
            return
        self.alarm, self.found = True, place
        self.which = int(np.argmax(self.sums / self.limit))
        self.first = int(self.start[self.which])
        since = len([each for each in self.places if each >= self.first]) + 1
        shift = float(np.mean(self.scores[-since:]))
        self.shift = float(np.copysign(max(abs(shift), 0.8), shift))
        self.sums = np.minimum(self.sums, self.limit)

    def _release(self) -> None:
        """End the alarm once enough sessions lie nearer to the centre than to it."""
        count = min(int(np.ceil((3 / self.shift) ** 2)), 6)
        after = len([each for each in self.places if each > self.found]) + 1
        if after < count:
            return
        away = float(np.mean(self.scores[-count:])) / self.shift
        if away < 0.5:
            self.alarm = False
            self.sums = np.zeros(4)

    def _keep(self, place: int, number: float) -> None:
        if self.alarm:
            self.waiting = []
            cleared = [each for each in self.base if each[0] < self.first]
            if len(cleared) >= ENOUGH:
                self.base = cleared
            return
        self.waiting.append((place, number))
        if (self.sums[:2] <= 0).all():
            self.base.extend(self.waiting)
            self.waiting = []

    def change(self, numbers: FloatArray) -> Change | None:
        if not self.alarm:
            return None
        shown = numbers[self.first :]
        shown = shown[~np.isnan(shown)]
        centre, spread, _ = self.expected()
        count = max(len(self.base), 1)
        own = spread / np.sqrt(1 + 1 / count) if len(self.base) >= ENOUGH else spread
        return Change(
            first=self.first,
            found=self.found,
            amount=float(shown.mean()) - centre,
            error=float(own * np.sqrt(1 / len(shown) + 1 / count)),
            slow=self.which >= 2,
        )


def _score(ratio: float, freedom: int) -> float:
    """Return the normal score of a ratio that follows Student's t; 0: normal."""
    if freedom == 0:
        return float(ratio)
    tail = max(float(special.stdtr(freedom, -abs(ratio))), 1e-300)
    return float(np.copysign(special.ndtri(tail), ratio))


@lru_cache(maxsize=16)
def _limits(sessions: int) -> tuple[float, float]:
    """Return the limits of the fast and the slow sum.

    Each sum alone, with known mean and deviation, would raise a false alarm once in
    2.4 and in 6 times the sessions asked for; together, and with limits from twenty
    sessions of the user's own, they come to the number asked for. The two factors are
    from simulation, `tests/benchmarks/watching.py`.
    """
    return cusum_limit(FAST, 2.4 * sessions), cusum_limit(SLOW, 6.0 * sessions)


def cusum_limit(reference: float, sessions: float) -> float:
    """Return the limit of a two-sided cumulative sum of standard normal scores.

    Parameters
    ----------
    reference : float
        What is taken off each score, above 0. [standard deviations]
    sessions : float
        Mean run length in control. [1]

    Returns
    -------
    float
        [standard deviations]
    """
    high = 0.5
    while cusum_run_length(reference, high) < sessions:
        high *= 1.5
    return float(
        optimize.brentq(
            lambda limit: np.log(cusum_run_length(reference, limit) / sessions),
            high / 30,
            high,
            xtol=1e-6,
        )
    )


def cusum_run_length(reference: float, limit: float, shift: float = 0.0) -> float:
    """Return the mean sessions to an alarm of a two-sided cumulative sum from zero.

    Parameters
    ----------
    reference, limit : float
        [standard deviations]
    shift : float
        Mean of the scores. [standard deviations]

    Returns
    -------
    float

    Notes
    -----
    Markov chain of D. Brook and D. A. Evans, Biometrika 59(3), 539-549 (1972), with
    120 states a side; both sides join as 1/L = 1/L_up + 1/L_down (van Dobben de
    Bruyn, Cumulative Sum Tests, 1968).
    """
    rates = [1 / _one_sided(reference - sign * shift, limit) for sign in (1, -1)]
    return 1 / sum(rates)


def _one_sided(reference: float, limit: float) -> float:
    states = 120
    width = 2 * limit / (2 * states - 1)
    steps = width * np.arange(1 - states, states) + reference
    upper, lower = special.ndtr(steps + width / 2), special.ndtr(steps - width / 2)
    gap = np.arange(states)[None, :] - np.arange(states)[:, None] + states - 1
    chance = (upper - lower)[gap]
    chance[:, 0] = upper[gap[:, 0]]
    lengths = np.linalg.solve(np.eye(states) - chance, np.ones(states))
    return float(lengths[0])
