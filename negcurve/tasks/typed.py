"""Lists of numbers as they are typed on a command line."""

import re
from collections.abc import Iterable

from negcurve.errors import InvalidValueError
from negcurve.files.text_table import number_in


def typed_numbers(text: str | None, *, where: str) -> tuple[float, ...]:
    """Read numbers separated by spaces or commas; none gives an empty tuple.

    Raises
    ------
    InvalidValueError
        If a part is no number.
    """
    parts = re.split(r"[\s,;]+", (text or "").strip())
    values = []
    for part in parts if parts != [""] else []:
        value = number_in(part)
        if value is None:
            raise InvalidValueError(
                f"{part!r} is no number",
                where=where,
                fix="Separate numbers by spaces or commas, with decimal points.",
            )
        values.append(value)
    return tuple(values)


def typed_steps(text: str | None, *, where: str) -> tuple[int, ...]:
    """Read step numbers separated by spaces or commas.

    Raises
    ------
    InvalidValueError
        If a part is no whole number.
    """
    values = typed_numbers(text, where=where)
    if any(value != int(value) for value in values):
        raise InvalidValueError(
            "steps are whole numbers", where=where, fix="Write them as 7,8."
        )
    return tuple(int(value) for value in values)


def pair(text: str | None, *, where: str) -> tuple[float, float] | None:
    """Read two numbers.

    Raises
    ------
    InvalidValueError
        If there are not two.
    """
    if text is None:
        return None
    values = typed_numbers(text, where=where)
    if len(values) != 2:
        raise InvalidValueError(
            f"{len(values)} numbers where two are needed",
            where=where,
            fix="Write them with a comma: 0.18,1.78.",
        )
    return values[0], values[1]


def named_texts(parts: Iterable[str] | None, *, where: str) -> dict[str, str]:
    """Read `name=value` pairs.

    Raises
    ------
    InvalidValueError
        If a part has no equals sign or a name comes twice.
    """
    found: dict[str, str] = {}
    for part in parts or ():
        name, equals, value = part.partition("=")
        name, value = name.strip(), value.strip()
        if not (name and equals and value) or name in found:
            raise InvalidValueError(
                f"{part!r} is not a name with one value",
                where=where,
                fix="Write name=value, once for each name.",
            )
        found[name] = value
    return found


def named_numbers(parts: Iterable[str] | None, *, where: str) -> dict[str, float]:
    """Read `name=number` pairs.

    Raises
    ------
    InvalidValueError
        If a part is not such a pair.
    """
    found = {}
    for name, text in named_texts(parts, where=where).items():
        value = number_in(text.removesuffix("%"))
        if value is None:
            raise InvalidValueError(
                f"{text!r} is no number",
                where=f"{where} {name}",
                fix=f"Write {name}=NUMBER.",
            )
        found[name] = value
    return found
