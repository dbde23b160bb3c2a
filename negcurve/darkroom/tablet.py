"""Step tablets and the prints made through them.

Knows the densities of a tablet's steps and puts readings of its print on an axis of log
exposure; the curve through them is left to `negcurve.darkroom.characteristic`.
"""

from dataclasses import dataclass

import numpy as np

from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.values import FloatArray, frozen

NOMINAL = {"21": (21, 0.15), "31": (31, 0.10)}
"""Steps and increment of the usual tablets. Source: Saxby, The Focal Dictionary of
Photographic Technologies, densitometry, for 0 to 3 by 0.15; the 31-step form is common
practice, no source."""

CLEAR_STEP_DENSITY = 0.05
"""Nominal density of step 1, that of the tablet's base. [D] Common practice, no source.
"""


@dataclass(frozen=True, eq=False, kw_only=True)
class Tablet:
    """A film wedge of known densities.

    Attributes
    ----------
    name : str
    density : array, shape (n,)
        Of each step from the clear end, absolute diffuse density, best to the light of
        the process. Rises from step to step. [D]
    nominal : bool
        Whether these are the densities by name, not measured ones.
    """

    name: str
    density: FloatArray
    nominal: bool = False

    def __post_init__(self) -> None:
        object.__setattr__(self, "density", frozen(self.density, "tablet"))
        if len(self.density) < 2:
            raise InvalidValueError("needs at least 2 steps", where=self.name)
        if (self.density < 0).any():
            raise InvalidValueError(
                f"density {self.density.min():g} is below 0",
                where=self.name,
                fix="Type absolute densities; clear film has 0.03 or more.",
            )
        falls = np.flatnonzero(np.diff(self.density) <= 0)
        if len(falls):
            step = int(falls[0]) + 2
            raise InvalidValueError(
                f"step {step} has density {self.density[step - 1]:g}, not above step "
                f"{step - 1} with {self.density[step - 2]:g}",
                where=self.name,
                fix="Tablet densities rise from step 1, the clear end.",
            )

    @property
    def steps(self) -> int:
        """Number of steps."""
        return len(self.density)

    @property
    def increment(self) -> float:
        """Mean density from step to step."""
        return float(np.ptp(self.density)) / (self.steps - 1)

    def at(self, step: int) -> float:
        """Return the density of a step, counted from 1 at the clear end.

        Raises
        ------
        InvalidValueError
            If the tablet has no such step.
        """
        if not 1 <= step <= self.steps:
            raise InvalidValueError(
                f"there is no step {step}",
                where=self.name,
                fix=f"The tablet has steps 1 to {self.steps}, 1 at the clear end.",
            )
        return float(self.density[step - 1])


def nominal_tablet(name: str) -> Tablet:
    """Return a tablet by its number of steps: `21` by 0.15 or `31` by 0.10.

    Raises
    ------
    InvalidValueError
        If no such tablet is in use.
    """
    if name not in NOMINAL:
        raise InvalidValueError(
            f"{name!r} is not a usual tablet",
            where="tablet",
            fix="Write 21 or 31, or name a CSV with the columns step,density.",
        )
    steps, increment = NOMINAL[name]
    density = np.round(CLEAR_STEP_DENSITY + increment * np.arange(steps), 4)
    return Tablet(name=f"{steps}-step tablet", density=density, nominal=True)


@dataclass(frozen=True, eq=False, kw_only=True)
class Strip:
    """Readings of a printed tablet, one or more a step.

    Attributes
    ----------
    step : array of int, shape (n,)
        Counted from 1 at the tablet's clear end, which prints darkest.
    density : array, shape (n,)
        Print density. [D]
    """

    step: FloatArray
    density: FloatArray

    def __post_init__(self) -> None:
        for name in ("step", "density"):
            object.__setattr__(self, name, frozen(getattr(self, name), name))
        if len(self.step) != len(self.density):
            raise InvalidValueError(
                f"has {len(self.density)} values for {len(self.step)} steps",
                where="density",
            )
        if (self.density < -0.3).any() or (self.density > 4).any():
            worst = self.density[np.argmax(np.abs(self.density - 1))]
            raise InvalidValueError(
                f"print density {worst:g} is not possible",
                where="strip",
                fix="Densities of prints lie between 0 and 2.5.",
            )

    def by_step(self, tablet: Tablet) -> tuple[FloatArray, FloatArray]:
        """Average the readings of each step.

        Parameters
        ----------
        tablet : Tablet

        Returns
        -------
        step, density : array, shape (m,)
            Steps that were read, rising. Readings of one step share its error of
            coating, so they count as one.

        Raises
        ------
        ReadingsError
            If a step is not on the tablet.
        """
        steps = np.unique(self.step)
        wrong = [s for s in steps if s != int(s) or not 1 <= s <= tablet.steps]
        if wrong:
            raise ReadingsError(
                f"step {wrong[0]:g} is not on the {tablet.name}",
                where="strip",
                fix=f"It has steps 1 to {tablet.steps}; name the right one with "
                "--tablet.",
            )
        means = [self.density[self.step == step].mean() for step in steps]
        return steps, np.asarray(means)


def place_along(step: FloatArray, tablet: Tablet) -> FloatArray:
    """Where a step lies along its strip: -0.5 at step 1 to 0.5 at the last."""
    return np.asarray((step - 1) / (tablet.steps - 1) - 0.5)
