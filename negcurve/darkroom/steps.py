"""One step at the bench, and the steps that most processes begin with."""

from dataclasses import dataclass, replace

from negcurve.errors import InvalidValueError


@dataclass(frozen=True, kw_only=True)
class Step:
    """One step at the bench.

    Attributes
    ----------
    name : str
    bath : str
    minutes : str
        As usually given: `5 each`, `1-2.5`.
    low_c, high_c : float or None
        Usual temperature, None where it does not matter. [deg C]
    end_point : str
        What to look for, or what goes wrong.
    source : str
    verified : bool
    chosen_c : float or None
        Temperature that the user works at. [deg C]
    """

    name: str
    bath: str
    minutes: str
    low_c: float | None = None
    high_c: float | None = None
    end_point: str = ""
    source: str = "common practice"
    verified: bool = False
    chosen_c: float | None = None

    @property
    def temperature(self) -> str:
        """Chosen or usual temperature as text."""
        if self.chosen_c is not None:
            return f"{self.chosen_c:.0f} C"
        if self.low_c is None or self.high_c is None:
            return ""
        if self.low_c == self.high_c:
            return f"about {self.low_c:g} C"
        return f"{self.low_c:g}-{self.high_c:g} C"

    def at(self, temperature_c: float) -> "Step":
        """Return the step at a temperature of the user's.

        Raises
        ------
        InvalidValueError
            If it lies outside the bath's range.
        """
        if self.low_c is None or self.high_c is None:
            raise InvalidValueError(
                "has no temperature of its own",
                where=self.name,
                fix="Leave it out, or give your own table with --steps.",
            )
        slack = NEAR_C if self.low_c == self.high_c else 0.0
        low, high = self.low_c - slack, self.high_c + slack
        if not low <= temperature_c <= high:
            raise InvalidValueError(
                f"{temperature_c:g} C lies outside {low:g} to {high:g} C",
                where=self.name,
                fix="Work within the range, or give your own table with --steps.",
            )
        return replace(self, chosen_c=temperature_c)


NEAR_C = 5.0
"""How far from a single usual temperature one may work. Our own choice. [deg C]"""

COAT = Step(
    name="coat and rest",
    bath="sensitizer, in dim tungsten or warm LED light",
    minutes="1-5 rest",
    end_point="surface just matt",
)
DRY = Step(
    name="dry",
    bath="air, cool and dark",
    minutes="10-20",
    low_c=18,
    high_c=40,
    end_point="alike from sheet to sheet",
)
