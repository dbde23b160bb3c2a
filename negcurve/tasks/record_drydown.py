"""Learn dry-down from readings of the same prints wet and dry."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from negcurve.errors import ReadingsError
from negcurve.files.readings_csv import read_readings
from negcurve.readings import Readings
from negcurve.values import Finding, FloatArray
from negcurve.watch.drydown import DryDown, Settling, fit_drydown, settling


@dataclass(frozen=True, eq=False, kw_only=True)
class DryDownResult:
    """What pairs of wet and dry readings tell.

    Attributes
    ----------
    model : DryDown
    settling : Settling or None
        Where one print was read several times.
    wet, dry, half_width : array, shape (n,)
        A prediction at even densities, or for `predict`. [D]
    findings : tuple of Finding
    """

    model: DryDown
    settling: Settling | None
    wet: FloatArray
    dry: FloatArray
    half_width: FloatArray
    findings: tuple[Finding, ...]


def drydown(
    wet: Sequence[Path | str],
    dry: Sequence[Path | str],
    *,
    predict: Path | str | None = None,
) -> DryDownResult:
    """Learn dry-down from wet and dry readings of the same prints.

    Parameters
    ----------
    wet, dry : sequence of path
        Readings, the wet ones first; prints are paired by `sheet`, patches by key.
        Several dry readings of one print at several `hours_dry` also tell when a print
        may be read; the latest is its dry state.
    predict : path, optional
        Wet readings whose dry densities are asked for.

    Returns
    -------
    DryDownResult

    Raises
    ------
    ReadingsError
        If nothing can be paired.
    """
    wets = [_of_state(path, "wet") for path in wet]
    dries = [_of_state(path, "dry") for path in dry]
    latest: dict[str, Readings] = {}
    for each in sorted(dries, key=lambda one: one.hours_dry or 0.0):
        latest[each.sheet] = each
    pairs = [pair for one in wets for pair in _pairs(one, latest.get(one.sheet))]
    if not pairs:
        raise ReadingsError(
            "no patch was read both wet and dry",
            where="dry-down",
            fix="Both files need the same `sheet` and the same patches.",
        )
    first, second, sheets = zip(*pairs, strict=True)
    numbers = {name: place for place, name in enumerate(dict.fromkeys(sheets))}
    model = fit_drydown(first, second, [numbers[name] for name in sheets])
    asked = (
        _of_state(predict, "wet").density
        if predict is not None
        else np.linspace(model.low, model.high, 7)
    )
    return DryDownResult(
        model=model,
        settling=_settling(dries),
        wet=asked,
        dry=model.dry_density(asked),
        half_width=model.half_width(asked),
        findings=_drydown_findings(model),
    )


def _of_state(path: Path | str, state: str) -> Readings:
    readings = read_readings(path)
    if readings.print_state != state:
        raise ReadingsError(
            f"is marked {readings.print_state}, not {state}",
            where=readings.source,
            fix=f"Its header should say `# print_state: {state}`.",
        )
    return readings


def _pairs(wet: Readings, dry: Readings | None) -> list[tuple[float, float, str]]:
    if dry is None:
        return []
    for name in ("density_kind", "density_zero"):
        if getattr(wet, name) != getattr(dry, name):
            raise ReadingsError(
                f"{name} differs between wet and dry",
                where=f"{wet.source}, {dry.source}",
                fix="Read both the same way.",
            )
    by_key = dict(zip(_keys(dry), dry.density, strict=True))
    return [
        (float(density), float(by_key[key]), wet.sheet)
        for key, density in zip(_keys(wet), wet.density, strict=True)
        if key in by_key
    ]


def _keys(readings: Readings) -> list[str]:
    if all(readings.patch):
        return list(readings.patch)
    return [f"{level:.5f}" for level in readings.negative_level]


def _settling(dries: Sequence[Readings]) -> Settling | None:
    """Use the print that was read at the most times."""
    by_sheet: dict[str, list[Readings]] = {}
    for each in dries:
        if each.hours_dry is not None:
            by_sheet.setdefault(each.sheet, []).append(each)
    series = max(by_sheet.values(), key=len, default=[])
    if len(series) < 2:
        return None
    series.sort(key=lambda one: one.hours_dry or 0.0)
    shared = [key for key in _keys(series[0]) if all(key in _keys(s) for s in series)]
    tables = [dict(zip(_keys(s), s.density, strict=True)) for s in series]
    values = np.array([[table[key] for key in shared] for table in tables])
    return settling([s.hours_dry or 0.0 for s in series], values)


def _drydown_findings(model: DryDown) -> tuple[Finding, ...]:
    if not model.spread_assumed:
        return ()
    return (
        Finding(
            severity="note",
            where="dry-down",
            what=(
                f"from one print; that prints differ by {model.print_spread:.2f} D is "
                "assumed: common practice, no source"
            ),
            fix="Pairs of a second print will tell.",
        ),
    )
