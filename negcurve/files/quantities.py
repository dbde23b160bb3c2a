"""Which quantity the columns of a list hold, and its density.

Knows the names that instruments and people give to densities, lightness, luminance,
reflectance and spectra, and their ranges; where both leave a doubt, it says so.
"""

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from negcurve.density import density_from_lightness, density_from_reflectance
from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.files.text_table import Problems, Row, TextTable, number_in
from negcurve.readings import DensityKind
from negcurve.spectra import SpectralKind, spectral_density
from negcurve.values import Finding, FloatArray

LIGHTNESS = ("lightness", "l*", "lab_l", "l_star", "cie_l", "cielab_l")
LUMINANCE = ("xyz_y", "xyy_capy", "cie_y", "luminance_factor", "luminance")
REFLECTANCE = ("reflectance", "reflectance_factor", "reflectance_%", "r_%", "r%")
_CHANNEL = re.compile(
    r"(?:d|density|status_?[aemti]|status_?[aemti]_density)_(vis(?:ual)?|red|green|blue)"
    r"|(vis(?:ual)?|red|green|blue)_density|(visual)"
)
_SPECTRAL = re.compile(
    r"(?:spectral_?(?:nm|pct|dec)?_?|nm_?|r_?|refl_?|reflectance_?)?"
    r"([3-9]\d\d)(?:\.0+)?(?:_?nm)?"
)
_PERCENT = re.compile(r"spectral_pct\w*|\w+_?%")

LARGEST_FACTOR, LEAST_PERCENT = 1.5, 10.0
"""No print reflects more than the first as a factor, and every list that holds its
paper reaches the second as a percentage. Ours."""

ALIKE_D = 0.02
"""Two quantities of one list may differ by this for rounding. [D]"""

LEAST_BANDS = 8


@dataclass(frozen=True, eq=False, kw_only=True)
class Quantity:
    """One quantity that a list holds.

    Attributes
    ----------
    kind : DensityKind
        Of the density that it gives.
    name : str
        Column or what the columns are, for messages.
    density : array, shape (n,)
        NaN where a row has no value. [D]
    """

    kind: DensityKind
    name: str
    density: FloatArray


def with_density(
    table: TextTable, *, channel: DensityKind | None
) -> tuple[TextTable, DensityKind | None, tuple[Finding, ...]]:
    """Give a list a column `density`, from whatever quantity it holds.

    Parameters
    ----------
    table : TextTable
    channel : DensityKind or None
        What is asked for; else luminance if it is there, then visual density.

    Returns
    -------
    table : TextTable
        As it was where it has a column `density` or `lightness` and nothing is asked.
    kind : DensityKind or None
        Of the density; None where the list itself says.
    findings : tuple of Finding

    Raises
    ------
    ReadingsError
        If the quantity asked for is not there, its unit is in doubt, or two columns
        contradict each other.
    """
    quantities = list(_quantities(table))
    _check_alike([*_own_density(table), *quantities], table.source)
    plain = {"density", "lightness", "l*"} & set(table.columns)
    if plain and channel is None:
        return table, None, ()
    chosen = _chosen(quantities, channel, table)
    if chosen is None:
        return table, None, ()
    return _filled(table, chosen.density), chosen.kind, _told(chosen, quantities, table)


def _quantities(table: TextTable) -> Iterator[Quantity]:
    """All that the list holds, the one to be preferred first."""
    spectral = _bands(table)
    if spectral:
        kinds: tuple[SpectralKind, ...] = ("luminance", "visual")
        for kind in kinds:
            density = _spectra(table, spectral, kind)
            yield Quantity(kind=kind, name="the spectra", density=density)
    for name in table.columns:
        if name in LIGHTNESS:
            numbers = _numbers(table, name)
            _check_lightness(numbers, name, table)
            yield Quantity(kind="luminance", name=name, density=_of_lightness(numbers))
        elif name in LUMINANCE + REFLECTANCE:
            factor = _as_factor(_numbers(table, name), (name,), table)
            yield Quantity(kind="luminance", name=name, density=_of_factor(factor))
        elif found := _CHANNEL.fullmatch(name):
            word = next(each for each in found.groups() if each)
            yield Quantity(kind=_kind(word), name=name, density=_numbers(table, name))


def _kind(word: str) -> DensityKind:
    kinds: dict[str, DensityKind] = {"red": "red", "green": "green", "blue": "blue"}
    return kinds.get(word, "visual")


def _numbers(table: TextTable, name: str) -> FloatArray:
    problems = Problems(table.source)
    numbers = []
    for row in table.rows:
        text = row.cells.get(name, "")
        value = number_in(text)
        if text and value is None:
            problems.add(row.line, f"{name} {text!r} is not a number")
        numbers.append(np.nan if value is None else value)
    problems.raise_any()
    return np.array(numbers)


def _bands(table: TextTable) -> dict[str, float]:
    found = {
        name: float(match[1])
        for name in table.columns
        if (match := _SPECTRAL.fullmatch(name))
    }
    return found if len(found) >= LEAST_BANDS else {}


def _spectra(
    table: TextTable, bands: Mapping[str, float], kind: SpectralKind
) -> FloatArray:
    names = sorted(bands, key=lambda name: bands[name])
    values = np.column_stack([_numbers(table, name) for name in names])
    factor = _as_factor(values, names, table)
    whole = np.isfinite(factor).all(axis=1)
    density = np.full(len(table.rows), np.nan)
    try:
        density[whole] = spectral_density(
            [bands[name] for name in names], factor[whole], kind
        )
    except InvalidValueError as error:
        raise ReadingsError(
            f"its spectra: {error.where} {error.what}",
            where=table.source,
            fix=error.fix or "Zero the instrument and measure again.",
        ) from error
    return density


def _as_factor(
    values: FloatArray, names: tuple[str, ...] | list[str], table: TextTable
) -> FloatArray:
    """Turn percent into factors, by the size of the numbers and the columns' names."""
    largest = float(np.nanmax(values, initial=0.0))
    named = all(_PERCENT.fullmatch(name) for name in names)
    percent = largest >= LEAST_PERCENT
    if LARGEST_FACTOR < largest < LEAST_PERCENT or (named and not percent):
        raise ReadingsError(
            f"{names[0]} reaches {largest:.3g}: too much for a factor, or too "
            "little for percent with paper among the patches"
            if not named
            else f"{names[0]} says percent but reaches only {largest:.3g}",
            where=table.source,
            fix="Give factors 0..1 or percent 0..100, with the lightest patch.",
        )
    return values / 100 if percent else values


def _check_lightness(values: FloatArray, name: str, table: TextTable) -> None:
    if name in ("lightness", "l*"):
        return  # judged with the rows
    largest = float(np.nanmax(values, initial=0.0))
    if not LEAST_PERCENT <= largest <= 105:
        raise ReadingsError(
            f"{name} reaches {largest:.3g}, which is no L* of a print",
            where=table.source,
            fix="L* runs from 0 to 100; name the column density if it is that.",
        )


def _of_lightness(values: FloatArray) -> FloatArray:
    good = values > 0
    density = np.full_like(values, np.nan)
    density[good] = density_from_lightness(values[good])
    return density


def _of_factor(values: FloatArray) -> FloatArray:
    good = values > 0
    density = np.full_like(values, np.nan)
    density[good] = density_from_reflectance(values[good])
    return density


def _own_density(table: TextTable) -> Iterator[Quantity]:
    """Yield the column `density` where nothing says that it is not luminance."""
    said = {line.key: line.value.lower() for line in table.keys}
    kind = said.get("density_kind", "luminance")
    zero = said.get("density_zero", "absolute")
    if "density" in table.columns and (kind, zero) == ("luminance", "absolute"):
        values = [number_in(row.cells.get("density", "")) for row in table.rows]
        density = np.array([np.nan if each is None else each for each in values])
        yield Quantity(kind="luminance", name="density", density=density)


def _check_alike(quantities: list[Quantity], source: str) -> None:
    """Refuse a list two of whose columns give different densities of one kind."""
    first: dict[str, Quantity] = {}
    for each in quantities:
        before = first.setdefault(each.kind, each)
        both = np.isfinite(each.density) & np.isfinite(before.density)
        if not both.any():
            continue
        apart = np.abs(each.density - before.density)[both]
        if np.median(apart) > ALIKE_D:
            raise ReadingsError(
                f"{before.name} and {each.name} contradict each other: their "
                f"{each.kind} densities differ by {np.median(apart):.2f} D",
                where=source,
                fix="Are both of one measurement, D50 and 2 degrees? Leave one out; a "
                "column density that is visual needs a line # density_kind: visual.",
            )


def _chosen(
    quantities: list[Quantity], channel: DensityKind | None, table: TextTable
) -> Quantity | None:
    for kind in ("luminance", "visual") if channel is None else (channel,):
        for each in quantities:
            if each.kind == kind:
                return each
    kinds = list(dict.fromkeys(each.kind for each in quantities))
    if channel is None and len(kinds) == 1:
        return quantities[0]
    if channel is None and not kinds:
        return None  # the rows will say which columns there are
    have = ", ".join(kinds) or "none that is named"
    raise ReadingsError(
        f"has no {channel} density; it has {have}"
        if channel
        else f"has densities of several channels: {have}",
        where=table.source,
        fix=f"Choose one that it has: --channel {kinds[0]}."
        if kinds
        else "Name the columns, such as D_VIS or LAB_L.",
    )


def _filled(table: TextTable, density: FloatArray) -> TextTable:
    """Put the density in as a column; other values stay as they were."""
    gone = {"density", "lightness", "l*", "standard_error"}
    columns = tuple(name for name in table.columns if name not in gone)
    rows = []
    for row, value in zip(table.rows, density.tolist(), strict=True):
        cells = {name: cell for name, cell in row.cells.items() if name in columns}
        cells["density"] = f"{value:.6f}" if np.isfinite(value) else ""
        rows.append(Row(line=row.line, cells=cells))
    return replace(table, columns=(*columns, "density"), rows=tuple(rows))


def _told(
    chosen: Quantity, quantities: list[Quantity], table: TextTable
) -> tuple[Finding, ...]:
    others = {each.kind for each in quantities} - {chosen.kind}
    left = f"; it also has {', '.join(sorted(others))}" if others else ""
    return (
        Finding(
            severity="note",
            where=table.source,
            what=f"{chosen.kind} density was taken from {chosen.name}{left}",
        ),
    )
