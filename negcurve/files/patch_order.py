"""Which patch of the target each row of a list stands for.

By a column with its number or a name that holds it, or by the order in which the
patches were read.
"""

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Literal, get_args

import numpy as np
from scipy.optimize import isotonic_regression

from negcurve.errors import ReadingsError
from negcurve.files.text_table import Row, TextTable
from negcurve.target.layout import Layout, Patch
from negcurve.values import FloatArray

Order = Literal["number", "rows", "columns", "alternating-rows", "alternating-columns"]
"""`number` as the target counts its patches; else along the print as it reads right,
from the top left; `alternating` turns round at the end of each."""

ORDERS: tuple[Order, ...] = get_args(Order)

NAMES = (
    *("patch_number", "patch_no", "patch_name", "patch_id", "sample_name", "name"),
    *("sample_number", "sample_no", "sample_loc", "sample_id", "sampleid", "sample"),
    *("field", "label", "location", "id", "number", "no", "nr", "index", "step"),
)
"""Columns that may tell a patch beside `patch`; the first that does is taken."""

LAST_NUMBER = re.compile(r"(.*?)0*(\d+)\D*")
_WHOLE = re.compile(r"0*(\d+)[.,]0+")

LEAST_ORDER = 0.5
"""Share of the densities' variance that a rise with level must explain. Ours; with
patches taken for others it explains a tenth or a quarter. [1]"""

LEAST_SPREAD_D = 0.1
"""Standard deviation of densities below which a print may be blank. Ours. [D]"""

CLEAR_TIMES, CLEAR_D = 4.0, 0.08
"""Another order is believed if densities rise that much better with level in it, and
the given one leaves more than this. Ours. [1], [D]"""


def with_patches(
    table: TextTable, layout: Layout | None, order: Order | None
) -> TextTable:
    """Give a list a column `patch` with the numbers of the layout's patches.

    Parameters
    ----------
    table : TextTable
    layout : Layout or None
        Without it names are kept as they are.
    order : Order or None
        In which the patches were read; with it, numbers in the list are taken as mere
        counters of its rows.

    Returns
    -------
    TextTable

    Raises
    ------
    ReadingsError
        If the rows are not as many as the patches, where their order counts.
    """
    if layout is None:
        return _with_keys(table, _first_named(table))
    if order is None:
        return _with_keys(table, _numbers(table, len(layout.patches)))
    if len(table.rows) != len(layout.patches):
        raise ReadingsError(
            f"has {len(table.rows)} rows, the target has {len(layout.patches)} patches",
            where=table.source,
            fix="Read every patch once, or give the rows a column patch.",
        )
    return _with_keys(table, [str(each.number) for each in in_order(layout, order)])


def in_order(layout: Layout, order: Order) -> list[Patch]:
    """Return the patches of a target in the order in which they are read."""
    if order == "number":
        return list(layout.patches)
    along = 1 if order.endswith("rows") else 0
    centres = np.array([patch.box.center for patch in layout.patches])
    lines = _lines(centres[:, along], layout, along)
    read = []
    for place, line in enumerate(lines):
        ranked = sorted(line, key=lambda each: centres[each, 1 - along])
        turned = order.startswith("alternating") and place % 2
        read += ranked[::-1] if turned else ranked
    return [layout.patches[each] for each in read]


def check_order(
    layout: Layout, level: FloatArray, density: FloatArray, *, source: str
) -> None:
    """Refuse densities that make no sense, or only in another reading order.

    Parameters
    ----------
    layout : Layout
    level, density : array, shape (n,)
        In the order of the list. [1], [D]
    source : str
        For messages.

    Raises
    ------
    ReadingsError
        If density hardly rises with level as given, and clearly does in another order.
    """
    if layout.has_mixtures:
        return  # their levels mean nothing
    given = _misfit(level, density)
    spread = float(np.std(density))
    if given < CLEAR_D:
        return
    for order in ORDERS if len(density) == len(layout.patches) else ():
        levels = [patch.negative_level for patch in in_order(layout, order)]
        if CLEAR_TIMES * _misfit(np.array(levels), density) < given:
            raise ReadingsError(
                "the densities do not rise with the levels of the patches they are "
                f"given for, but they would if read in the order {order}",
                where=source,
                fix=f"Give --order {order} if the patches were read so.",
            )
    if spread > LEAST_SPREAD_D and given**2 > (1 - LEAST_ORDER) * spread**2:
        raise ReadingsError(
            "the densities do not rise with the levels of the patches they are given "
            f"for: that explains {100 * (1 - (given / spread) ** 2):.0f} % of how "
            "they differ",
            where=source,
            fix="Is this the target that was read? Tell each row's patch in a column "
            "patch, or their order by --order.",
        )


def _misfit(level: FloatArray, density: FloatArray) -> float:
    """Root mean square distance from the best line that rises with level. [D]."""
    ranked = density[np.argsort(level, kind="stable")]
    rest = ranked - isotonic_regression(ranked).x
    return float(np.sqrt(np.mean(rest**2)))


def _lines(across: FloatArray, layout: Layout, along: int) -> list[list[int]]:
    """Group patches into rows or columns: a gap of half a patch parts two."""
    sides = [
        patch.box.height_mm if along else patch.box.width_mm for patch in layout.patches
    ]
    least = 0.5 * min(sides)
    lines: list[list[int]] = []
    last = -np.inf
    for place in np.argsort(across, kind="stable").tolist():
        if across[place] - last > least:
            lines.append([])
        lines[-1].append(place)
        last = across[place]
    return lines


def _numbers(table: TextTable, count: int) -> Sequence[str] | None:
    """Return patch numbers from the first column whose cells all hold one."""
    if "tablet_density" in table.columns:
        return None
    if "patch" in table.columns:
        return _numbers_in([row.cells.get("patch", "") for row in table.rows], count)
    for name in _names(table):
        numbers = _numbers_in([row.cells.get(name, "") for row in table.rows], count)
        if numbers is not None:
            return numbers
    return None


def _names(table: TextTable) -> list[str]:
    """Return the columns that may tell a patch, the likeliest first."""
    plain = {name.rstrip("._#:"): name for name in reversed(table.columns)}
    return [plain[name] for name in ("patch", *NAMES) if name in plain]


def _numbers_in(cells: Sequence[str], count: int) -> Sequence[str] | None:
    """Return the last numbers in cells, if they can be those of patches.

    What stands before them is alike in all, or the numbers differ all the same: `A1`
    and `B1` are places on a chart, not patches. A number may come twice, for patches
    that were read twice, but not so often that it is that of a page or a print.
    """
    found = [_number_of(cell) for cell in cells]
    numbers = [each[1] for each in found if each is not None]
    if len(numbers) < len(cells) or not all(1 <= int(n) <= count for n in numbers):
        return None
    heads = {each[0] for each in found if each is not None}
    distinct = len(set(numbers))
    if len(heads) > 1 and any(char.isdigit() for head in heads for char in head):
        return None
    if distinct == len(numbers) or (len(heads) == 1 and 2 * distinct > count):
        return numbers
    return None


def _number_of(cell: str) -> tuple[str, str] | None:
    """Split a name into what stands before its number, and the number."""
    whole = _WHOLE.fullmatch(cell)
    if whole is not None:
        return "", whole[1]
    found = LAST_NUMBER.fullmatch(cell)
    return None if found is None else (found[1], found[2])


def _first_named(table: TextTable) -> Sequence[str] | None:
    if "patch" in table.columns:
        return None
    for name in _names(table):
        return [row.cells.get(name, "") for row in table.rows]
    return None


def _with_keys(table: TextTable, keys: Sequence[str] | None) -> TextTable:
    if keys is None:
        return table
    rows = tuple(
        Row(line=row.line, cells={**row.cells, "patch": key})
        for row, key in zip(table.rows, keys, strict=True)
    )
    columns = dict.fromkeys((*table.columns, "patch"))
    return replace(table, columns=tuple(columns), rows=rows)
