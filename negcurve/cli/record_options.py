"""Options that several commands of `negcurve record` share."""

from typing import Annotated

import typer

Name = Annotated[str, typer.Argument(help="Name or key of a calibration.")]
Settings = Annotated[
    list[str] | None,
    typer.Option("--set", help="A circumstance, as humidity_percent=55; repeatable."),
]
Remark = Annotated[str, typer.Option(help="Anything worth knowing.")]
When = Annotated[
    str, typer.Option(help="Date of the print, as 2026-03-01; now if not given.")
]


def settings_named(given: list[str] | None) -> dict[str, str]:
    """Return the circumstances that were typed as KEY=VALUE."""
    kept = {}
    for each in given or []:
        key, sign, value = each.partition("=")
        if not sign or not key.strip() or not value.strip():
            raise typer.BadParameter(
                f"{each!r} is not KEY=VALUE, as humidity_percent=55",
                param_hint="--set",
            )
        kept[key.strip()] = value.strip()
    return kept
