"""The processes: what range they want, what moves it, how they meet light and damp.

Ranges to start from, each with its grade; the user's own tablet test replaces them.
Grades: A standard, paper or reference book; B named practitioner, maker or museum; C
common practice or memory, shown as unverified. Where a row mixes grades it says so.
"""

from dataclasses import dataclass
from typing import Literal

from negcurve.errors import InvalidValueError, ReadingsError

Masking = Literal["none", "slight", "moderate", "strong"]
Range = tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class Process:
    """One process as usually worked.

    Attributes
    ----------
    key, name : str
        Word for the command line, and in full.
    exposure_scale, negative_range : (float, float)
        [log10], [D]
    d_max : (float, float)
        [D]
    exposure_min : (float, float)
        Usual under a bank of UVA tubes. [min]
    grade : str
        Of the ranges: scale / D-max.
    contrast_up, contrast_down, humidity : str
    printing_out : bool
        The image appears in the light and shields the layer below it.
    masking : {"none", "slight", "moderate", "strong"}
    source : str
    """

    key: str
    name: str
    exposure_scale: Range
    negative_range: Range
    d_max: Range
    exposure_min: Range
    grade: str
    contrast_up: str
    contrast_down: str
    humidity: str
    printing_out: bool
    masking: Masking
    source: str

    @property
    def unverified(self) -> bool:
        """Whether any of its ranges is common practice without a source."""
        return "C" in self.grade


_ROWS = (
    Process(
        key="platinum",
        name="platinum, developed out",
        exposure_scale=(1.5, 1.8),
        negative_range=(1.4, 1.8),
        d_max=(1.35, 1.50),
        exposure_min=(4, 10),
        grade="B/C",
        contrast_up="chlorate in the ferric oxalate; dichromate or peroxide in the "
        "developer",
        contrast_down="a softer developer (citrate)",
        humidity="45-60 % RH now usual; old hot-bath texts want bone-dry paper",
        printing_out=False,
        masking="slight",
        source="Albumenworks 1996 for the scale, S. King for D-max; rest C",
    ),
    Process(
        key="platinum-palladium",
        name="platinum and palladium mixed, developed out",
        exposure_scale=(1.6, 2.0),
        negative_range=(1.5, 1.9),
        d_max=(1.35, 1.50),
        exposure_min=(3, 8),
        grade="C/C",
        contrast_up="chlorate; dichromate in the developer; drops of "
        "hexachloroplatinate only in mixes rich in palladium",
        contrast_down="a warmer developer, no contrast agent",
        humidity="45-60 % RH, constant within 5 %",
        printing_out=False,
        masking="slight",
        source="between the pure metals, common practice",
    ),
    Process(
        key="palladium",
        name="palladium, developed out",
        exposure_scale=(1.8, 2.3),
        negative_range=(1.7, 2.2),
        d_max=(1.35, 1.50),
        exposure_min=(3, 8),
        grade="C/C",
        contrast_up="drops of sodium hexachloroplatinate (strong); chlorate; "
        "dichromate in the developer",
        contrast_down="no contrast agent",
        humidity="45-60 % RH",
        printing_out=False,
        masking="moderate",
        source="common practice; without contrast agent it may fog in deep shadows",
    ),
    Process(
        key="palladium-print-out",
        name="palladium, printed out (ammonium ferric oxalate)",
        exposure_scale=(1.8, 2.4),
        negative_range=(1.8, 2.4),
        d_max=(1.3, 1.5),
        exposure_min=(3, 10),
        grade="C/C",
        contrast_up="drier paper",
        contrast_down="humidified paper",
        humidity="sets colour, contrast and speed: about 55-80 % RH, chosen on purpose",
        printing_out=True,
        masking="strong",
        source="principle: Ware, J. Photogr. Sci. 34, 165-177, 1986; numbers C",
    ),
    Process(
        key="cyanotype",
        name="classic cyanotype",
        exposure_scale=(1.0, 1.5),
        negative_range=(1.1, 1.5),
        d_max=(1.15, 1.40),
        exposure_min=(8, 25),
        grade="B/C",
        contrast_up="0.1-1 % dichromate in the sensitizer; a less acid bath",
        contrast_down="a first bath of dilute acid: 0.5-1.5 % acetic or 1-2 % citric",
        humidity="moist paper prints faster; coat and dry alike",
        printing_out=True,
        masking="moderate",
        source="Decisive Momentum 2011 and T. King 1997 for the range",
    ),
    Process(
        key="new-cyanotype",
        name="new cyanotype (ammonium ferric oxalate)",
        exposure_scale=(1.5, 2.2),
        negative_range=(1.5, 2.0),
        d_max=(1.60, 1.75),
        exposure_min=(1, 4),
        grade="C/B",
        contrast_up="dichromate in the sensitizer; a plain-water wash",
        contrast_down="a first bath of 1-2 % citric acid",
        humidity="as classic; the sensitizer attacks buffered paper",
        printing_out=True,
        masking="moderate",
        source="Ware, Simple Cyanotype, 2019, for D-max and speed; rest C",
    ),
    Process(
        key="kallitype",
        name="kallitype",
        exposure_scale=(1.4, 2.0),
        negative_range=(1.5, 1.9),
        d_max=(1.45, 1.65),
        exposure_min=(2, 6),
        grade="C/C",
        contrast_up="dichromate in the developer, a wide control",
        contrast_down="no dichromate; a warmer developer",
        humidity="45-60 % RH",
        printing_out=False,
        masking="moderate",
        source="Clerc for the control; ranges C",
    ),
    Process(
        key="van-dyke",
        name="Van Dyke brown",
        exposure_scale=(1.7, 2.3),
        negative_range=(1.6, 2.2),
        d_max=(1.25, 1.45),
        exposure_min=(3, 8),
        grade="B/C",
        contrast_up="very little: traces of dichromate",
        contrast_down="none",
        humidity="dry paper prints weak; 50-65 % RH",
        printing_out=True,
        masking="strong",
        source="Caluori; National Technical Museum Prague; numbers C",
    ),
    Process(
        key="argyrotype",
        name="argyrotype",
        exposure_scale=(1.5, 1.9),
        negative_range=(1.5, 1.9),
        d_max=(1.25, 1.45),
        exposure_min=(4, 12),
        grade="C/C",
        contrast_up="drier paper",
        contrast_down="humidified paper",
        humidity="50-70 % RH changes colour and D-max",
        printing_out=True,
        masking="moderate",
        source="common practice",
    ),
    Process(
        key="salt",
        name="salted paper",
        exposure_scale=(1.9, 2.4),
        negative_range=(1.9, 2.3),
        d_max=(1.2, 1.4),
        exposure_min=(8, 25),
        grade="B/C",
        contrast_up="less chloride in the paper; weaker, indirect light",
        contrast_down="strong direct light",
        humidity="changes speed and colour; almost no image below 5 C",
        printing_out=True,
        masking="strong",
        source="Albumenworks 1996; E. Young, The Salt Print Manual",
    ),
    Process(
        key="albumen",
        name="albumen",
        exposure_scale=(2.0, 2.4),
        negative_range=(2.0, 2.5),
        d_max=(1.6, 1.9),
        exposure_min=(10, 30),
        grade="B/C",
        contrast_up="0.5 % chloride instead of 3-4 %, slightly",
        contrast_down="direct sun",
        humidity="as salted paper",
        printing_out=True,
        masking="strong",
        source="Albumenworks 1996; Decisive Momentum 2008",
    ),
    Process(
        key="gum",
        name="gum dichromate, one coat",
        exposure_scale=(0.6, 1.3),
        negative_range=(0.8, 1.3),
        d_max=(0.8, 1.3),
        exposure_min=(1, 6),
        grade="C/C",
        contrast_up="less dichromate; more pigment; shorter exposure",
        contrast_down="more dichromate; longer exposure; several coats",
        humidity="speed about doubles for 30 % more RH; dark reaction about three "
        "times faster for 10 C more",
        printing_out=False,
        masking="slight",
        source="Kosar 1965, second-hand, for humidity; ranges C. Expose for most steps "
        "kept, not for D-max (Thayer)",
    ),
    Process(
        key="carbon",
        name="carbon transfer",
        exposure_scale=(0.9, 2.7),
        negative_range=(0.9, 2.7),
        d_max=(1.6, 2.1),
        exposure_min=(2, 15),
        grade="B/B",
        contrast_up="a weaker dichromate sensitizer",
        contrast_down="a stronger dichromate sensitizer (2-5 %); thicker tissue",
        humidity="as gum; dark reaction",
        printing_out=False,
        masking="none",
        source="S. King, The Carbon Transfer Process; exposure times C",
    ),
)

PROCESSES = {process.key: process for process in _ROWS}


def process(key: str) -> Process:
    """Find a process by its word.

    Raises
    ------
    InvalidValueError
        If there is none of that name.
    """
    plain = "-".join(key.lower().split())
    if plain not in PROCESSES:
        raise InvalidValueError(
            f"{key!r} is not a process that we know",
            where="process",
            fix=f"Write one of {', '.join(PROCESSES)}.",
        )
    return PROCESSES[plain]


MASKING_STOPS = 1.0
"""Change of exposure beyond which a printed-out curve is no longer the same. [stop]

Grade C, common practice, no source.
"""


def check_extrapolation(work: Process | None, stops: float) -> None:
    """Refuse to carry a test of a print-out process far beyond its exposure.

    Parameters
    ----------
    work : Process or None
        None if unknown: nothing is refused.
    stops : float
        Of the wanted exposure against the test's. [stop]

    Raises
    ------
    ReadingsError
        If the process prints out and the change is over one stop.

    Notes
    -----
    Its image shields the layer below, so the curve does not simply slide along log
    exposure. Principle: Ware 1986; the limit is common practice, no source.
    """
    if work is not None and work.printing_out and abs(stops) > MASKING_STOPS:
        raise ReadingsError(
            f"{work.name} prints out and shields itself: a change of {stops:+z.1f} "
            "stops cannot be worked out from this test",
            where="exposure",
            fix="Test again within one stop of the time that is wanted.",
        )
