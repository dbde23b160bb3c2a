"""Substances that must not be mixed, and the refusal with its reason.

A list of what is known to go wrong in this craft; what is not on it is not thereby
without danger.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from negcurve.errors import InvalidValueError


@dataclass(frozen=True, kw_only=True)
class Conflict:
    """Two kinds of substance that must not be mixed.

    Attributes
    ----------
    first, second : tuple of str
        Parts of names.
    reason, fix, source : str
    """

    first: tuple[str, ...]
    second: tuple[str, ...]
    reason: str
    fix: str
    source: str


_STRONG_ACIDS = ("hydrochloric acid", "sulfamic acid", "sulfuric acid", "nitric acid")
_ACIDS = (*_STRONG_ACIDS, "citric acid", "oxalic acid", "acetic acid", "tartaric acid")

CONFLICTS = (
    Conflict(
        first=("potassium chlorate",),
        second=("ammoni",),
        reason="chlorate with ammonium salts may ignite by itself when it dries",
        fix="Use a sensitizer without ammonium, or another contrast agent.",
        source="NOAA CAMEO Chemicals 4298",
    ),
    Conflict(
        first=("ferricyanide",),
        second=_STRONG_ACIDS,
        reason="strong acid frees hydrogen cyanide from ferricyanide",
        fix="Keep strong acids away from it; acidify the paper beforehand and dry it.",
        source="ICSC 1132",
    ),
    Conflict(
        first=("sodium sulfite", "sodium thiosulfate"),
        second=_ACIDS,
        reason="acid frees sulfur dioxide from sulfite and thiosulfate",
        fix="Keep the baths apart and rinse the print between them.",
        source="EUH031 on sulfite sheets; common practice",
    ),
    Conflict(
        first=("silver nitrate", "silver oxide"),
        second=("ammonia",),
        reason="silver with ammonia can form explosive deposits on standing",
        fix="Leave ammonia out.",
        source="general chemistry, from memory",
    ),
    Conflict(
        first=("potassium chlorate",),
        second=_STRONG_ACIDS,
        reason="strong acid frees explosive chlorine dioxide from chlorate",
        fix="Keep acids away from chlorate.",
        source="general chemistry, from memory",
    ),
)


def check_mixture(names: Iterable[str]) -> None:
    """Refuse a mixture that is known to be dangerous.

    Parameters
    ----------
    names : iterable of str
        Names of the substances that would meet.

    Raises
    ------
    InvalidValueError
        With the reason and its source. That nothing is raised says nothing about the
        mixture.
    """
    kept = [name.lower() for name in names]
    for conflict in CONFLICTS:
        first = _named(kept, conflict.first)
        second = _named(kept, conflict.second)
        if first and second and first != second:
            raise InvalidValueError(
                f"not with {second}: {conflict.reason} ({conflict.source})",
                where=first,
                fix=conflict.fix,
            )


def _named(names: list[str], parts: tuple[str, ...]) -> str:
    for part in parts:
        for name in names:
            if part in name:
                return name
    return ""
