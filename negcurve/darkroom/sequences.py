"""What follows what after exposure: baths, minutes, temperatures, end points.

Each step carries its source; steps of common practice are shown as unverified, and a
user's own table may stand in for any of them.
"""

from negcurve.darkroom.silver_sequences import (
    ALBUMEN,
    ARGYROTYPE,
    KALLITYPE,
    SALT,
    VAN_DYKE,
)
from negcurve.darkroom.steps import COAT, DRY, Step
from negcurve.errors import InvalidValueError

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
_PRINT_OUT_PD = (
    COAT,
    DRY,
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
    COAT,
    DRY,
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
_GUM = (
    COAT,
    DRY,
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
    "kallitype": KALLITYPE,
    "van-dyke": VAN_DYKE,
    "argyrotype": ARGYROTYPE,
    "salt": SALT,
    "albumen": ALBUMEN,
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
