"""How a negative goes to the printer: the target's way, unless asked otherwise.

Knows which settings a target hands down and what to say when one is changed.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from negcurve.errors import InvalidValueError
from negcurve.values import CodeArray, Finding, StripSink

MODES = ("grey", "rgb")


@dataclass(frozen=True, kw_only=True)
class PrinterPath:
    """Settings that target and negative share.

    Attributes
    ----------
    mode : {"grey", "rgb"}
        Channels of the file; RGB has three equal ones.
    bits : {8, 16}
        Per sample.
    resolution_ppi : float
        [pixels per inch]
    findings : tuple of Finding
        What differs from the target.
    """

    mode: str
    bits: int
    resolution_ppi: float
    findings: tuple[Finding, ...] = ()

    def __post_init__(self) -> None:
        if self.mode not in MODES:
            raise InvalidValueError(f"{self.mode!r} is not known", where="mode")
        if self.bits not in (8, 16):
            raise InvalidValueError(
                f"{self.bits} bits cannot be written", where="bits", fix="Use 8 or 16."
            )

    @property
    def channels(self) -> int:
        """1 or 3."""
        return 3 if self.mode == "rgb" else 1


def printer_path(
    target: Mapping[str, str],
    *,
    bits: int | None = None,
    resolution_ppi: float | None = None,
    own_ppi: float | None = None,
) -> PrinterPath:
    """Choose the settings of a negative.

    Parameters
    ----------
    target : mapping
        Printer path of the target that the table was solved from; empty if unknown.
    bits, resolution_ppi : optional
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
    found = []
    if target_ppi and chosen_ppi != target_ppi:
        found.append(_changed("ppi", f"{target_ppi:g}", f"{chosen_ppi:g}"))
    if target_bits and chosen_bits != target_bits:
        found.append(_changed("bits", f"{target_bits:g}", f"{chosen_bits}"))
    profile = target.get("profile", "none")
    if profile != "none":
        found.append(_changed("profile", profile, "none"))
    return PrinterPath(
        mode=target.get("mode", "grey"),
        bits=chosen_bits,
        resolution_ppi=chosen_ppi,
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


class ThreeChannels:
    """Writes grey rows as equal red, green and blue, where the target was RGB."""

    def __init__(self, sink: StripSink) -> None:
        self._sink = sink

    def write(self, rows: CodeArray) -> None:
        """Append grey rows, shape (n, width)."""
        self._sink.write(np.repeat(rows[..., np.newaxis], 3, axis=2))
