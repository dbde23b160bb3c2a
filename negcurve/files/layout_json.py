"""Layouts as JSON: in a target's description, beside it, and the ready-made ones.

Knows the text form and where layouts are looked for; what a layout says is in
`negcurve.target.layout`.
"""

import json
from collections.abc import Callable, Mapping
from importlib import resources
from pathlib import Path
from typing import Any, TypeVar

from negcurve.errors import FileError, InvalidValueError
from negcurve.files.pictures import open_picture
from negcurve.files.safe import file_errors, write_text
from negcurve.files.schema import check_schema
from negcurve.target.ink import parse_ink
from negcurve.target.layout import Box, Layout, Patch, ScaleBar, Text

DESCRIPTION_START = "negcurve target"
"""How the image description of a target begins."""

STRIP_START = "\nnegcurve strip "
"""What comes before a strip's identity and layout in a negative's description."""

SUFFIX = ".layout.json"

_NEWEST = 1

Made = TypeVar("Made")


def layout_text(layout: Layout) -> str:
    """Write a layout for its sidecar: one key, patch or text a line.

    Parameters
    ----------
    layout : Layout

    Returns
    -------
    str
        JSON, with the printed identity added.
    """
    plain = {"identity": layout.identity_text, **layout.as_plain()}
    lines = [
        f" {json.dumps(key)}: {_value_text(value)}" for key, value in plain.items()
    ]
    return "{\n" + ",\n".join(lines) + "\n}\n"


def layout_from_text(text: str, *, where: str) -> Layout:
    """Read a layout from JSON.

    Parameters
    ----------
    text : str
        As `layout_text` or `Layout.canonical_text` gives it.
    where : str
        File, for messages.

    Returns
    -------
    Layout

    Raises
    ------
    FileError
        If it is no layout, was written by a newer program, is incomplete, or does not
        agree with the identity that it names.
    """
    try:
        plain = json.loads(text)
    except ValueError as error:
        raise FileError(
            f"is not JSON ({error})", where=where, fix="Name a layout or a target."
        ) from error
    if not isinstance(plain, dict):
        raise FileError(
            "is not a layout", where=where, fix="Name a layout or a target."
        )
    check_schema(str(plain.pop("schema", "")), "layout", _NEWEST, where=where)
    identity = plain.pop("identity", None)
    try:
        layout = _layout(plain)
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise FileError(
            f"is a layout with something missing or wrong ({_reason(error)})",
            where=where,
            fix="Make the target again with the same options, or use a copy.",
        ) from error
    if identity is not None:
        _check_identity(layout, str(identity), where=where)
    return layout


def write_layout(layout: Layout, path: Path | str, *, overwrite: bool = False) -> None:
    """Write a layout's sidecar."""
    write_text(path, layout_text(layout), overwrite=overwrite)


def description(layout: Layout) -> str:
    """Image description of a target: its kind and identity, then the layout."""
    return f"{DESCRIPTION_START} {layout.identity_text}\n{layout.canonical_text}"


def strip_description(layout: Layout) -> str:
    """Return the end of a negative's description: strip identity, then layout."""
    return f"{STRIP_START}{layout.identity_text}\n{layout.canonical_text}"


def sidecar_path(target: Path | str) -> Path:
    """Where the layout of a target stands: `NAME.layout.json` beside it."""
    path = Path(target)
    return path.with_name(path.stem + SUFFIX)


def read_layout(path: Path | str) -> Layout:
    """Read the layout of a target file, or a layout file.

    Parameters
    ----------
    path : path
        The TIFF that `negcurve target` wrote, a negative with an edge strip, or a
        `.layout.json`.

    Returns
    -------
    Layout

    Raises
    ------
    FileError
        If there is no layout in the file, nor beside it.
    """
    chosen = Path(path)
    if chosen.suffix.lower() == ".json":
        return _read_sidecar(chosen)
    try:
        with open_picture(chosen) as picture:
            said = picture.description
    except FileError as error:
        raise FileError(
            f"cannot be read as a target: {error.what}",
            where=str(chosen),
            fix="Name the TIFF that negcurve wrote, or its .layout.json.",
        ) from error
    for start in (DESCRIPTION_START, STRIP_START):
        before, found, layout = said.partition(start)
        own = not before or start == STRIP_START
        if found and own and "{" in layout:
            return _layout_from_description(layout, where=str(chosen))
    beside = sidecar_path(chosen)
    if beside.exists():
        return _read_sidecar(beside)
    raise FileError(
        f"holds no layout, and {beside.name} is not beside it",
        where=str(chosen),
        fix="Name the TIFF that negcurve wrote, or its .layout.json.",
    )


def layouts_known(
    target: Path | str | None = None, beside: Path | str | None = None
) -> tuple[Layout, ...]:
    """Layouts that a scan may show.

    Parameters
    ----------
    target : path, optional
        Target or layout file that the user names; then no other is looked for.
    beside : path, optional
        A scan; layouts in its folder are taken before the ready-made ones.

    Returns
    -------
    tuple of Layout
        Each identity once.

    Raises
    ------
    FileError
        If a layout cannot be read.
    """
    if target is not None:
        return (read_layout(target),)
    found = () if beside is None else layouts_beside(beside)
    known = {layout.identity: layout for layout in [*found, *ready_made_layouts()]}
    return tuple(known.values())


def layouts_beside(path: Path | str) -> tuple[Layout, ...]:
    """Layouts in the folder of a file, by name."""
    folder = Path(path).parent
    return tuple(_read_sidecar(each) for each in sorted(folder.glob(f"*{SUFFIX}")))


def ready_made_layouts() -> tuple[Layout, ...]:
    """Layouts of the targets that come with the package."""
    folder = resources.files("negcurve.target") / "ready_made"
    entries = sorted(
        (each for each in folder.iterdir() if each.name.endswith(SUFFIX)),
        key=lambda each: each.name,
    )
    return tuple(
        layout_from_text(each.read_text(encoding="utf-8"), where=each.name)
        for each in entries
    )


def _read_sidecar(path: Path) -> Layout:
    try:
        with file_errors(path):
            text = path.read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        raise FileError(
            "is not text in UTF-8", where=str(path), fix="Name a layout or a target."
        ) from error
    return layout_from_text(text, where=str(path))


def _layout_from_description(said: str, *, where: str) -> Layout:
    """Read the layout that follows its identity."""
    head, _, text = said.partition("{")
    layout = layout_from_text("{" + text, where=where)
    _check_identity(layout, head.strip(), where=where)
    return layout


def _check_identity(layout: Layout, named: str, *, where: str) -> None:
    if named != layout.identity_text:
        raise FileError(
            f"names itself {named}, but its content is {layout.identity_text}",
            where=where,
            fix="It was changed; use the layout as it was written with the target.",
        )


def _value_text(value: object) -> str:
    """One line, except for lists of things, which have one line each."""
    if isinstance(value, (list, tuple)) and value and isinstance(value[0], dict):
        lines = (f"  {json.dumps(each, allow_nan=False)}" for each in value)
        return "[\n" + ",\n".join(lines) + "\n ]"
    return json.dumps(value, allow_nan=False)


def _layout(plain: Mapping[str, Any]) -> Layout:
    values = dict(plain)
    values.update(
        marks_mm=tuple((float(x), float(y)) for x, y in values["marks_mm"]),
        identity_boxes=tuple(Box(**each) for each in values["identity_boxes"]),
        patches=tuple(_with_box(Patch, each) for each in values["patches"]),
        scale_bars=tuple(_with_box(ScaleBar, each) for each in values["scale_bars"]),
        texts=tuple(Text(**each) for each in values["texts"]),
    )
    for name in ("tape_box", "tablet_window"):
        values[name] = Box(**values[name]) if values[name] is not None else None
    return Layout(**_with_ink(values))


def _with_box(kind: Callable[..., Made], plain: Mapping[str, Any]) -> Made:
    return kind(**{**_with_ink(plain), "box": Box(**plain["box"])})


def _with_ink(plain: Mapping[str, Any]) -> dict[str, Any]:
    return {
        name: parse_ink(value) if name == "ink" else value
        for name, value in plain.items()
    }


def _reason(error: Exception) -> str:
    if isinstance(error, InvalidValueError):
        return f"{error.where}: {error.what}"
    if isinstance(error, KeyError):
        return f"no {error.args[0]}"
    return str(error).replace(".__init__()", "")
