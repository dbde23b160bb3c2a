"""How a negative goes to the printer: the target's way, unless asked otherwise.

Knows which settings a target hands down and what to say when one is changed.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from negcurve.errors import InvalidValueError
from negcurve.target.ink import BLACK, Ink, film_ink
from negcurve.values import Finding

MODES = ("grey", "rgb")


@dataclass(frozen=True, kw_only=True)
class PrinterPath:
    """Settings that target and negative share.

    Attributes
    ----------
    mode : {"grey", "rgb"}
        Channels of the file; RGB has three equal ones where the ink is black.
    bits : {8, 16}
        Per sample.
    resolution_ppi : float
        [pixels per inch]
    ink : Ink
        Full ink.
    findings : tuple of Finding
        What differs from the target.
    """

    mode: str
    bits: int
    resolution_ppi: float
    ink: Ink = BLACK
    findings: tuple[Finding, ...] = ()

    def __post_init__(self) -> None:
        if self.mode not in MODES:
            raise InvalidValueError(
                f"{self.mode!r} is not known", where="mode", fix="Use grey or rgb."
            )
        if self.bits not in (8, 16):
            raise InvalidValueError(
                f"{self.bits} bits cannot be written", where="bits", fix="Use 8 or 16."
            )
        if self.coloured and self.mode != "rgb":
            raise InvalidValueError(
                "grey cannot hold coloured ink", where="mode", fix="Use rgb."
            )

    @property
    def coloured(self) -> bool:
        """Whether the ink is another than black."""
        return self.ink != BLACK

    @property
    def channels(self) -> int:
        """1 or 3."""
        return 3 if self.mode == "rgb" else 1


def printer_path(
    target: Mapping[str, str],
    *,
    bits: int | None = None,
    resolution_ppi: float | None = None,
    ink: str | None = None,
    own_ppi: float | None = None,
) -> PrinterPath:
    """Choose the settings of a negative.

    Parameters
    ----------
    target : mapping
        Printer path of the target that the table was solved from; empty if unknown.
    bits, resolution_ppi, ink : optional
        What the user asked for instead.
    own_ppi : float, optional
        Of the picture, taken where neither user nor target says. [pixels per inch]

    Returns
    -------
    PrinterPath

    Raises
    ------
    InvalidValueError
        If nothing says the resolution, or a setting cannot be written.
    """
    target_ppi = _number(target, "ppi")
    target_bits = _number(target, "bits")
    chosen_ppi = resolution_ppi or target_ppi or own_ppi
    if chosen_ppi is None:
        raise InvalidValueError(
            "is given neither by the table nor by the picture",
            where="ppi",
            fix="Give the printer's own resolution, such as --ppi 720.",
        )
    chosen_bits = bits or int(target_bits or 16)
    target_ink = film_ink(target.get("ink", BLACK.text))
    chosen_ink = film_ink(ink) if ink else target_ink
    found = []
    if target and chosen_ink != target_ink:
        found.append(_changed("ink", target_ink.text, chosen_ink.text))
    if target_ppi and chosen_ppi != target_ppi:
        found.append(_changed("ppi", f"{target_ppi:g}", f"{chosen_ppi:g}"))
    if target_bits and chosen_bits != target_bits:
        found.append(_changed("bits", f"{target_bits:g}", f"{chosen_bits}"))
    profile = target.get("profile", "none")
    if profile != "none":
        found.append(_changed("profile", profile, "none"))
    return PrinterPath(
        mode="rgb" if chosen_ink != BLACK else target.get("mode", "grey"),
        bits=chosen_bits,
        resolution_ppi=chosen_ppi,
        ink=chosen_ink,
        findings=tuple(found),
    )


def _number(target: Mapping[str, str], key: str) -> float | None:
    text = target.get(key, "")
    try:
        return float(text) if text else None
    except ValueError:
        raise InvalidValueError(
            f"{text!r} is not a number", where=f"printer path, {key}"
        ) from None


def _changed(setting: str, target: str, negative: str) -> Finding:
    return Finding(
        severity="warning",
        where=setting,
        what=f"is {negative} in the negative and was {target} in the target, so the "
        "printer may lay down other ink than the table was made for",
        fix="Leave the setting out to print the target's way, or print a target "
        "this way and solve again.",
    )
