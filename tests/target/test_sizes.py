import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from negcurve.errors import InvalidValueError
from negcurve.target.sizes import (
    A_SERIES_MM,
    UNITS_PER_MM,
    length_units,
    sheet_name,
    sheet_size,
)

# Source: ISO 216:2007, table of the ISO-A series, retyped from memory.
ISO_216 = [
    ("A2", 420, 594),
    ("A3", 297, 420),
    ("A4", 210, 297),
    ("A5", 148, 210),
    ("A6", 105, 148),
]


@pytest.mark.parametrize(("name", "width", "height"), ISO_216)
def test_a_series(name: str, width: int, height: int) -> None:
    assert sheet_size(name) == (width * UNITS_PER_MM, height * UNITS_PER_MM)


def test_a_series_halves() -> None:
    """ISO 216, 4.1: each size is the one above it halved, rounded down to 1 mm."""
    for larger, smaller in itertools.pairwise(ISO_216):
        assert A_SERIES_MM[smaller[0]] == (larger[2] // 2, larger[1])


# The international inch is 25.4 mm exactly (yard and pound agreement, 1959).
@pytest.mark.parametrize(
    ("name", "width_mm", "height_mm"),
    [
        ("8x10in", 203.2, 254.0),
        ("8.5 x 11 IN", 215.9, 279.4),
        ("4x5in", 101.6, 127.0),
        ("20x25cm", 200.0, 250.0),
        ("297x210mm", 297.0, 210.0),
    ],
)
def test_named_sizes(name: str, width_mm: float, height_mm: float) -> None:
    width, height = sheet_size(name)
    assert (width / UNITS_PER_MM, height / UNITS_PER_MM) == (width_mm, height_mm)


def test_one_way_of_writing() -> None:
    assert sheet_name("a4") == "A4"
    assert sheet_name("8 X 10 In") == "8x10in"


@pytest.mark.parametrize("name", ["", "8x10", "letter", "A9", "x10in", "-8x10in"])
def test_names_that_mean_nothing(name: str) -> None:
    with pytest.raises(InvalidValueError) as caught:
        sheet_size(name)
    assert str(caught.value) == (
        f"sheet: {name!r} is not a sheet size\n"
        "Write A2 to A6, or width x height and a unit: 8x10in, 20x25cm."
    )


def test_sizes_of_no_sheet() -> None:
    with pytest.raises(InvalidValueError, match=r"side of 25\.4 mm"):
        sheet_size("1x10in")
    with pytest.raises(InvalidValueError, match="side of 3000 mm"):
        sheet_size("200x300cm")


@given(st.integers(0, 100_000))
def test_lengths_in_hundredths(hundredths: int) -> None:
    text = f"{hundredths // 100}.{hundredths % 100:02d}"
    assert length_units(f"{text} mm", where="margin") * 50 == hundredths * 100
    assert length_units(f"{text}cm", where="margin") == hundredths * 20


def test_length_wants_a_unit() -> None:
    with pytest.raises(InvalidValueError) as caught:
        length_units("12", where="margin")
    assert str(caught.value) == (
        "margin: '12' is not a length with a unit\n"
        "Write a number and mm, cm or in: 12mm, 0.5in."
    )
