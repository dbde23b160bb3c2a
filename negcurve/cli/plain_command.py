"""Commands that convert words, numbers and paths by themselves, to start sooner."""

from functools import partial
from pathlib import Path
from typing import Any

from typer.core import TyperCommand, TyperGroup

KINDS = (str, Path, float, int)


class PlainCommand(TyperCommand):
    """A command whose plain values need no library that checks them.

    typer loads one for the first value of any kind, which took a third of the time
    that `apply` needs to start. What is not plain is left to typer, with its messages:
    lists, bounds, a word where a number should stand, a value that is missing.
    """

    def get_params(self, ctx: Any) -> Any:
        """Return the parameters; see typer."""
        return _plain(super().get_params(ctx))


class PlainGroup(TyperGroup):
    """The same for what stands before the command."""

    def get_params(self, ctx: Any) -> Any:
        """Return the parameters; see typer."""
        return _plain(super().get_params(ctx))


def _plain(parameters: list[Any]) -> list[Any]:
    for each in parameters:
        # A typer that describes its values in another way converts them all itself.
        known = hasattr(each, "type_descriptor")
        if known and not isinstance(each.process_value, partial):
            each.process_value = partial(_converted, each, each.process_value)
    return parameters


def _converted(parameter: Any, by_typer: Any, context: Any, value: Any) -> Any:
    """Convert a plain value; leave any other to typer."""
    about = parameter.type_descriptor
    if about.is_ranged or parameter.multiple or parameter.nargs != 1:
        return by_typer(context, value)
    if value is None and not parameter.required:
        called = parameter.callback
        return None if called is None else called(context, parameter, value)
    if isinstance(value, str) and about.annotation in KINDS and not parameter.callback:
        try:
            return about.annotation(value)
        except ValueError:
            return by_typer(context, value)
    return by_typer(context, value)
