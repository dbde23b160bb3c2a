"""Which patch each row of a list stands for."""

import numpy as np
import pytest

from negcurve.density import lightness_from_density
from negcurve.errors import ReadingsError
from negcurve.files.patch_order import in_order
from tests.files.lists import (
    LAYOUT,
    LIGHTNESS,
    NUMBERS,
    ORDER,
    TRUE,
    cgats,
    read_text_of,
)


@pytest.mark.parametrize(
    "order", ["number", "rows", "columns", "alternating-rows", "alternating-columns"]
)
def test_reading_orders(tmp_path, order):
    place = {patch.number: TRUE[at] for at, patch in enumerate(LAYOUT.patches)}
    values = [place[patch.number] for patch in in_order(LAYOUT, order)]
    text = cgats(["SAMPLE_ID", "LAB_L"], NUMBERS, lightness_from_density(values))
    readings = read_text_of(tmp_path, text, order=order)
    back = [place[int(key)] for key in readings.patch]
    np.testing.assert_allclose(readings.density, back, atol=1e-4)
    if order not in ("number", "rows"):
        with pytest.raises(ReadingsError, match=f"if read in the order {order}"):
            read_text_of(tmp_path, text)


def test_the_orders_walk_as_they_say():
    """A 9 by 6 target: its own order is row by row."""
    numbers = [patch.number for patch in in_order(LAYOUT, "columns")]
    assert numbers[:7] == [1, 10, 19, 28, 37, 46, 2]
    numbers = [patch.number for patch in in_order(LAYOUT, "alternating-rows")]
    assert numbers[7:12] == [8, 9, 18, 17, 16]
    numbers = [patch.number for patch in in_order(LAYOUT, "alternating-columns")]
    assert numbers[4:9] == [37, 46, 47, 38, 29]


@pytest.mark.parametrize(
    "name",
    [
        "P{}",
        "P{:02d}",
        "patch {}",
        "sheet1_{:02d}",
        "7May-{}",
        "T1.{}",
        "1-{}",
        "{}.0",
        "{:02d} grey",
    ],
)
@pytest.mark.parametrize("column", ["sample_name", "Patch", "Patch No.", "Patch ID"])
def test_shuffled_patches_are_known_by_name(tmp_path, name, column):
    lines = [f"sample_id,{column},L*"]
    for place, patch in enumerate(ORDER):
        cells = place + 1, name.format(NUMBERS[patch]), f"{LIGHTNESS[patch]:.4f}"
        lines.append(",".join(map(str, cells)))
    readings = read_text_of(tmp_path, "\n".join(lines))
    assert readings.patch == tuple(str(NUMBERS[patch]) for patch in ORDER)
    np.testing.assert_allclose(readings.density, TRUE[ORDER], atol=1e-4)


@pytest.mark.parametrize("column", ["No.", "Nr", "Index", "ID", "Sample", "Step"])
def test_other_columns_that_tell_a_patch(tmp_path, column):
    lines = [f"{column},L*"]
    lines += [f"{NUMBERS[patch]},{LIGHTNESS[patch]:.4f}" for patch in ORDER]
    readings = read_text_of(tmp_path, "\n".join(lines))
    np.testing.assert_allclose(readings.density, TRUE[ORDER], atol=1e-4)


def test_patches_named_twice_are_read_twice(tmp_path):
    lines = ["sample_id,sample_name,L*"]
    for row, patch in enumerate([*ORDER, *ORDER]):
        lines.append(f"{row + 1},P{NUMBERS[patch]},{LIGHTNESS[patch]:.4f}")
    readings = read_text_of(tmp_path, "\n".join(lines))
    assert readings.patch == 2 * tuple(str(NUMBERS[patch]) for patch in ORDER)
    np.testing.assert_allclose(readings.density, TRUE[[*ORDER, *ORDER]], atol=1e-4)


@pytest.mark.parametrize("name", ["A{}", "print 3", "{0}-{1}"])
def test_names_that_are_no_numbers_of_patches(tmp_path, name):
    """Places on a chart, the print's name, strip and patch: row by row instead."""
    lines = ["sample_name,L*"]
    for number, lightness in zip(NUMBERS, LIGHTNESS, strict=True):
        text = name.format(number, len(NUMBERS) + 1 - number)
        if name == "A{}":
            text = f"{'ABCDEF'[(number - 1) // 9]}{(number - 1) % 9 + 1}"
        lines.append(f"{text},{lightness:.4f}")
    readings = read_text_of(tmp_path, "\n".join(lines))
    np.testing.assert_allclose(readings.density, TRUE, atol=1e-4)


def test_densities_that_follow_no_order_are_refused(tmp_path):
    text = "field of view,L*\n" + "\n".join(
        f"{NUMBERS[patch]},{LIGHTNESS[patch]:.4f}" for patch in ORDER
    )
    with pytest.raises(ReadingsError) as caught:
        read_text_of(tmp_path, text)
    assert (
        "do not rise with the levels of the patches they are given for: that exp"
        in (str(caught.value))
    )
