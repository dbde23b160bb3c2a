import json
import sys
from pathlib import Path

import pytest
from numpy.testing import assert_allclose

from negcurve.cli import main


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):
    def run(*words: str) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["negcurve", "expose", *words])
        with pytest.raises(SystemExit) as stopped:
            main()
        out, err = capsys.readouterr()
        return int(stopped.value.code or 0), out, err

    return run


def test_a_strip(run) -> None:
    code, out, err = run("60s", "--patches", "7")
    assert (code, err) == (0, "")
    rows = [line.split() for line in out.splitlines() if line.startswith("  ")]
    assert ["6", "5", "min", "39", "s", "1", "min", "39", "s", "+2.50", "0.75"] in rows
    assert "UV light" in out
    assert "safety data sheet" in out


def test_a_corrected_time(run) -> None:
    code, out, _ = run("8m", "--lamp", "0.85")
    assert code == 0
    assert "8 min becomes 9 min 25 s (564.7 s)." in out


def test_json(run) -> None:
    code, out, _ = run("8m", "--stops", "-1/3", "--json")
    assert code == 0
    document = json.loads(out)
    assert document["schema"] == "negcurve/expose/1"
    assert_allclose(document["result"]["time_s"], 480 * 2 ** (-1 / 3))
    assert document["result"]["cautions"][0]["subject"] == "UV light"


def test_stops_between_two_times_change_no_time(run) -> None:
    _, out, _ = run("8m", "--to-time", "10m")
    assert "8m to 10m: x 1.25, +0.32 stop" in out
    assert "becomes" not in out


def test_a_page(run, tmp_path: Path) -> None:
    page = tmp_path / "strip.html"
    assert run("60s", "--patches", "5", "--page", str(page))[0] == 0
    assert "<table>" in page.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("words", "code", "message"),
    [
        ((), 2, "expose: nothing to work out"),
        (("8m", "--lamp", "0"), 2, "lamp output: 0 is not above 0"),
        (("8m", "--stops", "2", "--process", "salt"), 4, "prints out"),
        (("8m", "--curve", "gone.csv", "--has", "1", "--wants", "1.1"), 3, "gone.csv"),
    ],
)
def test_mistakes_are_sentences(run, words, code: int, message: str) -> None:
    found, out, err = run(*words)
    assert (found, out) == (code, "")
    assert message in err
    assert "Traceback" not in err
