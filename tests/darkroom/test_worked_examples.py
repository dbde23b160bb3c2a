"""Worked examples of manuals and textbooks that this room's formulas must give.

Those that the program has no function for are listed in the README of this folder.
"""

from collections.abc import Callable
from itertools import pairwise

import pytest
from numpy.testing import assert_allclose

from negcurve.darkroom.exposure import (
    density_from_factor,
    factor_from_density,
    factor_from_stops,
)
from negcurve.darkroom.first_print import time_for_black
from negcurve.darkroom.iso6846 import CAMERA_GRADES_LOG, paper_grade
from negcurve.darkroom.tablet import nominal_tablet
from negcurve.density import density_from_reflectance

NAVY = "NAVEDTRA 14208 Photography (Advanced), US Navy, April 1995, ch. 2"
KODAK = "Eastman Kodak, Radiography in Modern Industry"


def density(transmittance: float) -> float:
    return float(density_from_reflectance(transmittance))


EXAMPLES: tuple[tuple[str, Callable[[], float], float, float, str], ...] = (
    ("half the light", lambda: density(5 / 10), 0.3, 0.005, NAVY),
    ("a fifth of the light", lambda: 10 ** density(2 / 10), 5.0, 0.005, NAVY),
    ("t = 1", lambda: density(1), 0.0, 0.005, f"{KODAK}, p. 65"),
    ("t = 0.5", lambda: density(0.5), 0.3, 0.005, f"{KODAK}, p. 65"),
    ("t = 0.25", lambda: density(0.25), 0.6, 0.005, f"{KODAK}, p. 65"),
    ("t = 0.1", lambda: density(0.1), 1.0, 0.005, f"{KODAK}, p. 65"),
    ("t = 0.01", lambda: density(0.01), 2.0, 0.005, f"{KODAK}, p. 65"),
    ("t = 0.001", lambda: density(0.001), 3.0, 0.005, f"{KODAK}, p. 65"),
    ("t = 0.0001", lambda: density(0.0001), 4.0, 0.005, f"{KODAK}, p. 65"),
    ("log 1", lambda: density_from_factor(1), 0.0, 0.005, f"{KODAK}, p. 70"),
    ("log 5", lambda: density_from_factor(5), 0.7, 0.005, f"{KODAK}, p. 70"),
    ("log 2", lambda: density_from_factor(2), 0.3, 0.005, f"{KODAK}, p. 70"),
    ("log 10", lambda: density_from_factor(10), 1.0, 0.005, f"{KODAK}, p. 70"),
    ("log 30", lambda: density_from_factor(30), 1.48, 0.005, f"{KODAK}, p. 70"),
    ("log 150", lambda: density_from_factor(150), 2.18, 0.005, f"{KODAK}, p. 70"),
    ("antilog 0.7", lambda: factor_from_density(0.7), 5.0, 0.02, f"{KODAK}, p. 70"),
    (
        # The book rounds the antilog of 0.4 to 2.5; exactly it is 30.14 s.
        "12 s through D 1.5, now D 1.9",
        lambda: time_for_black(12, step_density=1.5, film_density=1.9),
        30.0,
        0.2,
        "Clerc, Photography: Theory and Practice, sec. 511",
    ),
    (
        "exposure 10 from log 1.2 to log 1.8",
        lambda: 10 * factor_from_density(1.8 - 1.2),
        39.810717,
        1e-5,
        "NDT exercise, web2.0calc.com",
    ),
    (
        "twice the exposure, from log 2.2",
        lambda: 2.2 + density_from_factor(2),
        2.5,
        0.01,
        "Waygate, use of the characteristic curve, example 1",
    ),
    (
        "a quarter stop",
        lambda: factor_from_stops(0.25),
        1.19,
        0.005,
        "E. Buffaloe, Test Exposures in Printing",
    ),
    (
        "middle of grade 2",
        lambda: sum(CAMERA_GRADES_LOG["2"]) / 2,
        1.05,
        0.0005,
        "S. Benskin 2012; ANSI PH2.2 grade 2",
    ),
    (
        "steps of 0.15 from 0 to 3",
        lambda: float(nominal_tablet("21").steps),
        21,
        0,
        "G. Saxby, Focal dictionary, densitometry",
    ),
)


@pytest.mark.parametrize(
    ("what", "calculate", "expected", "tolerance", "source"), EXAMPLES
)
def test_worked_example(what, calculate, expected, tolerance, source) -> None:
    assert_allclose(
        calculate(), expected, rtol=0, atol=tolerance, err_msg=f"{what}: {source}"
    )


def test_grades_meet_without_a_gap() -> None:
    ends = sorted(CAMERA_GRADES_LOG.values())
    assert all(a[1] == b[0] for a, b in pairwise(ends))
    # Outer limits: Focal Encyclopedia of Photography, 4th ed., p. 679.
    assert (ends[0][0], ends[-1][1]) == (0.50, 1.70)
    assert paper_grade(1.05) == "2"
    assert paper_grade(0.4) is None
