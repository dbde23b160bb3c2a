"""Tables in files: what each reader of ours refuses, and small worked cases."""

import struct

import numpy as np
import pytest

from negcurve.errors import FileError
from negcurve.files.clf import clf_samples, clf_text
from negcurve.files.cube import cube_samples, cube_text
from negcurve.files.even_samples import followed, number_text
from negcurve.files.icc_lut import Lut16, curves_of_tag, curves_tag
from negcurve.files.table_csv import table_csv_samples, table_csv_text

SAMPLES = np.array([[1.0], [0.75], [0.125]])


def test_samples_are_followed_straight_and_held_beyond_their_ends() -> None:
    found = followed(SAMPLES, [-0.5, 0.0, 0.25, 0.5, 0.9, 1.5])[:, 0]
    np.testing.assert_allclose(found, [1, 1, 0.875, 0.75, 0.25, 0.125])


def test_numbers_are_written_short() -> None:
    texts = [number_text(each) for each in (0.0, 1.0, 0.5, -1e-12, 1 / 3)]
    assert texts == ["0", "1", "0.5", "0", "0.333333333"]


@pytest.mark.parametrize("columns", [1, 3])
def test_each_text_gives_its_samples_back(columns: int) -> None:
    given = np.linspace([1.0] * columns, [0.1] * columns, 5)
    cube = cube_samples(cube_text(given, title="t", notes=["n"]), where="t")
    np.testing.assert_allclose(cube, np.broadcast_to(given, (5, 3)), atol=1e-9)
    text = clf_text(given, name="t", notes=["a < b"], input_is="i", output_is="o")
    np.testing.assert_allclose(clf_samples(text, where="t"), given, atol=1e-9)
    names = ("red", "green", "blue")[:columns]
    listed = table_csv_text(given, columns=names, notes={"note": "two\nlines"})
    assert listed.splitlines()[0] == "# note: two lines"
    np.testing.assert_allclose(table_csv_samples(listed, where="t"), given, atol=1e-9)


def test_a_title_cannot_break_the_cube() -> None:
    text = cube_text(SAMPLES, title='a "b" ' + "c" * 400, notes=[])
    first = text.splitlines()[0]
    assert first.count('"') == 2
    assert len(first) <= 250


def test_texts_that_are_not_whole_are_refused() -> None:
    cube = cube_text(SAMPLES, title="t", notes=[])
    with pytest.raises(FileError, match="has 2 rows for 3"):
        cube_samples("\n".join(cube.splitlines()[:-1]), where="t.cube")
    clf = clf_text(SAMPLES, name="t", notes=[], input_is="i", output_is="o")
    with pytest.raises(FileError, match="has 3 numbers for 4"):
        clf_samples(clf.replace('dim="3 1"', 'dim="4 1"'), where="t.clf")
    with pytest.raises(FileError, match="is no XML"):
        clf_samples(clf[:-20], where="t.clf")
    with pytest.raises(FileError, match="no table of one dimension"):
        clf_samples("<ProcessList/>", where="t.clf")


def test_curves_are_stored_and_read() -> None:
    tag = curves_tag(np.column_stack([SAMPLES, 1 - SAMPLES]))
    assert tag[:4] == b"mAB "
    assert len(tag) % 4 == 0
    one, other = curves_of_tag(tag, where="t")
    level = np.array([0.0, 0.25, 1.0])
    np.testing.assert_allclose(one(level), [1, 0.875, 0.125], atol=1e-5)
    np.testing.assert_allclose(other(level), [0, 0.125, 0.875], atol=1e-5)
    with_matrix = tag[:16] + struct.pack(">I", 64) + tag[20:]
    for wrong in (b"mft2" + tag[4:], with_matrix):
        with pytest.raises(FileError, match="holds no plain curves"):
            curves_of_tag(wrong, where="t")


def lut() -> Lut16:
    """From three to one: the sum of the first two halved, then turned over."""
    grid = np.zeros((2, 2, 2, 1))
    for first, second, third in np.ndindex(2, 2, 2):
        grid[first, second, third] = (first + second) / 2
    return Lut16(
        inputs=np.array([[0, 65535]] * 3, np.uint16),
        grid=np.rint(65535 * grid).astype(np.uint16),
        outputs=np.array([[65535, 0]], np.uint16),
    )


def test_a_grid_is_followed_by_products_of_shares() -> None:
    values = [[0, 0, 0], [1, 0, 0.3], [1, 1, 1], [0.25, 0.5, 0.9]]
    found = lut().apply(values)[:, 0]
    np.testing.assert_allclose(found, [1, 0.5, 0, 1 - 0.375], atol=1e-5)


def test_a_grid_is_stored_and_read() -> None:
    tag = lut().tag()
    again = Lut16.from_tag(tag, where="t")
    np.testing.assert_array_equal(again.grid, lut().grid)
    np.testing.assert_array_equal(again.outputs, lut().outputs)
    with pytest.raises(FileError, match="is cut off"):
        Lut16.from_tag(tag[:-2], where="t")
    with pytest.raises(FileError, match="no table of type mft2"):
        Lut16.from_tag(b"mAB " + tag[4:], where="t")
