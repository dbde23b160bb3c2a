"""Readings check themselves once, when they are made."""

import numpy as np
import pytest

from negcurve.errors import InvalidValueError
from negcurve.readings import Readings
from negcurve.values import Finding


def readings(**changes):
    return Readings(
        **{
            "negative_level": [0.0, 0.5, 1.0],
            "density": [0.1, 0.6, 1.4],
            **changes,
        }
    )


def test_only_levels_and_densities_are_needed():
    made = readings()
    assert len(made) == 3
    assert made.patch == ("", "", "")
    assert made.flags == (frozenset(),) * 3
    assert np.isnan(made.x_mm).all()
    assert not made.placed
    assert (made.density_kind, made.density_zero) == ("luminance", "absolute")
    assert made.print_state == "dry"


def test_arrays_are_copied_and_locked():
    density = np.array([0.1, 0.6, 1.4])
    made = readings(density=density)
    density[0] = 9
    assert made.density[0] == 0.1
    with pytest.raises(ValueError, match="read-only"):
        made.density[0] = 5


def test_placed():
    assert readings(x_mm=[1, 2, 3], y_mm=[4, 5, 6]).placed
    assert not readings(x_mm=[1, 2, np.nan], y_mm=[4, 5, 6]).placed


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"density": [0.1, 0.2]}, "density: has 2 values for 3 levels"),
        ({"x_mm": [1]}, "x_mm: has 1 values for 3 levels"),
        ({"patch": ("1",)}, "patch: has 1 values for 3 levels"),
        ({"flags": ({"stray"},)}, "flags: has 1 values for 3 levels"),
        ({"density": [0.1, np.nan, 1]}, "density: must be finite, value 2 is nan"),
        ({"x_mm": [0, np.inf, 1]}, "x_mm: must be finite, value 2 is inf"),
        (
            {"negative_level": [0, 0.5, 1.2]},
            "reading 3: 1.2 lies outside 0..1\n"
            "Levels are code / largest code: 0 full ink, 1 clear film.",
        ),
        (
            {
                "negative_level": [0, -0.5, 1],
                "patch": ("7", "8", "9"),
                "source": "r.csv",
            },
            "r.csv, patch 8: -0.5 lies outside 0..1\n"
            "Levels are code / largest code: 0 full ink, 1 clear film.",
        ),
        (
            {"density_kind": "cyan"},
            "density_kind: 'cyan' is not known\n"
            "Use luminance, visual, red, green, blue.",
        ),
        (
            {"density_zero": "film"},
            "density_zero: 'film' is not known\nUse absolute, paper, scanner.",
        ),
        ({"print_state": "damp"}, "print_state: 'damp' is not known\nUse dry, wet."),
        (
            {"flags": ({"odd"}, set(), set())},
            "flags: 'odd' is not known\nUse stray, uneven, covered, clipped.",
        ),
    ],
)
def test_what_is_refused(changes, message):
    with pytest.raises(InvalidValueError) as caught:
        readings(**changes)
    assert str(caught.value) == message


def test_flagged():
    made = readings(flags=({"stray"}, set(), {"uneven", "clipped"}))
    np.testing.assert_array_equal(made.flagged("stray"), [True, False, False])
    np.testing.assert_array_equal(made.flagged("clipped", "stray"), [True, False, True])
    np.testing.assert_array_equal(made.flagged("covered"), [False] * 3)


@pytest.mark.parametrize("rows", [[True, False, True], [0, 2]])
def test_chosen_rows_keep_everything_else(rows):
    made = readings(
        patch=("a", "b", "c"),
        flags=({"stray"}, set(), {"uneven"}),
        x_mm=[1, 2, 3],
        sheet="7",
        printer_path={"mode": "grey"},
        findings=(Finding(severity="note", what="weak"),),
    )
    chosen = made.chosen(rows)
    np.testing.assert_array_equal(chosen.negative_level, [0, 1])
    np.testing.assert_array_equal(chosen.x_mm, [1, 3])
    assert chosen.patch == ("a", "c")
    assert chosen.flags == ({"stray"}, {"uneven"})
    assert chosen.sheet == "7"
    assert chosen.printer_path == {"mode": "grey"}
    assert chosen.findings == made.findings
    assert len(made) == 3


def test_replaced_is_checked_again():
    made = readings()
    assert made.replaced(sheet="9").sheet == "9"
    assert made.sheet == "1"
    with pytest.raises(InvalidValueError, match="print_state"):
        made.replaced(print_state="damp")


def test_row_names():
    made = readings(patch=("a", "", "c"))
    assert [made.row_name(place) for place in range(3)] == [
        "patch a",
        "reading 2",
        "patch c",
    ]
    assert made.replaced(source="r.csv").row_name(1) == "r.csv, reading 2"
