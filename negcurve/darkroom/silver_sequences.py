"""Sequences of the processes whose image is silver.

Kallitype, Van Dyke brown, argyrotype, salt and albumen; the look-up is left to
`sequences`.
"""

from negcurve.darkroom.steps import COAT, DRY, Step

_REILLY = "Reilly, The Albumen and Salted Paper Book, 1980"
_SALT_PRINT = "encyclopedia article on the salt print"
_DECISIVE = "Decisive Momentum 2008; time common practice"
KALLITYPE = (
    COAT,
    DRY,
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
VAN_DYKE = (
    COAT,
    DRY,
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
ARGYROTYPE = (
    COAT,
    DRY,
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


SALT = (
    COAT,
    DRY,
    Step(name="expose", bath="UV", minutes="by test"),
    _salt_step("wash", "water", "10-20", "milkiness gone"),
    _salt_step("salt bath", "salt water", "0.5-1"),
    _salt_step("wash, tone, wash", "water; gold; water", "10; -; 10"),
    _salt_step("fix, two baths", "sodium thiosulfate", "4 + 4"),
    _salt_step("rinse, washing aid", "water; sodium sulfite", "4; 4"),
    _salt_step("wash", "water", "30-60"),
)
ALBUMEN = (
    COAT,
    DRY,
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
