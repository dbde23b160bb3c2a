"""What the name of a list's column says: the quantity, its channel, its unit.

Names are taken apart into words, so that `Density (visual)`, `D_VIS` and `visual
density` are one name; what numbers stand below is left to `quantities`.
"""

import re
from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal

from negcurve.readings import DensityKind

Scale = Literal["density", "lightness", "factor"]
"""A density, L* on 0..100, or a share of light as factor or percent."""

PLAIN = ("density", "lightness", "l*")
"""Columns that our own readings files have too, understood row by row."""


@dataclass(frozen=True, kw_only=True)
class Meaning:
    """What a column holds.

    Attributes
    ----------
    scale : Scale
    kind : DensityKind
        Of the density that it gives.
    percent : bool or None
        Whether the name says percent, or a factor; None where it does not say.
    named : bool
        Whether the name says the kind; a mere `density` does not.
    """

    scale: Scale
    kind: DensityKind = "luminance"
    percent: bool | None = None
    named: bool = True


CHANNELS: dict[str, DensityKind] = {
    **dict.fromkeys(("vis", "visual", "v", "k", "black"), "visual"),
    **dict.fromkeys(("red", "r", "cyan", "c"), "red"),
    **dict.fromkeys(("green", "g", "magenta", "m"), "green"),
    **dict.fromkeys(("blue", "b", "yellow", "y"), "blue"),
}
"""The ink's name stands for the filter that sees it. Common practice, no source."""

FOUR_FILTERS = {"v", "c", "m", "y"}
"""Columns of these four letters are a densitometer's; fewer may be shares of inks."""

_DENSITY = {"d", "density", "densities", "od", "dens"}
_LIGHTNESS = {
    ("l*",),
    ("l",),
    ("lightness",),
    ("lightness", "l*"),
    ("lab", "l"),
    ("lab", "l*"),
    ("cielab", "l"),
    ("cielab", "l*"),
    ("lch", "l"),
    ("lch", "l*"),
    ("ciel",),
    ("ciel*",),
    ("lstar",),
    ("l", "star"),
}
_LUMINANCE = {
    ("y",),
    ("xyz", "y"),
    ("xyy", "capy"),
    ("luminance",),
    ("luminance", "factor"),
}
_REFLECTANCE = {
    ("r",),
    ("reflectance",),
    ("reflectance", "factor"),
    ("reflectance", "r"),
    ("refl",),
    ("reflectivity",),
}
_PERCENT = {"%", "percent", "pct"}
_SILENT = {
    *("cie", "iso", "d50", "2deg", "mean", "average", "avg", "value"),
    *("absolute", "abs"),
    *("m0", "m1", "m2", "m3"),
}
"""Words that change nothing here: D50 and 2 degrees are what is meant anyway; M0 to M3
are measurement conditions of ISO 13655."""

_SILENT_WITH_LIGHT = {"2", "deg", "degree", "degrees"}
"""Silent where `d50` stands beside them, and not the number of a column."""

_WORD = re.compile(r"[^\W_]+\*?|[*%]")
_SPECTRAL = re.compile(
    r"(?P<unit>%?(?:[^\W\d_]+_)*[^\W\d_]*%?)_?"
    r"(?P<nm>[3-9]\d\d|1[01]\d\d)(?:\.0+)?_?(?:nm)?_?(?P<after>%?)"
)
_SPECTRAL_WORDS = {
    *("", "spectral", "spec", "spectrum", "nm", "r", "refl", "reflectance", "factor"),
    *("wl", "wavelength", "lambda", "\N{GREEK SMALL LETTER LAMDA}", "w", "dec"),
    *("pct", "percent", "%", "r%", "%r"),
}


def meaning(name: str, among: Collection[str] = ()) -> Meaning | None:
    """Say what a column holds, by its name.

    Parameters
    ----------
    name : str
        In small letters, spaces as underscores.
    among : collection of str
        All columns of the list: a column `r` beside `g` and `b` is no reflectance.

    Returns
    -------
    Meaning or None
        None where the name says no quantity of a print.
    """
    found = _WORD.findall(name.replace("_*", "*"))
    silent = _SILENT | _PERCENT | (_SILENT_WITH_LIGHT if "d50" in found else set())
    words = tuple(word for word in found if word not in silent)
    percent = True if _PERCENT & set(found) else None
    if words in _LIGHTNESS:
        return Meaning(scale="lightness")
    if words in _LUMINANCE | _REFLECTANCE and not _is_coordinate(words, among):
        return Meaning(scale="factor", percent=percent)
    if set(among) >= FOUR_FILTERS and len(words) == 1 and words[0] in FOUR_FILTERS:
        return Meaning(scale="density", kind=CHANNELS[words[0]])
    return _density(words)


def wavelength(name: str) -> tuple[float, bool | None] | None:
    """Return the wavelength of a spectrum's column and whether it says percent.

    Returns
    -------
    tuple of float and bool or None, or None
        [nm]; percent as in `Meaning`. None for other columns.
    """
    found = _SPECTRAL.fullmatch(re.sub(r"[()\[\]_]+", "_", name).strip("_"))
    if found is None:
        return None
    words = {word for word in (*found["unit"].split("_"), found["after"]) if word}
    if not words <= _SPECTRAL_WORDS:
        return None
    percent = any("%" in word or word in _PERCENT for word in words)
    return float(found["nm"]), True if percent else (False if "dec" in words else None)


def _is_coordinate(words: tuple[str, ...], among: Collection[str]) -> bool:
    """Tell a channel of RGB or CMY, or a place on the sheet, from a quantity."""
    if words == ("r",):
        return {"g", "b"} <= set(among)
    if words == ("y",):
        return "m" in among or ("x" in among and "z" not in among)
    return False


def _density(words: tuple[str, ...]) -> Meaning | None:
    """Understand a density: a channel, the word itself, or both."""
    bare = _without_status(words)
    rest = tuple(word for word in bare if word not in _DENSITY)
    told = len(rest) < len(bare) or len(bare) < len(words)
    if not rest and told:
        return Meaning(scale="density", named=False)
    if rest in {("optical",), ("reflection",), ("print",)} and told:
        return Meaning(scale="density", named=False)
    if rest == ("luminance",) and told:
        return Meaning(scale="density")
    if len(rest) != 1:
        return None
    (word,) = rest
    if word in CHANNELS and (told or word in ("vis", "visual")):
        return Meaning(scale="density", kind=CHANNELS[word])
    if word[0] == "d" and word[1:] in CHANNELS:
        return Meaning(scale="density", kind=CHANNELS[word[1:]])
    return None


def _without_status(words: tuple[str, ...]) -> tuple[str, ...]:
    """Take `status t` away, in one word or two; what is left is of a density."""
    kept = list(words)
    for place, word in enumerate(words):
        if re.fullmatch(r"status[aemti]", word):
            kept.remove(word)
        elif word == "status" and len(words[place + 1 : place + 2]):
            if re.fullmatch(r"[aemti]", words[place + 1]):
                kept.remove(words[place + 1])
            kept.remove(word)
    return tuple(kept)
