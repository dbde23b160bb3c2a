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
