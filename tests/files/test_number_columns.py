"""Small tables of numbers as CSV."""

from pathlib import Path

import pytest

from negcurve.errors import FileError, ReadingsError
from negcurve.files.number_columns import column_names, read_columns


def written(folder: Path, text: str) -> Path:
    path = folder / "list.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_columns_in_any_order_with_comments_and_empty_rows(tmp_path: Path) -> None:
    path = written(
        tmp_path, "# print_state: dry\nDensity,Step,note\n1.40,1,a\n,,\n0.90,2,b\n"
    )
    found = read_columns(path, numbers=("step", "density"), texts=("note",))
    assert found.numbers == {"step": (1.0, 2.0), "density": (1.40, 0.90)}
    assert found.texts == {"note": ("a", "b")}
    assert found.keys == {"print_state": "dry"}
    assert column_names(path) == ("density", "step", "note")


def test_decimal_commas_with_semicolons(tmp_path: Path) -> None:
    path = written(tmp_path, "step;density\n1;1,40\n2;0,90\n")
    assert read_columns(path, numbers=("density",)).numbers["density"] == (1.4, 0.9)


def test_every_bad_row_is_listed(tmp_path: Path) -> None:
    path = written(tmp_path, "step,density\n1,dark\n2,1.0\n3,\n")
    with pytest.raises(ReadingsError) as caught:
        read_columns(path, numbers=("step", "density"))
    assert str(caught.value) == (
        "list.csv: 2 problems\n"
        "  line 2: density 'dark' is no number\n"
        "  line 4: density '' is no number\n"
        "Correct the file and read it again."
    )


def test_missing_columns_rows_and_files(tmp_path: Path) -> None:
    with pytest.raises(ReadingsError, match="has no column dose, only step, density"):
        read_columns(written(tmp_path, "step,density\n1,1.4\n"), numbers=("dose",))
    with pytest.raises(ReadingsError, match="has no rows"):
        read_columns(written(tmp_path, "step,density\n"), numbers=("step",))
    with pytest.raises(FileError, match="does not exist"):
        read_columns(tmp_path / "gone.csv", numbers=("step",))


@pytest.mark.parametrize(
    ("text", "what"),
    [
        ("<!doctype html>\n<p>a, b, c</p>\n", "is HTML or XML, not a list"),
        ('{"schema": "x"}\n', "is JSON, not a list"),
    ],
)
def test_pages_and_documents_are_no_lists(tmp_path: Path, text: str, what: str) -> None:
    path = tmp_path / "r.csv"
    path.write_text(text)
    with pytest.raises(FileError, match=what) as caught:
        read_columns(path, numbers=("density",))
    assert caught.value.fix
