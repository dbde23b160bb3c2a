import json
import sys
from pathlib import Path

import pytest

from negcurve.cli import main
from negcurve.files.layout_json import read_layout

SMALL = ["--sheet", "4x5in", "--levels", "21", "--ppi", "100"]


def run(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], *words: str
) -> tuple[int, str, str]:
    monkeypatch.setattr(sys, "argv", ["negcurve", "target", *words])
    with pytest.raises(SystemExit) as stopped:
        main()
    out, err = capsys.readouterr()
    return int(stopped.value.code or 0), out, err


def test_account(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(tmp_path)
    code, out, err = run(monkeypatch, capsys, "t.tif", *SMALL, "--preview", "p.png")
    layout = read_layout("t.tif")
    assert (code, err) == (0, "")
    assert out.splitlines()[:2] == [
        "t.tif: 400 x 500 pixels, 16-bit grey, mirrored",
        "prints 101.6 x 127.0 mm (4.00 x 5.00 in) at 100 ppi: set the driver to "
        "100 %, no scaling",
    ]
    assert f"target {layout.identity_text}: 21 levels x 2, patches of " in out
    assert "t.layout.json: keep it, the print is read with it" in out
    assert "ink side on the coating: there the caption reads backwards." in out
    assert "safety data sheets" in out
    assert "step tablet" not in out
    assert {each.name for each in tmp_path.iterdir()} == {
        "t.tif",
        "t.layout.json",
        "p.png",
    }


def test_json(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    path = tmp_path / "t.tif"
    code, out, _ = run(
        monkeypatch, capsys, str(path), *SMALL, "--not-mirrored", "--json"
    )
    assert code == 0
    document = json.loads(out)
    assert document["schema"] == "negcurve/target/1"
    assert document["findings"] == []
    result = document["result"]
    assert result["identity"] == read_layout(path).identity_text
    assert result["patches"] == 42
    assert result["mirrored"] is False
    assert result["printer_path"]["ppi"] == "100"
    assert max(abs(each) for each in result["correlations"].values()) <= 0.1


def test_too_small_a_sheet(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    code, out, err = run(
        monkeypatch, capsys, str(tmp_path / "t.tif"), "--sheet", "4x5in", "--levels=99"
    )
    assert (code, out) == (2, "")
    assert err == (
        "negcurve: sheet 4x5in: 99 levels x 2 do not fit in patches of 5 mm or more; "
        "55 levels would\n"
        "Use --levels 55, fewer repeats or a larger sheet.\n"
    )


def test_existing_file(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    path = tmp_path / "t.tif"
    path.write_text("mine")
    code, _, err = run(monkeypatch, capsys, str(path), *SMALL)
    assert code == 3
    assert f"{path}: exists already" in err
    code, _, _ = run(monkeypatch, capsys, str(path), *SMALL, "--overwrite", "-q")
    assert code == 0


def test_warning_on_stderr_even_when_quiet(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    words = [str(tmp_path / "t.tif"), "--sheet=4x5in", "--levels=3", "--repeats=1"]
    code, _, err = run(monkeypatch, capsys, *words, "--ppi=100", "-q")
    assert code == 0
    assert err.startswith("warning: target: level goes along with ")


def test_help_begins_with_examples(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, _ = run(monkeypatch, capsys, "--help")
    assert code == 0
    assert out.index("Examples:") < out.index("--sheet")
    assert "negcurve target target.tif --sheet A4" in out
