import hashlib
import json
import threading
from pathlib import Path

import pytest

from negcurve.errors import FileError, RecordError
from negcurve.files.record_folder import ENTRY, MARKER, RecordFolder


def writer(content: bytes):
    return lambda path: Path(path).write_bytes(content)


@pytest.fixture
def folder(tmp_path):
    return RecordFolder(tmp_path / "record", create=True)


def test_an_entry_comes_back_with_its_part(folder):
    stored, _ = folder.add({"kind": "remark", "name": "Ä"}, {"x.csv": writer(b"a,b\n")})
    assert ENTRY.fullmatch(stored.key)
    again = folder.read(stored.key)
    assert again.document == stored.document
    assert again.document["schema"] == "negcurve/record/1"
    path = folder.part(again, "x.csv")
    assert path.read_bytes() == b"a,b\n"
    assert again.document["parts"]["x.csv"] == hashlib.sha256(b"a,b\n").hexdigest()


def test_only_plain_files_of_the_record_stand_in_it(folder):
    folder.add({"kind": "remark"}, {})
    names = sorted(each.name for each in folder.path.iterdir())
    assert names[-1] == MARKER
    assert len(names) == 2


def test_entries_of_two_writers_are_all_kept(folder):
    def work(number):
        for k in range(15):
            folder.add({"kind": "remark", "n": number * 100 + k}, {"p": writer(b"x")})

    threads = [threading.Thread(target=work, args=(n,)) for n in range(4)]
    for each in threads:
        each.start()
    for each in threads:
        each.join()
    stored, found = folder.read_all()
    assert not found
    assert sorted(each.document["n"] for each in stored) == sorted(
        n * 100 + k for n in range(4) for k in range(15)
    )


def test_a_new_folder_is_made_and_an_old_record_opened(tmp_path):
    path = tmp_path / "a" / "b"
    RecordFolder(path, create=True)
    assert RecordFolder(path).keys() == []


def test_a_folder_of_other_things_is_not_made_a_record(tmp_path):
    (tmp_path / "photo.jpg").write_bytes(b"x")
    with pytest.raises(RecordError) as caught:
        RecordFolder(tmp_path, create=True)
    assert str(caught.value) == (
        f"{tmp_path}: holds other files ('photo.jpg') and no record\n"
        "Name a new or an empty folder."
    )
    assert [each.name for each in tmp_path.iterdir()] == ["photo.jpg"]


def test_a_folder_that_is_no_record_is_named(tmp_path):
    with pytest.raises(RecordError, match="holds no record"):
        RecordFolder(tmp_path)
    with pytest.raises(RecordError, match="does not exist"):
        RecordFolder(tmp_path / "none")


def test_a_slip_of_syntax_is_named_by_line_and_the_rest_serves(folder):
    good, _ = folder.add({"kind": "remark"}, {})
    bad, _ = folder.add({"kind": "remark", "name": "x"}, {})
    path = folder.path / f"{bad.key}.json"
    path.write_text(path.read_text().replace('"remark",', '"remark"'))
    with pytest.raises(RecordError) as caught:
        folder.read(bad.key)
    assert caught.value.where == f"{bad.key}.json, line 4"
    stored, found = folder.read_all()
    assert [each.key for each in stored] == [good.key]
    assert found[0].where == f"{bad.key}.json, line 4"
    assert found[0].severity == "warning"


@pytest.mark.parametrize("cut", [0, 1, 40])
def test_a_cut_file_is_named(folder, cut):
    stored, _ = folder.add({"kind": "remark", "name": "x" * 40}, {})
    path = folder.path / f"{stored.key}.json"
    path.write_bytes(path.read_bytes()[:cut])
    with pytest.raises(RecordError):
        folder.read(stored.key)


def test_bytes_that_are_no_text_are_named(folder):
    stored, _ = folder.add({"kind": "remark"}, {})
    (folder.path / f"{stored.key}.json").write_bytes(b'{"a": "\xff\xfe"}')
    with pytest.raises(RecordError, match="is not UTF-8 text"):
        folder.read(stored.key)


@pytest.mark.parametrize(
    ("schema", "words"),
    [
        ("negcurve/record/99", "does not know"),
        ("negcurve/solution/1", "not negcurve/record/1"),
        ("", "not negcurve/record/1"),
    ],
)
def test_newer_and_other_schemas_are_refused_by_name(folder, schema, words):
    stored, _ = folder.add({"kind": "remark"}, {})
    path = folder.path / f"{stored.key}.json"
    path.write_text(json.dumps({**stored.document, "schema": schema}))
    with pytest.raises(FileError, match=words):
        folder.read(stored.key)
    assert folder.read_all()[1]


def test_a_changed_part_is_refused(folder):
    stored, _ = folder.add({"kind": "remark"}, {"p.csv": writer(b"one")})
    path = folder.path / f"{stored.key}.p.csv"
    path.write_bytes(b"two")
    with pytest.raises(RecordError, match="its checksum differs"):
        folder.part(stored, "p.csv")
    path.unlink()
    with pytest.raises(RecordError, match="is missing"):
        folder.part(stored, "p.csv")


def test_leftovers_of_a_stopped_run_are_removed_and_named(folder):
    (folder.path / ".negcurve-dead.part").write_bytes(b"half")
    _, found = folder.add({"kind": "remark"}, {})
    assert ".negcurve-dead.part" in found[0].where
    assert not (folder.path / ".negcurve-dead.part").exists()


def test_a_part_that_cannot_be_written_leaves_no_entry(folder):
    def fail(path):
        raise FileError("does not fit: the disk is full", where=str(path))

    with pytest.raises(FileError):
        folder.add({"kind": "remark"}, {"p": fail})
    assert folder.keys() == []
