"""What can hurt, said with every output that leads there.

Short reminders with their source. They replace no safety data sheet, no local code and
no licensed practice, and nothing here says that anything is safe.
"""

from collections.abc import Iterable
from dataclasses import dataclass

DEFER = (
    "Read the current safety data sheet of your own supplier, and keep to your local "
    "code and to licensed practice for chemicals, waste and lamps."
)
"""Stands at the end of every list of cautions."""


@dataclass(frozen=True, kw_only=True)
class Caution:
    """One reminder.

    Attributes
    ----------
    subject : str
    hazard : str
        With hazard codes (GHS) where a sheet gives them.
    care : str
        The usual care.
    source : str
    verified : bool
        False where the source is common practice or memory.
    """

    subject: str
    hazard: str
    care: str
    source: str
    verified: bool = True

    def __str__(self) -> str:
        """Return one line, marked where it has no good source."""
        mark = "" if self.verified else " [unverified]"
        return f"{self.subject}: {self.hazard}. {self.care} ({self.source}){mark}"

    def as_plain(self) -> dict[str, object]:
        """Return the attributes for JSON."""
        return dict(vars(self))


_GLOVES = "Gloves and splash goggles; no dust."

CAUTIONS = {
    "uv": Caution(
        subject="UV light",
        hazard="burns eyes and skin: 30 J/m2 effective, and 10 000 J/m2 of UVA on the "
        "eye, within 8 hours; blacklight tubes look dim, so pupils stay open",
        care="Enclose the lamp, interlock the lid, wear UV-blocking eyewear.",
        source="ICNIRP, Health Physics 87(2) 171-186, 2004",
    ),
    "violet": Caution(
        subject="violet light, 380-420 nm",
        hazard="can hurt the retina beyond the UV limits, which end at 400 nm",
        care="Do not look into the source; enclosure and blocking eyewear.",
        source="principle of the ICNIRP guidelines for visible light, from memory",
        verified=False,
    ),
    "lamp": Caution(
        subject="fluorescent and mercury lamps",
        hazard="hold mercury; short-wave types make ozone",
        care="Ventilate; hand spent or broken lamps to lamp recycling.",
        source="common practice",
        verified=False,
    ),
    "potassium dichromate": Caution(
        subject="potassium dichromate",
        hazard="carcinogen, mutagen, sensitizer, oxidizer; dust is fatal if inhaled "
        "(H272 H301 H312 H314 H317 H330 H334 H340 H350 H360FD H372 H410); air limit "
        "for Cr(VI) 5 ug/m3",
        care="Buy it dissolved; hood, gloves, goggles, P100 or FFP3 for powder; no "
        "spraying, no blow-drying; hazardous waste.",
        source="supplier sheets 2015, 2018; OSHA 29 CFR 1910.1026",
    ),
    "ammonium dichromate": Caution(
        subject="ammonium dichromate",
        hazard="as potassium dichromate, and decomposes violently when heated",
        care="Keep from heat and organics; else as potassium dichromate.",
        source="common practice; check the sheet",
        verified=False,
    ),
    "chloroplatinate": Caution(
        subject="chloroplatinates",
        hazard="asthma and skin allergy, eye damage (H301 H317 H318 H334); air limit "
        "0.002 mg/m3 as Pt",
        care="Never handle dry in the open; gloves; stop for good when symptoms come.",
        source="OSHA and ACGIH limits in J. Chem. Educ. CLIP; supplier sheet",
    ),
    "palladium": Caution(
        subject="palladium salts",
        hazard="skin allergy, eye damage (H290 H302 H317 H318 H410)",
        care=_GLOVES,
        source="GHS codes of palladium(II) chloride",
    ),
    "oxalic acid": Caution(
        subject="oxalic acid",
        hazard="kidney poison, eye damage (H302 H312 H318); air limit 1 mg/m3",
        care=_GLOVES,
        source="supplier sheet 2018; NJDOH 2010",
    ),
    "oxalate": Caution(
        subject="oxalates",
        hazard="harmful by mouth and skin (H302 H312 H315 H319)",
        care="Gloves; P2 or P100 for powder; do not heat to spray, no blow-drying.",
        source="supplier sheet; for the iron salts common practice",
    ),
    "silver nitrate": Caution(
        subject="silver nitrate",
        hazard="a splash can blind; oxidizer, burns, stains (H272 H302 H314 H318 H373 "
        "H410); air limit 0.01 mg/m3 as Ag",
        care="Goggles always, gloves; silver waste to a collector.",
        source="supplier sheet 2020",
    ),
    "ferricyanide": Caution(
        subject="potassium ferricyanide",
        hazard="heat or strong acid frees hydrogen cyanide, up to 0.49 g per g",
        care="No hot or strong-acid baths; keep from nitrite and ammonia; waste apart.",
        source="ICSC 1132 (2002); ceiling computed",
    ),
    "chlorate": Caution(
        subject="potassium chlorate",
        hazard="explosive with organics; may ignite with ammonium salts (H271 H302 "
        "H332 H411)",
        care="Never with ammonium sensitizers; dissolve, do not grind; wipe up spills "
        "wet.",
        source="NOAA CAMEO Chemicals 4298; supplier sheet",
    ),
    "edta": Caution(
        subject="tetrasodium EDTA",
        hazard="eye damage (H302 H318); alkaline, about pH 11",
        care="Goggles.",
        source="supplier sheet 2011",
    ),
    "hydrochloric acid": Caution(
        subject="hydrochloric acid over 10 %",
        hazard="burns, fumes (H290 H314 H335)",
        care="Not needed where citric acid or EDTA will do.",
        source="common practice",
        verified=False,
    ),
    "mild acid": Caution(
        subject="citric, sulfamic and acetic acid",
        hazard="irritate skin and eyes (H315 H319)",
        care="Gloves and goggles; acid into water, never water into acid.",
        source="common practice",
        verified=False,
    ),
    "sulfite": Caution(
        subject="thiosulfate and sulfite",
        hazard="acid frees sulfur dioxide (EUH031)",
        care="Ventilate; rinse between acid and these baths. Spent fixer holds silver: "
        "not down the drain.",
        source="common practice; Cornell EHS manual 7.14 for waste",
        verified=False,
    ),
    "peroxide": Caution(
        subject="hydrogen peroxide",
        hazard="strong solutions burn and feed fire",
        care="Dilute with care; keep from metal salts and organics in the bottle.",
        source="common practice",
        verified=False,
    ),
    "thiourea": Caution(
        subject="thiourea toner",
        hazard="harmful, suspected carcinogen (H302 H351 H361d H411)",
        care="Gloves; no dust.",
        source="common practice; check the sheet",
        verified=False,
    ),
    "spirit": Caution(
        subject="spirit sensitizer (acetone or alcohol with dichromate)",
        hazard="burns, and an oxidizer feeds the fire (H225 H319 H336)",
        care="No flame, spark or hot plate; hood.",
        source="S. King for its use; hazard common practice",
        verified=False,
    ),
    "gold": Caution(
        subject="gold toner",
        hazard="gold chloride burns skin and eyes and stains",
        care="Gloves and goggles.",
        source="common practice; check the sheet",
        verified=False,
    ),
    "warm bath": Caution(
        subject="warm baths",
        hazard="hot liquid scalds, and warm baths give off more spray and vapour",
        care="Stable trays, ventilation, gloves.",
        source="common practice",
        verified=False,
    ),
}
"""Hazards of the craft. Codes and limits are those of the sheets named.
"""

_BY_WORD = (
    ("potassium dichromate", "potassium dichromate"),
    ("ammonium dichromate", "ammonium dichromate"),
    ("dichromate", "potassium dichromate"),
    ("chloroplatin", "chloroplatinate"),
    ("pallad", "palladium"),
    ("oxalic acid", "oxalic acid"),
    ("oxalate", "oxalate"),
    ("ferrioxalate", "oxalate"),
    ("silver nitrate", "silver nitrate"),
    ("silver oxide", "silver nitrate"),
    ("ferricyanide", "ferricyanide"),
    ("chlorate", "chlorate"),
    ("edta", "edta"),
    ("hydrochloric", "hydrochloric acid"),
    ("citric acid", "mild acid"),
    ("sulfamic", "mild acid"),
    ("acetic", "mild acid"),
    ("thiosulfate", "sulfite"),
    ("sulfite", "sulfite"),
    ("peroxide", "peroxide"),
    ("thiourea", "thiourea"),
    ("acetone", "spirit"),
    ("alcohol", "spirit"),
    ("gold", "gold"),
    ("metabisulfite", "sulfite"),
)


def cautions_for(words: Iterable[str], *, light: bool = False) -> tuple[Caution, ...]:
    """Collect the cautions for what an output names.

    Parameters
    ----------
    words : iterable of str
        Names of substances, baths, or steps, in any wording.
    light : bool
        Whether the output leads to a UV exposure.

    Returns
    -------
    tuple of Caution
        Each once, lamps first.
    """
    keys = ["uv", "violet", "lamp"] if light else []
    for text in words:
        plain = text.lower()
        for word, key in _BY_WORD:
            if word in plain:
                keys.append(key)
                plain = plain.replace(word, "")
    return tuple(CAUTIONS[key] for key in dict.fromkeys(keys))
