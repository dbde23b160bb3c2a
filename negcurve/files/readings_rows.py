"""From the rows of a text table to readings: columns, ranges, patches of a layout.

Collects every row that cannot be used and reports them together.
"""

from dataclasses import dataclass, field
from typing import Any, get_args

import numpy as np

from negcurve.density import density_from_lightness, lightness_slope
from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.files.text_table import Problems, Row, TextTable, names_told, number_in
from negcurve.readings import NUMBERS, Flag, Readings
from negcurve.target.ink import parse_ink
from negcurve.target.layout import Layout, Patch
from negcurve.values import Finding, first_of

DENSITY_RANGE = (-0.5, 4.5)
"""No print density lies outside, whatever its zero; L* and percent soon do."""

LIGHTNESS_RANGE = (0.0, 105.0)
"""L* of prints; a little over 100 where paper fluoresces."""

LEVEL_TOLERANCE = 1e-4
"""How far a typed level may differ from the layout's: it may be rounded."""

_ALIASES = {"l*": "lightness", "level": "negative_level"}


@dataclass
class _Sheet:
    """Rows as they are understood one by one."""

    table: TextTable
    columns: frozenset[str]
    layout: Layout | None
    problems: Problems
    numbers: dict[str, list[float]] = field(
        default_factory=lambda: {name: [] for name in NUMBERS}
    )
    patch: list[str] = field(default_factory=list)
    ink: list[str] = field(default_factory=list)
    flags: list[frozenset[str]] = field(default_factory=list)
    empty_lines: list[int] = field(default_factory=list)

    @property
    def in_lightness(self) -> bool:
        return "density" not in self.columns


def readings_from_rows(
    table: TextTable, layout: Layout | None, *, header: dict[str, Any]
) -> Readings:
    """Turn a table into readings.

    Parameters
    ----------
    table : TextTable
        With a column `density` or `lightness`, and `negative_level` or a layout.
    layout : Layout or None
        Says which patch has which level, where the table does not.
    header : dict
        Further attributes of the readings.

    Returns
    -------
    Readings

    Raises
    ------
    ReadingsError
        If columns are missing or rows cannot be used.
    """
    sheet = _Sheet(
        table=table,
        columns=frozenset(_ALIASES.get(name, name) for name in table.columns),
        layout=layout,
        problems=Problems(table.source),
    )
    _check_columns(sheet)
    patches = _patches_in_order(sheet)
    _check_quantity(sheet)
    for place, row in enumerate(table.rows):
        cells = {_ALIASES.get(name, name): cell for name, cell in row.cells.items()}
        _take_row(sheet, Row(line=row.line, cells=cells), place, patches)
    sheet.problems.raise_any()
    if not sheet.numbers["density"]:
        raise ReadingsError(
            "has no densities",
            where=table.source,
            fix="Below the names of the columns stands a row for each patch.",
        )
    if sheet.in_lightness:
        _check_kind(sheet, header)
    findings = (*header.get("findings", ()), *_left_out(sheet))
    attributes: dict[str, Any] = {**header, **sheet.numbers, "findings": findings}
    return Readings(
        **attributes,
        patch=tuple(sheet.patch),
        ink=tuple(sheet.ink),
        flags=tuple(sheet.flags),
    )


def _check_columns(sheet: _Sheet) -> None:
    named = names_told(sheet.table.columns)
    if not {"density", "lightness"} & sheet.columns:
        raise ReadingsError(
            f"has no column density or lightness, only {named}",
            where=sheet.table.source,
            fix="Name it so in the first line. Other columns of an instrument are "
            "understood by `negcurve read FILE -o R.csv`.",
        )
    levels_known = {"negative_level", "tablet_density"} & sheet.columns
    if not levels_known and sheet.layout is None:
        raise ReadingsError(
            f"has no column negative_level, only {named}",
            where=sheet.table.source,
            fix="Add it, or name the target that was printed: `negcurve read FILE -o "
            "R.csv --target OUT.tif`.",
        )


def _patches_in_order(sheet: _Sheet) -> tuple[Patch, ...]:
    """Return the layout's patches where rows stand for them by their order alone."""
    if sheet.layout is None or {"patch", "negative_level"} & sheet.columns:
        return ()
    patches = sheet.layout.patches
    if len(sheet.table.rows) != len(patches):
        raise ReadingsError(
            f"has {len(sheet.table.rows)} rows, the target has {len(patches)} patches",
            where=sheet.table.source,
            fix="Give every patch a row in the target's order (empty where not read), "
            "or add a column patch with the numbers.",
        )
    return patches


def _check_quantity(sheet: _Sheet) -> None:
    """Refuse a column that as a whole is some other quantity than its name says."""
    name = "lightness" if sheet.in_lightness else "density"
    plain = {_ALIASES.get(each, each): each for each in sheet.table.columns}
    found = [number_in(row.cells.get(plain[name], "")) for row in sheet.table.rows]
    values = np.array([each for each in found if each is not None])
    if len(values) < 3:
        return
    if name == "density" and np.mean(values > DENSITY_RANGE[1]) > 0.3:
        raise ReadingsError(
            f"the densities reach {values.max():g}: these look like L* or percent",
            where=sheet.table.source,
            fix="Name the column lightness if it is L*; turn a reflectance R into "
            "-log10 R.",
        )
    if name == "lightness" and values.max() < DENSITY_RANGE[1]:
        raise ReadingsError(
            f"the lightnesses reach only {values.max():g}: these look like densities",
            where=sheet.table.source,
            fix="Name the column density if it is; L* runs from 0 to 100.",
        )


def _take_row(sheet: _Sheet, row: Row, place: int, patches: tuple[Patch, ...]) -> None:
    others = (name for name in NUMBERS if name != "density")
    numbers = {name: _number(sheet, row, name) for name in others}
    density, error = _density(sheet, row, numbers["standard_error"])
    key = row.cells.get("patch", "")
    on_tablet = np.isfinite(numbers["tablet_density"])
    patch = None
    if not on_tablet:
        patch = patches[place] if patches else _patch_named(sheet, row, key)
    elif np.isnan(numbers["negative_level"]):
        numbers["negative_level"] = 1.0
    if patch is not None:
        key = key or str(patch.number)
        _fill_from_patch(sheet, row, numbers, patch)
    if np.isnan(density):
        sheet.empty_lines.append(row.line)
        return
    _check_level(sheet, row, numbers["negative_level"])
    numbers["density"], numbers["standard_error"] = density, error
    for name in NUMBERS:
        sheet.numbers[name].append(numbers[name])
    sheet.patch.append(key)
    sheet.ink.append(_ink(sheet, row, patch))
    sheet.flags.append(_flags(sheet, row))


def _number(sheet: _Sheet, row: Row, name: str) -> float:
    """Return a cell's number, NaN where it is empty or not a number (and noted)."""
    text = row.cells.get(name, "")
    if not text:
        return float("nan")
    value = number_in(text)
    if value is None:
        sheet.problems.add(row.line, f"{name} {text!r} is not a number")
        return float("nan")
    return value


def _density(sheet: _Sheet, row: Row, error: float) -> tuple[float, float]:
    name = "lightness" if sheet.in_lightness else "density"
    value = _number(sheet, row, name)
    low, high = LIGHTNESS_RANGE if sheet.in_lightness else DENSITY_RANGE
    if value < low or value > high or (sheet.in_lightness and value == 0):
        sheet.problems.add(row.line, f"{name} {value:g} lies outside {low:g}..{high:g}")
        return float("nan"), error
    if not sheet.in_lightness or np.isnan(value):
        return value, error
    density = float(density_from_lightness(value))
    return density, error / abs(float(lightness_slope(density)))


def _patch_named(sheet: _Sheet, row: Row, key: str) -> Patch | None:
    if sheet.layout is None:
        return None
    number = int(key) if key.isascii() and key.isdigit() else 0
    count = len(sheet.layout.patches)
    if 1 <= number <= count:
        return sheet.layout.patches[number - 1]
    if "negative_level" not in sheet.columns:
        sheet.problems.add(
            row.line, f"patch {key!r} is none of the target's 1..{count}"
        )
    return None


def _fill_from_patch(
    sheet: _Sheet, row: Row, numbers: dict[str, float], patch: Patch
) -> None:
    given = numbers["negative_level"]
    if abs(given - patch.negative_level) > LEVEL_TOLERANCE:
        sheet.problems.add(
            row.line,
            f"negative_level {given:g}, but patch {patch.number} of the target has "
            f"{patch.negative_level:g}",
        )
    tone = float("nan") if patch.image_tone is None else patch.image_tone
    x_mm, y_mm = patch.box.center
    known = {"negative_level": patch.negative_level, "image_tone": tone}
    for name, value in {**known, "x_mm": x_mm, "y_mm": y_mm}.items():
        if np.isnan(numbers[name]):
            numbers[name] = value


def _check_level(sheet: _Sheet, row: Row, level: float) -> None:
    if np.isnan(level):
        if not row.cells.get("negative_level") and sheet.layout is None:
            sheet.problems.add(row.line, "negative_level is missing")
    elif not 0 <= level <= 1:
        sheet.problems.add(
            row.line,
            f"negative_level {level:g} lies outside 0..1 (code / largest code)",
        )


def _ink(sheet: _Sheet, row: Row, patch: Patch | None) -> str:
    text = row.cells.get("ink", "")
    if not text:
        return patch.ink.text if patch and patch.ink else ""
    try:
        return parse_ink(text).text
    except InvalidValueError as error:
        sheet.problems.add(row.line, f"ink {error.what}")
        return ""


def _flags(sheet: _Sheet, row: Row) -> frozenset[str]:
    words = row.cells.get("flags", "").lower().replace(",", ";").split(";")
    flags = frozenset(word.strip() for word in words if word.strip())
    for flag in sorted(flags - set(get_args(Flag))):
        sheet.problems.add(row.line, f"flag {flag!r} is not known")
    return flags


def _check_kind(sheet: _Sheet, header: dict[str, Any]) -> None:
    kind = header.get("density_kind", "luminance")
    if kind != "luminance":
        raise ReadingsError(
            f"gives lightness but says density_kind: {kind}; L* is luminance density",
            where=sheet.table.source,
            fix="Correct one of the two.",
        )


def _left_out(sheet: _Sheet) -> tuple[Finding, ...]:
    if not sheet.empty_lines:
        return ()
    lines = first_of(sheet.empty_lines, 10)
    return (
        Finding(
            severity="note",
            where=sheet.table.source,
            what=f"{len(sheet.empty_lines)} "
            + ("row" if len(sheet.empty_lines) == 1 else "rows")
            + f" without a density left out (line {lines})",
        ),
    )
