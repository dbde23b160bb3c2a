import json
import unicodedata
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from negcurve.errors import InvalidValueError, RecordError
from negcurve.record import compare, open_record
from negcurve.record.strips import strip_deviation
from negcurve.response.film import FilmData
from tests.watch.samples import made_solution, made_strip


@pytest.fixture
def record(tmp_path):
    return open_record(tmp_path / "record", create=True)


def added(record, name="spring", **more):
    return record.add(made_solution(), name=name, **more)[0]


def test_a_calibration_comes_back_whole(record):
    solution = made_solution(notes={"exposure": "6 min"})
    entry, _ = record.add(
        solution,
        name="spring",
        circumstances={"paper": "matt", "humidity_percent": "55"},
        remarks="first of the year",
    )
    again = record.get("spring")
    assert again == entry
    assert again.circumstances == {
        "exposure": "6 min",
        "paper": "matt",
        "humidity_percent": 55.0,
    }
    assert record.solution(again) == solution


def test_no_folder_of_the_machine_is_kept(record, tmp_path):
    solution = made_solution(source=str(tmp_path / "scan.tif"))
    (tmp_path / "scan.tif").write_bytes(b"x")
    entry, _ = record.add(solution, name="a", files=[tmp_path / "scan.tif"])
    strip = made_strip(solution, source=r"C:\work\strip.csv")
    record.add_strip(entry, strip)
    text = "".join(
        each.read_text(encoding="utf-8") for each in record.folder.path.iterdir()
    )
    assert str(tmp_path) not in text
    assert "work" not in text
    assert list(entry.files) == ["scan.tif"]


def test_names_are_compared_in_one_form_without_case(record):
    entry = added(record, unicodedata.normalize("NFD", "Frühling"))
    assert entry.name == unicodedata.normalize("NFC", "Frühling")
    assert record.get(unicodedata.normalize("NFD", "FRÜHLING")).key == entry.key
    with pytest.raises(RecordError, match="is in service already"):
        added(record, "frühling")


@pytest.mark.parametrize("name", ["", "  ", "a\nb", "a\x00", "x" * 201, "\ud800"])
def test_names_that_cannot_be_shown_are_refused(record, name):
    with pytest.raises(InvalidValueError):
        added(record, name)
    assert record.entries() == ((), ())


@pytest.mark.parametrize("name", ["../evil", "a/b", "🙂", "naïve — é", "-o", "con"])
def test_odd_names_are_only_a_field(record, name):
    entry = added(record, name)
    assert record.get(name).name == name
    assert (record.folder.path / f"{entry.key}.json").exists()
    assert not list(record.folder.path.parent.glob("evil*"))


def test_a_key_or_its_beginning_also_names_it(record):
    entry = added(record)
    assert record.get(entry.key).key == entry.key
    assert record.get(entry.key[:20]).key == entry.key


def test_an_unknown_name_says_how_to_see_all(record):
    with pytest.raises(RecordError) as caught:
        record.get("autumn")
    assert "there is no calibration 'autumn'" in str(caught.value)
    assert "record list --all" in str(caught.value)


def test_retired_calibrations_stay_but_do_not_serve(record):
    entry = added(record)
    record.retire(entry, because="new batch")
    assert record.calibrations()[0] == ()
    assert len(record.calibrations(retired=True)[0]) == 1
    assert record.get("spring").key == entry.key
    with pytest.raises(RecordError, match="was taken out of service"):
        record.get("spring", retired=False)
    second = added(record)
    assert record.get("spring").key == second.key


def test_calibrations_are_found_by_process_and_paper(record):
    added(record, "a", circumstances={"process": "palladium", "paper": "Matt cotton"})
    added(record, "b", circumstances={"process": "cyanotype", "paper": "matt cotton"})
    found, _ = record.calibrations(process="PALLADIUM")
    assert [each.name for each in found] == ["a"]
    found, _ = record.calibrations(paper="cotton")
    assert [each.name for each in found] == ["a", "b"]


def test_order_is_that_of_the_print_not_of_the_writing(record):
    now = datetime.now(UTC)
    added(record, "new", time=now)
    added(record, "old", time=now - timedelta(days=90))
    assert [each.name for each in record.calibrations()[0]] == ["old", "new"]


def test_a_date_in_the_future_is_refused_and_in_a_file_warned_of(record):
    future = datetime.now(UTC) + timedelta(days=40)
    with pytest.raises(InvalidValueError, match="lies in the future"):
        added(record, time=future)
    entry = added(record)
    path = record.folder.path / f"{entry.key}.json"
    document = json.loads(path.read_text())
    path.write_text(json.dumps({**document, "time": future.isoformat()}))
    entries, found = record.entries()
    assert len(entries) == 1
    assert "lies in the future" in found[0].what


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"circumstances": {"humidity_percent": "abc"}}, "circumstances.humidity_perc"),
        ({"circumstances": {"humidity_percent": 155}}, "lies outside 0..100"),
        ({"circumstances": []}, "circumstances: [] is not a list of named values"),
        ({"ends": {"d_max": "dark"}}, "ends.d_max: 'dark' is not a number"),
        ({"time": "yesterday"}, "time: 'yesterday' is not a date and time"),
        ({"kind": "poem"}, "kind: 'poem' is none of"),
        ({"name": 7}, "name: 7 is not text"),
        ({"name": ""}, "name: is missing"),
    ],
)
def test_a_slip_of_value_is_named_by_its_field(record, change, words):
    entry = added(record)
    added(record, "other")
    path = record.folder.path / f"{entry.key}.json"
    path.write_text(json.dumps({**json.loads(path.read_text()), **change}))
    entries, found = record.entries()
    assert [each.name for each in entries] == ["other"]
    assert found[0].where == f"{entry.key}.json"
    assert words in found[0].what


def test_strips_are_judged_in_their_order(record):
    entry = added(record, circumstances={"exposure_scale": 1.6})
    solution = record.solution(entry)
    start = datetime.now(UTC) - timedelta(days=30)
    for k in range(14):
        shift = 0.06 if k > 11 else 0.0
        record.add_strip(
            entry,
            made_strip(solution, seed=k, shift=shift),
            time=start + timedelta(days=k),
        )
    judgement = record.judgement(entry)
    assert judgement.kind == "exposure"
    assert judgement.since == 12
    assert judgement.log_exposure > 0
    readings = record.readings(record.strips(entry)[0])
    np.testing.assert_allclose(readings.density, made_strip(solution, seed=0).density)


def test_a_film_that_was_measured_gives_log_exposure(record):
    level = np.linspace(0, 1, 21)
    film = FilmData(
        level_nodes=level, density_nodes=2.0 * (1 - level), error_nodes=0 * level
    )
    solution = replace(made_solution(), film=film)
    # Clear film at level 1: 0.04 of level is 0.08 of the film's 2.0.
    strip = made_strip(solution, shift=0.04)
    found = strip_deviation(strip, solution)
    assert found.log_exposure == pytest.approx(0.08, abs=0.02)
    assumed = replace(solution, film=replace(film, assumed=True))
    assert strip_deviation(strip, assumed).log_exposure is None


def test_no_strips_is_said(record):
    entry = added(record)
    with pytest.raises(RecordError, match="has no strips yet"):
        record.judgement(entry)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"table": "deadbeef"}, "was printed through table deadbeef"),
        ({"print_state": "wet"}, "was read wet"),
        ({"density_kind": "visual"}, "has density kind visual"),
        ({"density_zero": "paper"}, "has density zero paper"),
    ],
)
def test_a_strip_of_something_else_is_refused(record, change, words):
    entry = added(record)
    strip = made_strip(made_solution(), **change)
    with pytest.raises(RecordError, match=words):
        record.add_strip(entry, strip)
    assert record.strips(entry) == ()


def test_comparing_names_what_differs(record):
    one = added(record, "a", circumstances={"paper": "matt", "lamp": "bank"})
    two = added(record, "b", circumstances={"paper": "smooth", "lamp": "bank"})
    comparison = compare(one, record.solution(one), two, record.solution(two))
    assert comparison.circumstances == {"paper": ("matt", "smooth")}
    assert comparison.same
    np.testing.assert_allclose(comparison.density_difference, 0, atol=1e-12)
    np.testing.assert_allclose(comparison.lightness_error, 0, atol=1e-9)
