import numpy as np
import pytest

from negcurve.errors import InvalidValueError
from negcurve.reading.geometry import Geometry, fit_geometry

MATRIX = np.array([[11.7, 0.6, 40.0], [-0.5, 11.9, 90.0], [2e-5, -3e-5, 1.0]])


def projected(places):
    flat = np.column_stack([places, np.ones(len(places))]) @ MATRIX.T
    return flat[:, :2] / flat[:, 2:]


def test_four_marks_give_back_the_homography(layout):
    geometry = fit_geometry(layout, projected(np.array(layout.marks_mm)))
    np.testing.assert_allclose(geometry.matrix, MATRIX, rtol=1e-9, atol=1e-10)
    inner = np.array([[30.0, 40.0], [77.0, 51.0]])
    np.testing.assert_allclose(geometry.to_scan(inner), projected(inner))


@pytest.mark.parametrize("lost", range(4))
def test_three_marks_give_the_affine_map_through_them(layout, lost):
    kept = tuple(corner for corner in range(4) if corner != lost)
    marks = np.array([layout.marks_mm[corner] for corner in kept])
    geometry = fit_geometry(layout, projected(marks), kept)
    np.testing.assert_allclose(geometry.to_scan(marks), projected(marks))
    np.testing.assert_array_equal(geometry.matrix[2], [0, 0, 1])


def test_two_marks_are_too_few(layout):
    with pytest.raises(InvalidValueError, match="three or four are needed"):
        fit_geometry(layout, [(0, 0), (1, 1)], (0, 1))


@pytest.mark.parametrize("degrees", [0, 7, 90, -90, 180, -83])
@pytest.mark.parametrize("mirrored", [False, True])
def test_turn_and_mirroring_are_told(degrees, mirrored):
    angle = np.radians(degrees)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    matrix = np.eye(3)
    matrix[:2, :2] = 8.0 * turn @ np.diag([-1 if mirrored else 1, 1])
    geometry = Geometry(matrix=matrix, size_mm=(100, 80))
    assert geometry.mirrored == mirrored
    off = (geometry.turn_degrees - degrees + 180) % 360 - 180
    assert off == pytest.approx(0, abs=1e-6)
    assert geometry.px_per_mm == pytest.approx(8.0)


def test_printed_scale_is_told_each_way_also_when_turned():
    stretched = np.array([[0, -11.811 * 0.99, 0], [11.811 * 1.005, 0, 0], [0, 0, 1]])
    geometry = Geometry(matrix=stretched, size_mm=(100, 80))
    across, down = geometry.scales((300, 300))
    assert across == pytest.approx(1.005, abs=1e-4)
    assert down == pytest.approx(0.99, abs=1e-4)
    # 600 ppi down the scan: the same pixels are half as many millimetres.
    across, down = geometry.scales((300, 600))
    assert across == pytest.approx(1.005 / 2, abs=1e-4)


def test_shifts_add_up_on_the_print_before_the_homography():
    geometry = Geometry(matrix=np.diag([10.0, 10.0, 1.0]), size_mm=(100, 80))
    change = np.zeros((6, 2))
    change[0, 0] = 0.3  # everything 0.3 mm to the right
    change[4, 1] = 0.5  # left and right edge 0.5 mm down
    moved = geometry.shifted(change).to_scan([(0, 40), (50, 40), (100, 40)])
    np.testing.assert_allclose(moved, [(3, 405), (503, 400), (1003, 405)])
    smaller = geometry.shifted(change).scaled(0.5).to_scan([(0, 40)])
    np.testing.assert_allclose(smaller, [(1.5, 202.5)])
