import numpy as np
from numpy.testing import assert_allclose

from negcurve.simulation.lamp import Lamp


def test_field_has_mean_zero_and_falls_to_the_edges():
    field = Lamp(name="bank", tilt_across=0.0, tilt_down=0.0, ripple=0.0).log_field(
        (100, 80), resolution_ppi=10.0
    )
    assert_allclose(field.mean(), 0.0, atol=1e-6)
    assert field[50, 40] > field[50, 0] > field[0, 0]
    assert_allclose(field, field[::-1, ::-1], atol=1e-6)


def test_edge_of_a_bank_falls_as_the_geometry_says():
    # Single edge: E = 0.5 + atan(x / h) / pi, so 0.75 at x = h and 0.5 at the edge,
    # from geometry; the far edge is too distant to matter here.
    lamp = Lamp(name="bank", height_mm=20.0, overhang_mm=0.0, tilt_across=0.0,
                tilt_down=0.0, ripple=0.0)  # fmt: skip
    field = lamp.log_field((1, 40001), resolution_ppi=25.4)
    light = 10 ** (field[0] - field[0].max())
    assert_allclose(light[[0, 19]], [0.508, 0.747], atol=0.002)


def test_tilt_is_the_difference_from_edge_to_edge():
    lamp = Lamp(name="bank", height_mm=1.0, overhang_mm=1e5, tilt_across=0.04,
                tilt_down=0.0, ripple=0.0)  # fmt: skip
    field = lamp.log_field((5, 1000), resolution_ppi=100.0)
    assert_allclose(field[2, -1] - field[2, 0], 0.04, atol=1e-4)


def test_ripple_repeats_with_the_spacing_of_the_tubes():
    lamp = Lamp(name="bank", height_mm=1.0, overhang_mm=1e5, tilt_across=0.0,
                tilt_down=0.0, ripple=0.01, spacing_mm=25.4)  # fmt: skip
    field = lamp.log_field((400, 3), resolution_ppi=100.0)
    assert_allclose(field[0, 1] - field[50, 1], 0.02, atol=1e-4)
    assert_allclose(field[:100], field[100:200], atol=1e-6)
    assert np.ptp(field[0]) < 1e-6


def test_smears_on_the_glass_run_down_and_stay():
    lamp = Lamp(name="bank", streaks=0.02, streak_seed=3)
    clean = Lamp(name="bank")
    smear = lamp.log_field((200, 300), resolution_ppi=50) - clean.log_field(
        (200, 300), resolution_ppi=50
    )
    assert_allclose(smear, smear[:1].repeat(200, axis=0), atol=1e-6)
    assert_allclose(smear.std(), 0.02, rtol=0.01)
    again = lamp.log_field((200, 300), resolution_ppi=50)
    assert_allclose(again - clean.log_field((200, 300), resolution_ppi=50), smear)
