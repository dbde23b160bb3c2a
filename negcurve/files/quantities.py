"""Which quantities the columns of a list hold, and their densities.

Names are understood by `column_words`; knows the ranges of lightness, luminance,
reflectance and spectra, and where name and range leave a doubt, says so. Which of
several is taken is left to `density_choice`.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from negcurve.density import density_from_lightness, density_from_reflectance
from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.files.column_words import PLAIN, Scale, meaning, wavelength
from negcurve.files.text_table import Problems, Row, TextTable, number_in
from negcurve.readings import DensityKind
from negcurve.spectra import SpectralKind, spectral_density
from negcurve.values import FloatArray

LARGEST_FACTOR, LEAST_PERCENT = 1.5, 10.0
"""No print reflects more than the first as a factor, and every list that holds its
paper reaches the second as a percentage. Ours."""

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
    scale : Scale or "spectra"
        What the columns hold.
    """

    kind: DensityKind
    name: str
    density: FloatArray
    scale: Scale | Literal["spectra"] = "density"

    @property
    def depends_on_light(self) -> bool:
        """Whether it is for one illuminant and observer."""
        return self.scale in ("lightness", "factor")


def holds_quantity(columns: Sequence[str]) -> bool:
    """Tell whether columns of these names hold a density, or what gives one."""
    bands = [name for name in columns if wavelength(name)]
    return len(bands) >= LEAST_BANDS or any(meaning(name, columns) for name in columns)


def plainly_named(table: TextTable) -> TextTable:
    """Call the only column that is a density of no said kind `density`."""
    if "density" in table.columns:
        return table
    found = [
        name for name in table.columns if (said := meaning(name)) and not said.named
    ]
    if len(found) != 1:
        return table
    names = {name: "density" if name in found else name for name in table.columns}
    rows = tuple(
        Row(
            line=row.line,
            cells={names.get(k, k): cell for k, cell in row.cells.items()},
        )
        for row in table.rows
    )
    return replace(table, columns=tuple(names.values()), rows=rows)


def quantities_of(table: TextTable) -> Iterator[Quantity]:
    """All that the list holds, the one to be preferred first."""
    spectral = _bands(table)
    if spectral:
        kinds: tuple[SpectralKind, ...] = ("luminance", "visual")
        for kind in kinds:
            density = _spectra(table, spectral, kind)
            yield Quantity(
                kind=kind, name="the spectra", density=density, scale="spectra"
            )
    for name in table.columns:
        said = meaning(name, table.columns)
        if said is None or not said.named:
            continue
        numbers = _numbers(table, name)
        if said.scale == "lightness":
            _check_lightness(numbers, name, table)
            numbers = _where_above_0(density_from_lightness, numbers)
        elif said.scale == "factor":
            percent = said.percent or _in_percent(table, name)
            factor = _as_factor(numbers, name, percent, table)
            numbers = _where_above_0(density_from_reflectance, factor)
        yield Quantity(kind=said.kind, name=name, density=numbers, scale=said.scale)


def _numbers(table: TextTable, name: str) -> FloatArray:
    problems = Problems(table.source)
    numbers = []
    for row in table.rows:
        text = row.cells.get(name, "")
        value = number_in(text.removesuffix("%"))
        if text and value is None:
            problems.add(row.line, f"{name} {text!r} is not a number")
        numbers.append(np.nan if value is None else value)
    problems.raise_any()
    return np.array(numbers)


def _in_percent(table: TextTable, name: str) -> bool | None:
    """Tell whether the cells say percent; None where they say nothing."""
    return any(row.cells.get(name, "").endswith("%") for row in table.rows) or None


def _bands(table: TextTable) -> dict[str, float]:
    found = {name: band[0] for name in table.columns if (band := wavelength(name))}
    return found if len(found) >= LEAST_BANDS else {}


def _spectra(
    table: TextTable, bands: Mapping[str, float], kind: SpectralKind
) -> FloatArray:
    names = sorted(bands, key=lambda name: bands[name])
    values = np.column_stack([_numbers(table, name) for name in names])
    said = {band[1] for name in names if (band := wavelength(name))}
    percent = said.pop() if len(said) == 1 else None
    factor = _as_factor(values, names[0], percent, table)
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
    values: FloatArray, name: str, percent: bool | None, table: TextTable
) -> FloatArray:
    """Turn percent into factors, by the size of the numbers and the columns' names."""
    largest = float(np.nanmax(values, initial=0.0))
    seems_percent = largest >= LEAST_PERCENT
    if percent is not None and percent != seems_percent:
        what = (
            f"{name} says percent but reaches only {largest:.3g}"
            if percent
            else f"{name} says factors but reaches {largest:.3g}"
        )
    elif LARGEST_FACTOR < largest < LEAST_PERCENT:
        what = (
            f"{name} reaches {largest:.3g}: too much for a factor, or too little for "
            "percent with paper among the patches"
        )
    else:
        return values / 100 if seems_percent else values
    raise ReadingsError(
        what,
        where=table.source,
        fix="Give factors 0..1 or percent 0..100, with the lightest patch.",
    )


def _check_lightness(values: FloatArray, name: str, table: TextTable) -> None:
    if name in PLAIN:
        return  # judged with the rows
    largest = float(np.nanmax(values, initial=0.0))
    if not LEAST_PERCENT <= largest <= 105:
        raise ReadingsError(
            f"{name} reaches {largest:.3g}, which is no L* of a print",
            where=table.source,
            fix="L* runs from 0 to 100; name the column density if it is that.",
        )


def _where_above_0(
    density_of: Callable[[FloatArray], FloatArray], values: FloatArray
) -> FloatArray:
    good = values > 0
    density = np.full_like(values, np.nan)
    density[good] = density_of(values[good])
    return density


def own_density(table: TextTable) -> Iterator[Quantity]:
    """Yield the column `density` where nothing says that it is not luminance."""
    said = {line.key: line.value.lower() for line in table.keys}
    kind = said.get("density_kind", "luminance")
    zero = said.get("density_zero", "absolute")
    if "density" in table.columns and (kind, zero) == ("luminance", "absolute"):
        values = [number_in(row.cells.get("density", "")) for row in table.rows]
        density = np.array([np.nan if each is None else each for each in values])
        yield Quantity(kind="luminance", name="density", density=density)
