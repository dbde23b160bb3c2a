"""What follows what after exposure: baths, minutes, temperatures, end points.

Each step carries its source; steps of common practice are shown as unverified, and a
user's own table may stand in for any of them.
"""

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
            raise InvalidValueError("has no temperature of its own", where=self.name)
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

_PT_PD = (
    Step(
        name="coat and rest",
        bath="sensitizer, iron and metal 1:1",
        minutes="1-5 rest",
        low_c=18,
        high_c=24,
        end_point="surface just matt; bronze pools mean too wet",
    ),
    Step(
        name="dry",
        bath="air, cool or below 40 C",
        minutes="10-20",
        low_c=18,
        high_c=40,
        end_point="12-15 min from coat to dry is the classic limit",
        source="Duchochois for the limit; rest common practice",
    ),
    Step(
        name="expose",
        bath="UV, negative's ink side on the coating",
        minutes="by test",
        end_point="faint image",
    ),
    Step(
        name="develop",
        bath="potassium oxalate 30 %",
        minutes="1-2.5",
        low_c=20,
        high_c=60,
        end_point="flood in one motion; warmer is warmer in tone, softer, faster",
    ),
    Step(
        name="rinse",
        bath="water",
        minutes="4-5",
        low_c=38,
        high_c=40,
    ),
    Step(
        name="clear, three baths",
        bath="citric acid 1-2 % or tetrasodium EDTA 3 %",
        minutes="5 each",
        low_c=20,
        high_c=20,
        end_point="no yellow in the borders; the third bath stays colourless",
    ),
    Step(name="wash", bath="running water", minutes="20-40", low_c=15, high_c=25),
)
_COAT = Step(
    name="coat and rest",
    bath="sensitizer, in dim tungsten or warm LED light",
    minutes="1-5 rest",
    end_point="surface just matt",
)
_DRY = Step(
    name="dry",
    bath="air, cool and dark",
    minutes="10-20",
    low_c=18,
    high_c=40,
    end_point="alike from sheet to sheet",
)
_PRINT_OUT_PD = (
    _COAT,
    _DRY,
    Step(
        name="humidify",
        bath="air of the chosen humidity, 55-80 % RH",
        minutes="30 or more",
        low_c=18,
        high_c=25,
        end_point="damp prints out further and colder; alike from sheet to sheet",
    ),
    Step(
        name="expose",
        bath="UV, negative's ink side on the coating",
        minutes="by test",
        end_point="full image in the light",
    ),
    *_PT_PD[-2:],
)
_CYANOTYPE = (
    _COAT,
    _DRY,
    Step(name="expose", bath="UV", minutes="by test", end_point="shadows reverse"),
    Step(
        name="first bath",
        bath="water or citric acid 1-2 %",
        minutes="1-5",
        low_c=15,
        high_c=20,
    ),
    Step(
        name="wash",
        bath="running water",
        minutes="10-20",
        low_c=15,
        high_c=20,
        end_point="no yellow; long washing and alkali bleach",
    ),
    Step(
        name="oxidize, if wanted",
        bath="hydrogen peroxide 0.1-0.3 %",
        minutes="0.5-1",
        low_c=20,
        high_c=20,
        end_point="final blue at once instead of within a day",
        source="common practice; slow oxidation in air: Lawrence and Fishelson 1999",
    ),
)
_REILLY = "Reilly, The Albumen and Salted Paper Book, 1980"
_SALT_PRINT = "encyclopedia article on the salt print"
_DECISIVE = "Decisive Momentum 2008; time common practice"
_KALLITYPE = (
    _COAT,
    _DRY,
    Step(name="expose", bath="UV", minutes="by test"),
    Step(
        name="develop",
        bath="sodium acetate or citrate 20 %, with dichromate if wanted",
        minutes="2-5",
        low_c=20,
        high_c=25,
    ),
    Step(
        name="clear, two baths",
        bath="citric acid 2-3 %",
        minutes="3-5 each",
        low_c=20,
        high_c=20,
        end_point="iron left behind stains later",
    ),
    Step(
        name="tone, if wanted",
        bath="gold, palladium or platinum",
        minutes="2-10",
        low_c=20,
        high_c=20,
        end_point="before fixing",
    ),
    Step(
        name="fix, two baths",
        bath="sodium thiosulfate 5 %, alkaline",
        minutes="1-2 each",
        low_c=20,
        high_c=20,
        end_point="long fixing bleaches highlights",
    ),
    Step(
        name="washing aid",
        bath="sodium sulfite 1 %",
        minutes="2-4",
        low_c=20,
        high_c=20,
        source=_REILLY,
        verified=True,
    ),
    Step(name="wash", bath="water", minutes="30", low_c=20, high_c=20),
)
_VAN_DYKE = (
    _COAT,
    _DRY,
    Step(name="expose", bath="UV", minutes="by test"),
    Step(
        name="wash",
        bath="water with a trace of citric acid",
        minutes="2-5",
        low_c=20,
        high_c=20,
        end_point="yellow clears",
    ),
    Step(
        name="fix",
        bath="sodium thiosulfate 3-5 %",
        minutes="1-3",
        low_c=20,
        high_c=20,
        end_point="the image darkens here",
    ),
    Step(
        name="washing aid, then wash",
        bath="sodium sulfite 1 %, then water",
        minutes="2-4, then 30",
        low_c=20,
        high_c=20,
        source=f"{_REILLY}; wash common practice",
        verified=True,
    ),
)
_ARGYROTYPE = (
    _COAT,
    _DRY,
    Step(name="expose", bath="UV", minutes="by test"),
    Step(name="wash", bath="water", minutes="5", low_c=20, high_c=20),
    Step(
        name="fix",
        bath="sodium thiosulfate 2 %",
        minutes="3",
        low_c=20,
        high_c=20,
    ),
    Step(name="wash", bath="water", minutes="20-30", low_c=20, high_c=20),
)


def _salt_step(name: str, bath: str, minutes: str, end_point: str = "") -> Step:
    return Step(
        name=name,
        bath=bath,
        minutes=minutes,
        low_c=20,
        high_c=20,
        end_point=end_point,
        source=_SALT_PRINT,
        verified=True,
    )


_SALT = (
    _COAT,
    _DRY,
    Step(name="expose", bath="UV", minutes="by test"),
    _salt_step("wash", "water", "10-20", "milkiness gone"),
    _salt_step("salt bath", "salt water", "0.5-1"),
    _salt_step("wash, tone, wash", "water; gold; water", "10; -; 10"),
    _salt_step("fix, two baths", "sodium thiosulfate", "4 + 4"),
    _salt_step("rinse, washing aid", "water; sodium sulfite", "4; 4"),
    _salt_step("wash", "water", "30-60"),
)
_ALBUMEN = (
    _COAT,
    _DRY,
    Step(name="expose", bath="UV", minutes="by test"),
    Step(
        name="wash",
        bath="water",
        minutes="5-10",
        low_c=20,
        high_c=20,
        end_point="no milkiness",
        source="Decisive Momentum 2008",
        verified=True,
    ),
    Step(
        name="fix, two baths",
        bath="sodium thiosulfate 15 % with 0.2 % carbonate",
        minutes="3-5 each",
        low_c=20,
        high_c=20,
        source=_DECISIVE,
        verified=True,
    ),
)
_GUM = (
    _COAT,
    _DRY,
    Step(name="expose", bath="UV", minutes="by test"),
    Step(
        name="float to develop",
        bath="water, several changes",
        minutes="20-60",
        low_c=18,
        high_c=25,
        end_point="judge by the image",
    ),
    Step(
        name="clear",
        bath="metabisulfite 1-5 %",
        minutes="2-5",
        low_c=20,
        high_c=20,
        end_point="orange stain gone",
    ),
)
_KING = "S. King, carbon symposium step list"
_CARBON = (
    Step(name="expose", bath="UV", minutes="by test"),
    Step(
        name="mate",
        bath="cool water, then pressure",
        minutes="15",
        low_c=15,
        high_c=20,
        source=_KING,
        verified=True,
    ),
    Step(
        name="strip and develop",
        bath="warm water",
        minutes="5, then to finish",
        low_c=49,
        high_c=49,
        end_point="about 120 F in the source",
        source=_KING,
        verified=True,
    ),
    Step(
        name="cold rinse",
        bath="cold water",
        minutes="2",
        low_c=10,
        high_c=15,
        source=_KING,
        verified=True,
    ),
)

SEQUENCES: dict[str, tuple[Step, ...]] = {
    "platinum": _PT_PD,
    "platinum-palladium": _PT_PD,
    "palladium": _PT_PD,
    "palladium-print-out": _PRINT_OUT_PD,
    "cyanotype": _CYANOTYPE,
    "new-cyanotype": _CYANOTYPE,
    "kallitype": _KALLITYPE,
    "van-dyke": _VAN_DYKE,
    "argyrotype": _ARGYROTYPE,
    "salt": _SALT,
    "albumen": _ALBUMEN,
    "gum": _GUM,
    "carbon": _CARBON,
}


def sequence(process_key: str) -> tuple[Step, ...]:
    """Return the steps of a process.

    Raises
    ------
    InvalidValueError
        If there is no sequence for it.
    """
    if process_key not in SEQUENCES:
        raise InvalidValueError(
            f"no sequence is known for {process_key}",
            where="process",
            fix=f"Known are {', '.join(SEQUENCES)}; or give your own with --steps.",
        )
    return SEQUENCES[process_key]
