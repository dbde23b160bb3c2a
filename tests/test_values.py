"""Checked arrays and findings."""

import numpy as np
import pytest

from negcurve.errors import InvalidValueError
from negcurve.values import Finding, first_of, frozen, no_progress


def test_frozen_copies_and_locks():
    given = np.array([1, 2, 3])
    kept = frozen(given, "numbers")
    given[0] = 9
    assert kept.dtype == np.float64
    np.testing.assert_array_equal(kept, [1, 2, 3])
    with pytest.raises(ValueError, match="read-only"):
        kept[0] = 5


@pytest.mark.parametrize(
    ("values", "message"),
    [
        (1.0, "numbers: must be one-dimensional, has shape ()"),
        ([[1, 2]], "numbers: must be one-dimensional, has shape (1, 2)"),
        ([1, np.nan], "numbers: must be finite, value 2 is nan"),
        ([np.inf, 1], "numbers: must be finite, value 1 is inf"),
    ],
)
def test_what_frozen_refuses(values, message):
    with pytest.raises(InvalidValueError) as caught:
        frozen(values, "numbers")
    assert str(caught.value) == message


def test_unknown_numbers_where_allowed():
    np.testing.assert_array_equal(
        frozen([1, np.nan], "numbers", unknown_allowed=True), [1, np.nan]
    )
    with pytest.raises(InvalidValueError, match="value 2 is inf"):
        frozen([np.nan, np.inf], "numbers", unknown_allowed=True)


@pytest.mark.parametrize(
    ("parts", "expected"),
    [
        (("note", "is small", "", ""), "note: is small"),
        (("note", "is small", "a.tif", ""), "note: a.tif: is small"),
        (
            ("warning", "is small", "a.tif", "Scan it again."),
            "warning: a.tif: is small. Scan it again.",
        ),
    ],
)
def test_findings_print_as_one_line(parts, expected):
    severity, what, where, fix = parts
    found = Finding(severity=severity, what=what, where=where, fix=fix)
    assert str(found) == expected


def test_no_progress_says_nothing(capsys):
    no_progress("reading", 0.5)
    assert capsys.readouterr() == ("", "")


@pytest.mark.parametrize(
    ("items", "text"),
    [((), ""), ((1, 2), "1, 2"), (("a", "b", "c"), "a, b and more")],
)
def test_the_first_of_some_are_listed(items, text):
    assert first_of(items, 2) == text
