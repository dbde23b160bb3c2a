"""CGATS text: what a lenient reader takes wrongly, and what is the same."""

import numpy as np
import pytest

from negcurve.errors import FileError, ReadingsError
from negcurve.files.cgats import parse_cgats
from tests.files.lists import (
    LAYOUT,
    LIGHTNESS,
    NUMBERS,
    TRUE,
    cgats,
    read_text_of,
)

FIVE = """CGATS.17
ORIGINATOR "a densitometer"
CREATED "1 May"
KEYWORD "SAMPLE_LOC"
NUMBER_OF_FIELDS 4
BEGIN_DATA_FORMAT
SAMPLE_ID SAMPLE_LOC D_VIS LAB_L
END_DATA_FORMAT
NUMBER_OF_SETS 5
BEGIN_DATA
1\tA1\t0.060\t94.7
2\tA2\t0.250\t79.5
3\tA3\t0.600\t57.2
4\tA4\t1.050\t35.8
5\tA5\t1.450\t22.1
END_DATA
"""


CHANGES = [
    (
        "\n2\tA2\t0.250\t79.5",
        "\n2\t\t0.250\t79.5",
        "line 12: has 3 values for 4 fields",
    ),
    ("\t1.450\t22.1", "\t1.450", "cell is blank or the row is cut short"),
    ("A2\t", "A 2\t", "text with blanks must stand in quotes"),
    ("END_DATA\n", "", "ends before END_DATA, so it may be cut off"),
    ("0.600", "nan", "line 13: D_VIS is nan, not a number"),
    ("0.600", "inf", "D_VIS is inf, not a number"),
    ("NUMBER_OF_SETS 5", "NUMBER_OF_SETS 6", "line 9: NUMBER_OF_SETS is 6, but there"),
    ("NUMBER_OF_FIELDS 4", "NUMBER_OF_FIELDS 5", "line 5: NUMBER_OF_FIELDS is 5"),
    ("0.600", "O.600", "line 13: d_vis 'O.600' is not a number"),
    ("D_VIS LAB_L\n", "D_VIS D_VIS\n", "names the field D_VIS twice"),
    ("A3", '"A3', "line 13: a quotation mark is not closed"),
    ("BEGIN_DATA\n", "", "without BEGIN_DATA"),
]


def end_removed(text, old, new):
    head, _, tail = text.rpartition(old)
    return head + new + tail if old == "END_DATA\n" else text.replace(old, new, 1)


@pytest.mark.parametrize(("old", "new", "said"), CHANGES)
def test_what_a_lenient_reader_takes_wrongly_is_told(tmp_path, old, new, said):
    """Variants that a common open reader takes, some with a wrong value."""
    text = end_removed(FIVE, old, new)
    assert text != FIVE
    text = text.replace("SAMPLE_ID", "patch").replace("LAB_L", "negative_level")
    with pytest.raises((FileError, ReadingsError)) as caught:
        read_text_of(tmp_path, text, layout=None)
    assert said in str(caught.value)


@pytest.mark.parametrize(
    ("old", "new", "noted"),
    [
        ("\n", "\r\n", None),
        ("\n", "\r", None),
        ("CGATS.17", "\ufeffCGATS.17", None),
        ("2\tA2", "# a remark\n2\tA2", None),
        ("\tA3", '\t"A 3"', None),
        ("0.250", "2.5e-1", None),
        ("0.250", "0,250", "uses decimal commas"),
        ('KEYWORD "SAMPLE_LOC"\n', "", "does not declare: SAMPLE_LOC"),
        ("NUMBER_OF_SETS 5\n", "", "does not state NUMBER_OF_SETS"),
    ],
)
def test_variants_read_the_same(tmp_path, old, new, noted):
    text = (
        FIVE.replace(old, new)
        .replace("LAB_L", "X")
        .replace('KEYWORD "SAMPLE_LOC"', 'KEYWORD "SAMPLE_LOC"\nKEYWORD "X"')
    )
    found = parse_cgats(text.removeprefix("\ufeff"), source="list.txt")
    cells = [row.cells["d_vis"].replace(",", ".") for row in found.tables[0].rows]
    assert [float(cell) for cell in cells] == [0.06, 0.25, 0.6, 1.05, 1.45]
    told = " ".join(str(each) for each in found.findings)
    assert (noted in told) if noted else ("uses" not in told and "state" not in told)


TWO_TABLES = (
    cgats(["SAMPLE_ID", "RGB_R"], NUMBERS, NUMBERS)
    + cgats(["SAMPLE_ID", "LAB_L"], NUMBERS, LIGHTNESS, first="")
    + cgats(["SAMPLE_ID", "D_VIS"], NUMBERS, TRUE + 0.3, first="")
)


def test_of_several_tables_the_first_with_values_is_read(tmp_path):
    readings = read_text_of(tmp_path, TWO_TABLES)
    np.testing.assert_allclose(readings.density, TRUE, atol=2e-5)
    (told,) = [each for each in readings.findings if "tables" in each.what]
    assert told.severity == "warning"
    assert told.what.startswith("holds 3 tables, 2 of them with measured values")
    cut = TWO_TABLES.replace("NUMBER_OF_SETS 54", "NUMBER_OF_SETS 53", 2).replace(
        "NUMBER_OF_SETS 53", "NUMBER_OF_SETS 54", 1
    )
    with pytest.raises(ReadingsError, match="NUMBER_OF_SETS is 53, but there are 54"):
        read_text_of(tmp_path, cut)


def test_a_second_table_need_not_state_its_counts():
    second = "BEGIN_DATA_FORMAT\nSAMPLE_ID\nEND_DATA_FORMAT\nBEGIN_DATA\n1\nEND_DATA\n"
    found = parse_cgats(FIVE + "ORIGINATOR other\n" + second, source="list.txt")
    first, other = found.tables
    assert (len(first.rows), len(other.rows)) == (5, 1)
    assert other.columns == ("sample_id",)
    said = [
        {line.key: line.value for line in table.keys}["cgats.created"]
        for table in (first, other)
    ]
    assert said == ["1 May", "1 May"]


def test_a_file_in_small_letters(tmp_path):
    text = cgats(["SAMPLE_ID", "LAB_L"], NUMBERS, LIGHTNESS).lower()
    for each in (text, text.removeprefix("cgats.17\n")):
        readings = read_text_of(tmp_path, each)
        np.testing.assert_allclose(readings.density, TRUE, atol=2e-5)


def test_a_file_says_what_our_own_files_say(tmp_path):
    text = cgats(["SAMPLE_ID", "D_VIS"], NUMBERS, TRUE).replace(
        "CGATS.17\n",
        'CGATS.17\nSHEET "7 May"\nDENSITY_ZERO "paper"\nHOURS_DRY 24\n'
        f'TARGET "{LAYOUT.identity_text}"\nFILTER "Status A"\n',
    )
    readings = read_text_of(tmp_path, text)
    assert (readings.sheet, readings.hours_dry) == ("7 May", 24)
    assert (readings.density_zero, readings.target) == ("paper", LAYOUT.identity_text)
    assert any("from d_vis, status A" in each.what for each in readings.findings)
