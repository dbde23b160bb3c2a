import json
import sys
from pathlib import Path

import pytest
from numpy.testing import assert_allclose

from negcurve.cli import main


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):
    def run(*words: str) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["negcurve", "bath", *words])
        with pytest.raises(SystemExit) as stopped:
            main()
        out, err = capsys.readouterr()
        return int(stopped.value.code or 0), out, err

    return run


def test_a_bench_card(run, tmp_path: Path) -> None:
    page = tmp_path / "card.html"
    code, out, err = run("palladium", "--at", "4=45C", "--page", str(page))
    assert (code, err) == (0, "")
    assert out.startswith("Bench card: palladium, developed out\n")
    assert "45 C" in out
    assert "[unverified]" in out
    assert "safety data sheet" in out
    assert "potassium oxalate 30 %" in page.read_text(encoding="utf-8")


def test_json(run) -> None:
    code, out, _ = run(
        *("--weigh", "silver nitrate", "--strength", "10", "--volume", "250ml"),
        *("--purity", "98", "--json"),
    )
    assert code == 0
    document = json.loads(out)
    assert document["schema"] == "negcurve/bath/1"
    assert_allclose(document["result"]["weighing"]["mass_g"], 25 / 0.98)
    subjects = [each["subject"] for each in document["result"]["cautions"]]
    assert subjects == ["silver nitrate"]


@pytest.mark.parametrize(
    ("words", "code", "message"),
    [
        ((), 2, "bath: nothing to work out"),
        (("palladium", "--at", "4=70C"), 2, "develop: 70 C lies outside 20 to 60 C"),
        (("palladium", "--at", "4"), 2, "is not a name with one value"),
        (
            ("--weigh", "ferric oxalate", "--strength", "27", "--volume", "100"),
            2,
            "which form?",
        ),
        (
            ("--weigh", "silver nitrate", "--strength", "127", "--volume", "100"),
            2,
            "127 % lies outside 0..100 %",
        ),
        (
            (
                *("--solution", "potassium ferricyanide:10:1"),
                *("--solution", "hydrochloric acid:5:1"),
            ),
            2,
            "frees hydrogen cyanide",
        ),
        (("--steps", "gone.csv"), 3, "gone.csv: does not exist"),
    ],
)
def test_mistakes_are_sentences(run, words, code: int, message: str) -> None:
    found, out, err = run(*words)
    assert (found, out) == (code, "")
    assert message in err
    assert "Traceback" not in err
