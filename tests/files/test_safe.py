"""Nothing the user had is lost; nothing incomplete stands under an output's name."""

import errno
import os
import signal
import subprocess
import sys
import textwrap
import time

import pytest

from negcurve.errors import FileError
from negcurve.files import safe


def parts(folder):
    return sorted(each.name for each in folder.iterdir() if each.suffix == ".part")


def test_a_new_file_appears_only_when_done(tmp_path):
    path = tmp_path / "out.txt"
    with safe.new_file(path, overwrite=False) as part:
        part.write_text("done")
        assert not path.exists()
        assert part.parent == tmp_path
    assert path.read_text() == "done"
    assert parts(tmp_path) == []


def test_a_file_that_exists_is_kept(tmp_path):
    path = tmp_path / "out.txt"
    path.write_text("precious")
    with pytest.raises(FileError) as caught, safe.new_file(path, overwrite=False):
        pytest.fail("the block must not run")
    assert str(caught.value) == (
        f"{path}: exists already\nGive another name, or --overwrite to replace it."
    )
    with safe.new_file(path, overwrite=True) as part:
        part.write_text("new")
        assert path.read_text() == "precious"
    assert path.read_text() == "new"


@pytest.mark.parametrize("links", [True, False])
def test_a_name_taken_meanwhile_is_kept(tmp_path, monkeypatch, links):
    if not links:
        forbid_links(monkeypatch)
    path = tmp_path / "out.txt"

    def take_meanwhile():
        with safe.new_file(path, overwrite=False) as part:
            part.write_text("ours")
            path.write_text("somebody else's")

    with pytest.raises(FileError, match="exists already"):
        take_meanwhile()
    assert path.read_text() == "somebody else's"
    assert parts(tmp_path) == []


def forbid_links(monkeypatch):
    def refuse(self, target):
        raise OSError(errno.EPERM, os.strerror(errno.EPERM))

    monkeypatch.setattr(safe.Path, "hardlink_to", refuse)


def test_a_disk_without_links(tmp_path, monkeypatch):
    forbid_links(monkeypatch)
    safe.write_text(tmp_path / "out.txt", "text")
    assert (tmp_path / "out.txt").read_text() == "text"
    assert os.listdir(tmp_path) == ["out.txt"]  # noqa: PTH208  # hidden ones too


@pytest.mark.parametrize("error", [KeyboardInterrupt, RuntimeError, MemoryError])
@pytest.mark.parametrize("existing", [True, False])
def test_after_any_error_all_is_as_before(tmp_path, error, existing):
    path = tmp_path / "out.txt"
    if existing:
        path.write_text("precious")

    def fail():
        with safe.new_file(path, overwrite=True) as part:
            part.write_text("half")
            raise error

    with pytest.raises(error):
        fail()
    assert [each.name for each in tmp_path.iterdir()] == ["out.txt"] * existing
    assert not existing or path.read_text() == "precious"


@pytest.mark.parametrize(
    ("number", "sentence"),
    [
        (errno.ENOSPC, "does not fit: the disk is full"),
        (errno.EROFS, "lies on a disk that is read-only"),
        (errno.EACCES, "is not permitted"),
        (errno.EIO, "failed: "),
    ],
)
def test_what_the_system_refuses_becomes_a_sentence(tmp_path, number, sentence):
    path = tmp_path / "out.txt"

    def fail():
        with safe.new_file(path, overwrite=False):
            raise OSError(number, os.strerror(number))

    with pytest.raises(FileError) as caught:
        fail()
    assert caught.value.what.startswith(sentence)
    assert caught.value.where == str(path)
    assert list(tmp_path.iterdir()) == []


def test_a_full_disk_for_real(tmp_path):
    if not os.path.exists("/dev/full"):  # noqa: PTH110  # a device, not a path of ours
        pytest.skip("needs /dev/full")

    def fill():
        with (
            safe.new_file(tmp_path / "out", overwrite=False),
            open("/dev/full", "wb", buffering=0) as full,  # noqa: PTH123
        ):
            full.write(b"x")

    with pytest.raises(FileError, match="the disk is full"):
        fill()
    assert list(tmp_path.iterdir()) == []


def test_outputs_are_checked_before_the_work(tmp_path):
    existing = tmp_path / "old.tif"
    existing.write_text("old")
    check = safe.check_output
    assert check(tmp_path / "new.tif", overwrite=False) == ()
    assert check(existing, overwrite=True) == ()
    with pytest.raises(FileError, match="exists already"):
        check(existing, overwrite=False)
    with pytest.raises(FileError, match="is a folder"):
        check(tmp_path, overwrite=True)
    with pytest.raises(FileError, match=r"the folder .*none does not exist"):
        check(tmp_path / "none" / "new.tif", overwrite=False)
    with pytest.raises(FileError, match=r"the folder .*old.tif does not exist"):
        check(existing / "new.tif", overwrite=False)
    with pytest.raises(FileError, match=r"needs .* MB, the disk has .* MB free"):
        check(tmp_path / "new.tif", overwrite=False, needed_bytes=10**18)
    with pytest.raises(FileError, match="has too long a name"):
        check(tmp_path / ("x" * 300), overwrite=False)


@pytest.mark.parametrize("name", ["in.tif", "./in.tif", "link.tif"])
def test_an_input_is_never_written_to(tmp_path, name):
    source = tmp_path / "in.tif"
    source.write_text("picture")
    (tmp_path / "link.tif").symlink_to(source)
    with pytest.raises(FileError, match="is an input of this command"):
        safe.check_output(tmp_path / name, overwrite=True, inputs=[source])
    safe.check_output(tmp_path / "out.tif", overwrite=True, inputs=[source, "none"])


def test_two_outputs_of_one_name_are_refused(tmp_path):
    path = tmp_path / "out.tif"
    with pytest.raises(FileError, match="named for two different outputs"):
        safe.check_outputs([path, tmp_path / "b", path], overwrite=True)


def test_a_device_or_dangling_link_is_refused(tmp_path):
    (tmp_path / "dangling").symlink_to(tmp_path / "nothing")
    with pytest.raises(FileError, match="link to a file that does not exist"):
        safe.check_output(tmp_path / "dangling", overwrite=True)
    with pytest.raises(FileError, match="is not an ordinary file"):
        safe.check_output("/dev/null", overwrite=True)


def test_a_link_keeps_its_place(tmp_path):
    (tmp_path / "real.txt").write_text("old")
    (tmp_path / "link.txt").symlink_to(tmp_path / "real.txt")
    safe.write_text(tmp_path / "link.txt", "new", overwrite=True)
    assert (tmp_path / "link.txt").is_symlink()
    assert (tmp_path / "real.txt").read_text() == "new"


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write anywhere"
)
def test_a_read_only_folder_is_refused(tmp_path):
    tmp_path.chmod(0o500)
    try:
        with pytest.raises(FileError, match="cannot be written to"):
            safe.check_output(tmp_path / "out.tif", overwrite=False)
    finally:
        tmp_path.chmod(0o700)


def test_a_folder_that_the_system_calls_read_only(tmp_path, monkeypatch):
    monkeypatch.setattr(safe.os, "access", lambda *_: False)
    with pytest.raises(FileError) as caught:
        safe.check_output(tmp_path / "out.tif", overwrite=False)
    assert caught.value.what == f"the folder {tmp_path} cannot be written to"


def test_permissions_follow_the_umask(tmp_path):
    before = os.umask(0o027)
    try:
        safe.write_text(tmp_path / "out.txt", "text")
    finally:
        os.umask(before)
    assert (tmp_path / "out.txt").stat().st_mode & 0o777 == 0o640


def test_a_killed_run_leaves_a_part_that_the_next_run_removes(tmp_path):
    script = """
        import sys, time
        from negcurve.files.safe import new_file
        with new_file(sys.argv[1], overwrite=False) as part:
            part.write_text("half")
            print("writing", flush=True)
            time.sleep(60)
    """
    path = tmp_path / "out.tif"
    with subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(script), str(path)],
        stdout=subprocess.PIPE,
        text=True,
    ) as running:
        assert running.stdout.readline() == "writing\n"
        in_use = parts(tmp_path)
        assert len(in_use) == 1
        # While the other run is alive its file is left alone.
        assert safe.check_output(path, overwrite=False) == ()
        assert parts(tmp_path) == in_use
        running.send_signal(signal.SIGKILL)
        running.wait()
    assert not path.exists()
    findings = safe.check_output(path, overwrite=False)
    assert [str(each) for each in findings] == [
        f"note: {tmp_path / in_use[0]}: removed, an unfinished file of a run that was "
        "stopped"
    ]
    assert parts(tmp_path) == []


def test_a_system_without_file_locks(tmp_path, monkeypatch):
    monkeypatch.setattr(safe, "fcntl", None)
    (tmp_path / ".negcurve-12ab34cd.part").write_text("left over")
    findings = safe.check_output(tmp_path / "out.txt", overwrite=False)
    assert len(findings) == 1
    safe.write_text(tmp_path / "out.txt", "text")
    assert [each.name for each in tmp_path.iterdir()] == ["out.txt"]


def test_other_files_are_no_leftovers(tmp_path):
    names = [".negcurve-notes.txt", "negcurve-1.part", ".part"]
    for name in names:
        (tmp_path / name).write_text("mine")
    assert safe.check_output(tmp_path / "out.txt", overwrite=False) == ()
    assert sorted(each.name for each in tmp_path.iterdir()) == sorted(names)


def test_an_interrupted_run_leaves_nothing(tmp_path):
    script = """
        import sys, time
        from negcurve.files.safe import new_file
        with new_file(sys.argv[1], overwrite=False) as part:
            part.write_text("half")
            print("writing", flush=True)
            time.sleep(60)
    """
    with subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(script), str(tmp_path / "out.tif")],
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    ) as running:
        assert running.stdout.readline() == "writing\n"
        time.sleep(0.05)
        running.send_signal(signal.SIGINT)
        running.wait()
    assert list(tmp_path.iterdir()) == []


def test_a_part_taken_for_a_leftover_before_it_was_locked_is_made_anew(
    tmp_path, monkeypatch
):
    made = []

    def slow_lock(descriptor, how):
        made.append(descriptor)
        if len(made) == 1:
            for part in tmp_path.glob(".negcurve-*.part"):
                part.unlink()

    monkeypatch.setattr(safe.fcntl, "flock", slow_lock)
    safe.write_text(tmp_path / "a.txt", "whole")
    assert len(made) == 2
    assert (tmp_path / "a.txt").read_text() == "whole"
    assert [each.name for each in tmp_path.iterdir()] == ["a.txt"]


def test_a_part_is_locked_until_it_has_its_name(tmp_path, monkeypatch):
    publish = safe._publish

    def with_a_tidy_run_just_before(part, target, *, overwrite):
        assert safe.remove_leftovers(tmp_path) == ()
        publish(part, target, overwrite=overwrite)

    monkeypatch.setattr(safe, "_publish", with_a_tidy_run_just_before)
    safe.write_text(tmp_path / "a.txt", "whole")
    assert (tmp_path / "a.txt").read_text() == "whole"
