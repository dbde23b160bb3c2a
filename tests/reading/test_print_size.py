import numpy as np
import pytest

from negcurve.errors import ReadingsError
from negcurve.reading.geometry import Geometry
from negcurve.reading.print_size import check_scale
from tests.reading.prints import ArraySource

BLANK = np.zeros((10, 10, 1), dtype=np.uint16)


def scan_at(ppi):
    return ArraySource(BLANK, resolution_ppi=None if ppi is None else (ppi, ppi))


def geometry(across=1.0, down=1.0):
    scale = 300 / 25.4
    return Geometry(matrix=np.diag([scale * across, scale * down, 1]), size_mm=(90, 70))


def test_a_true_size_is_no_finding():
    assert list(check_scale(geometry(1.006, 0.994), scan_at(300))) == []


def test_a_print_one_percent_off_is_warned_about():
    (found,) = check_scale(geometry(0.99, 1.0), scan_at(300))
    assert str(found) == (
        "warning: scan.tif: the target was printed at 99.0% of its width and 100.0% of "
        "its height. Negatives made the same way will be off by as much: look for a "
        "fit-to-page setting of the driver."
    )


def test_a_print_made_to_fit_is_refused():
    with pytest.raises(ReadingsError) as caught:
        list(check_scale(geometry(0.96, 0.96), scan_at(300)))
    assert str(caught.value) == (
        "scan.tif: the target was printed at 96.0% of its width and 96.0% of its "
        "height\nPrint it at 100 % with every fit-to-page setting off. If the print is "
        "right, the resolution that the scan states is wrong."
    )


def test_a_resolution_that_cannot_be_true_is_no_size_of_the_print():
    (found,) = check_scale(geometry(), scan_at(72))
    assert "states 72 ppi, the marks say about 300" in found.what
    (found,) = check_scale(geometry(), scan_at(None))
    assert found.severity == "note"
    assert "states no resolution" in found.what


@pytest.mark.parametrize(
    ("stated", "across", "down", "said"),
    [
        ((71.9999, 72.0001), 1.0, 1.0, "states 72 ppi, the marks say about 300,"),
        ((300, 150), 1.0, 1.0, "states 300 x 150 ppi, the marks say about 300,"),
        ((299.999, 300), 1.0, 0.5, "states 300 ppi, the marks say about 300 x 150,"),
        ((118.11, 118.11), 1.0, 1.0, "states 118.1 ppi"),
    ],
)
def test_resolutions_are_written_as_people_say_them(stated, across, down, said):
    source = ArraySource(BLANK, resolution_ppi=stated)
    (found,) = check_scale(geometry(across, down), source)
    assert said in found.what


def test_unequal_resolutions_that_the_marks_agree_with_are_no_finding():
    source = ArraySource(BLANK, resolution_ppi=(300, 150))
    assert list(check_scale(geometry(1.0, 0.5), source)) == []
    # On its side, across the print is down the scan.
    turned = Geometry(
        matrix=np.array([[0, 300 / 25.4, 0], [-150 / 25.4, 0, 900], [0, 0, 1]]),
        size_mm=(90, 70),
    )
    assert list(check_scale(turned, source)) == []
