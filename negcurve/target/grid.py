"""How many patches of which size fill an area, in rows and columns."""

from dataclasses import dataclass

Rectangle = tuple[int, int, int, int]
"""Left, top, width, height. [1/200 mm]"""

GUTTER = 300
"""Clear film between patches: 1.5 mm. [1/200 mm]"""

SMALLEST_PATCH = 1000
"""5 mm, 59 pixels of a scan at 300 ppi. [1/200 mm]"""

LARGEST_PATCH = 4000
"""20 mm: beyond that a patch costs ink and gains nothing. [1/200 mm]"""


@dataclass(frozen=True, kw_only=True)
class Grid:
    """Patches in rows, equal in size and pitch; the last row may be shorter.

    Attributes
    ----------
    columns, rows : int
    patch : (int, int)
        Width and height of a patch. [1/200 mm]
    pitch : (int, int)
        From one patch to the next, across and down. [1/200 mm]
    boxes : tuple of Rectangle
        Row by row from the top left.
    """

    columns: int
    rows: int
    patch: tuple[int, int]
    pitch: tuple[int, int]
    boxes: tuple[Rectangle, ...]


def best_grid(area: Rectangle, *, count: int, patch: int | None = None) -> Grid | None:
    """Fill an area with patches.

    Parameters
    ----------
    area : Rectangle
        Where they may lie.
    count : int
        How many.
    patch : int, optional
        Side of a square patch; without it patches are as large as fits, up to
        `LARGEST_PATCH`, and near to square. [1/200 mm]

    Returns
    -------
    Grid or None
        None where they do not fit at `SMALLEST_PATCH` or the given size.
    """
    tried = (
        _grid(area, columns, count=count, patch=patch)
        for columns in range(1, count + 1)
    )
    return max((grid for grid in tried if grid), key=_merit, default=None)


def most_patches(area: Rectangle, *, patch: int | None = None) -> int:
    """Return how many patches fit at most, at the smallest or the given size."""
    side = (patch or SMALLEST_PATCH) + GUTTER
    _, _, width, height = area
    return max((width + GUTTER) // side, 0) * max((height + GUTTER) // side, 0)


def _grid(
    area: Rectangle, columns: int, *, count: int, patch: int | None
) -> Grid | None:
    left, top, width, height = area
    rows = -(-count // columns)
    pitch = ((width + GUTTER) // columns, (height + GUTTER) // rows)
    across, down = (min(each - GUTTER, LARGEST_PATCH) for each in pitch)
    least = patch or SMALLEST_PATCH
    if min(pitch) - GUTTER < least:
        return None
    size = (patch, patch) if patch else (across, down)
    # What the whole grid leaves over goes half to either side.
    left += (width - (columns - 1) * pitch[0] - size[0]) // 2
    top += (height - (rows - 1) * pitch[1] - size[1]) // 2
    boxes = tuple(
        (
            left + place % columns * pitch[0],
            top + place // columns * pitch[1],
            *size,
        )
        for place in range(count)
    )
    return Grid(columns=columns, rows=rows, patch=size, pitch=pitch, boxes=boxes)


def _merit(grid: Grid) -> tuple[bool, int]:
    """Last row at least half full first; then large, square patches, few gaps."""
    cells = grid.columns * grid.rows
    last_row = len(grid.boxes) - (cells - grid.columns)
    short, long = sorted(grid.pitch)
    area = grid.patch[0] * grid.patch[1]
    return (
        2 * last_row >= grid.columns,
        area * 1000 * short * len(grid.boxes) // (long * cells),
    )
