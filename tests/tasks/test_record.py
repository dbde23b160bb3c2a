import numpy as np
import pytest

from negcurve.errors import InvalidValueError, ReadingsError, RecordError
from negcurve.files.readings_csv import write_readings
from negcurve.files.solution_json import read_solution, write_solution
from negcurve.readings import Readings
from negcurve.tasks.record import (
    AddOptions,
    add,
    compare_calibrations,
    list_calibrations,
    retire,
    show,
    use,
)
from negcurve.tasks.record_drydown import drydown
from negcurve.tasks.record_strip import strip
from tests.watch.samples import made_solution, made_strip


@pytest.fixture
def table(tmp_path):
    path = tmp_path / "table.json"
    write_solution(made_solution(), path)
    return path


@pytest.fixture
def folder(tmp_path, table):
    path = tmp_path / "record"
    add(AddOptions(folder=path, table=table, name="spring"))
    return path


def test_adding_names_what_was_not_told(tmp_path, table):
    entry, found = add(
        AddOptions(
            folder=tmp_path / "new",
            table=table,
            name="spring",
            circumstances={"paper": "matt"},
            when="2026-03-01",
        )
    )
    assert f"{entry.time:%Y-%m-%d}" == "2026-03-01"
    assert list(entry.files) == ["table.json"]
    assert "sensitizer" in found[-1].what
    assert "paper," not in found[-1].what


def test_no_hidden_folder_is_taken():
    with pytest.raises(InvalidValueError) as caught:
        list_calibrations(None)
    assert str(caught.value) == (
        "record: no record folder named\n"
        "Give --record-dir DIR, or set NEGCURVE_RECORD to the folder."
    )


def test_a_date_that_is_none_is_refused(tmp_path, table):
    with pytest.raises(InvalidValueError, match="is not a date"):
        add(AddOptions(folder=tmp_path / "n", table=table, name="a", when="soon"))


def test_listing_newest_and_retired(folder, table):
    add(AddOptions(folder=folder, table=table, name="autumn"))
    assert [each.name for each in list_calibrations(folder).entries] == [
        "spring",
        "autumn",
    ]
    newest = list_calibrations(folder, newest=True)
    assert [each.name for each in newest.entries] == ["autumn"]
    retire(folder, "spring", because="new batch")
    assert len(list_calibrations(folder).entries) == 1
    everything = list_calibrations(folder, retired=True)
    assert everything.entries[0].key in everything.retired
    assert show(folder, "spring").retired == "new batch"
    assert compare_calibrations(folder, "spring", "autumn").same


def test_using_gives_the_same_solution(folder, tmp_path, table):
    _, path = use(folder, "spring")
    assert read_solution(path) == read_solution(table)
    _, copied = use(folder, "spring", output=tmp_path / "out.json")
    assert copied.read_bytes() == path.read_bytes()


def test_a_strip_is_added_judged_and_drawn(folder, tmp_path):
    path = tmp_path / "strip.csv"
    write_readings(made_strip(made_solution()), path)
    result = strip(folder, path, "Spring", plot=tmp_path / "h.svg")
    assert result.judgement.kind == "in control"
    assert result.judgement.provisional
    assert "<title" in (tmp_path / "h.svg").read_text(encoding="utf-8")
    assert len(show(folder, "spring").strips) == 1
    with pytest.raises(RecordError, match="is in the record already"):
        strip(folder, path, "spring")
    assert len(show(folder, "spring").strips) == 1


def test_showing_has_the_cautions_of_light(folder):
    shown = show(folder, "spring")
    assert any("UV" in str(each) for each in shown.cautions)
    assert shown.judgement is None


def wet_and_dry(tmp_path, *, sheet="1", hours=24.0, change=0.05):
    level = np.linspace(0, 1, 8)
    density = np.linspace(0.1, 1.2, 8)
    wet = Readings(
        negative_level=level, density=density, sheet=sheet, print_state="wet"
    )
    dry = Readings(
        negative_level=level, density=density + change, sheet=sheet, hours_dry=hours
    )
    paths = [tmp_path / f"{kind}-{sheet}-{hours}.csv" for kind in ("wet", "dry")]
    for readings, path in zip((wet, dry), paths, strict=True):
        write_readings(readings, path, overwrite=True)
    return paths


def test_drydown_is_learned_from_pairs(tmp_path):
    pairs = [wet_and_dry(tmp_path, sheet=name) for name in "ab"]
    wets, dries = zip(*pairs, strict=True)
    result = drydown(wets, dries)
    np.testing.assert_allclose(result.dry - result.wet, 0.05, atol=1e-6)
    assert result.model.prints == 2
    assert result.settling is None


def test_the_latest_dry_reading_counts_and_times_tell_when(tmp_path):
    dries = []
    for hours in (1.0, 3.0, 6.0, 12.0, 24.0):
        wet, dry = wet_and_dry(
            tmp_path, hours=hours, change=0.06 * (1 - np.exp(-hours / 3))
        )
        dries.append(dry)
    result = drydown([wet], dries)
    np.testing.assert_allclose(result.dry - result.wet, 0.06, atol=1e-3)
    assert result.settling.hours == pytest.approx(3 * np.log(6), rel=0.1)
    assert result.findings[0].severity == "note"


def test_files_of_the_wrong_state_are_refused(tmp_path):
    wet, dry = wet_and_dry(tmp_path)
    with pytest.raises(ReadingsError, match="is marked dry, not wet"):
        drydown([dry], [dry])
    with pytest.raises(ReadingsError, match="is marked wet, not dry"):
        drydown([wet], [wet])


def test_prints_that_do_not_match_are_refused(tmp_path):
    wet, _ = wet_and_dry(tmp_path, sheet="a")
    _, dry = wet_and_dry(tmp_path, sheet="b")
    with pytest.raises(ReadingsError, match="no patch was read both wet and dry"):
        drydown([wet], [dry])
