"""What a user says of a list of densities: its zero, its channel, its order."""

from typing import TypeVar, get_args

from negcurve.errors import InvalidValueError
from negcurve.files.patch_order import Order
from negcurve.readings import DensityKind, DensityZero

_Word = TypeVar("_Word", bound=str)


def zero_named(text: str | None) -> DensityZero | None:
    """Return what density 0 is, from a user's word.

    Raises
    ------
    InvalidValueError
        If it is `black`, from which no lightness follows, or not known.
    """
    if text == "black":
        raise InvalidValueError(
            "densities counted from black say nothing about lightness",
            where="--zero",
            fix="Zero the instrument on its white tile and read the print again; or "
            "subtract the paper's reading from all of them and give --zero paper.",
        )
    words: tuple[DensityZero, ...] = get_args(DensityZero)
    return _one_of(words, text, where="--zero")


def channel_named(text: str | None) -> DensityKind | None:
    """Return which density is wanted, from a user's word.

    Raises
    ------
    InvalidValueError
        If it is not known.
    """
    words: tuple[DensityKind, ...] = get_args(DensityKind)
    return _one_of(words, text, where="--channel")


def order_named(text: str | None) -> Order | None:
    """Return in which order patches were read, from a user's word.

    Raises
    ------
    InvalidValueError
        If it is not known.
    """
    words: tuple[Order, ...] = get_args(Order)
    return _one_of(words, text, where="--order")


def _one_of(words: tuple[_Word, ...], text: str | None, *, where: str) -> _Word | None:
    for word in words:
        if word == (text or "").strip().lower():
            return word
    if text is None:
        return None
    raise InvalidValueError(
        f"{text!r} is not known", where=where, fix=f"Use {', '.join(words)}."
    )
