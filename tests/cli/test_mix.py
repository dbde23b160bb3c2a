import json
import sys
from pathlib import Path

import pytest
from numpy.testing import assert_allclose

from negcurve.cli import main


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):
    def run(*words: str) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["negcurve", "mix", *words])
        with pytest.raises(SystemExit) as stopped:
            main()
        out, err = capsys.readouterr()
        return int(stopped.value.code or 0), out, err

    return run


def test_bottles_and_cautions(run) -> None:
    code, out, err = run("8x10in", "--border", "0in")
    assert code == 0
    assert out.startswith("Coating for 8x10in, palladium, developed out\n")
    assert "ferric oxalate  21" in out
    assert "[unverified]" in out
    assert "palladium salts" in out
    assert "20 drops per ml is a convention" in err


def test_json(run) -> None:
    code, out, _ = run(
        *("8x10in", "--platinum", "0.5", "--drops-per-ml", "25", "--json"),
        *("--process", "platinum-palladium", "--form", "ferric oxalate=hexahydrate"),
    )
    assert code == 0
    document = json.loads(out)
    assert document["schema"] == "negcurve/mix/1"
    names = [each["name"] for each in document["result"]["bottles"]]
    assert names == ["ferric oxalate", "platinum", "palladium"]
    drops = [each["drops"] for each in document["result"]["bottles"]]
    assert_allclose(drops[1] + drops[2], drops[0], atol=1)


def test_a_page(run, tmp_path: Path) -> None:
    page = tmp_path / "mix.html"
    assert run("8x10in", "--page", str(page))[0] == 0
    assert "ferric oxalate" in page.read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("words", "code", "message"),
    [
        (("8 by 10",), 2, "is not a sheet size"),
        (("8x10in", "--waste", "-5"), 2, "-5 % lies outside 0..100 %"),
        (("8x10in", "--strength", "palladium"), 2, "is not a name with one value"),
        (("8x10in", "--price", "palladium=much"), 2, "'much' is no number"),
        (
            (
                *("8x10in", "--process", "new-cyanotype"),
                *("--agent", "chlorate", "--agent-drops", "1"),
            ),
            2,
            "may ignite by itself",
        ),
    ],
)
def test_mistakes_are_sentences(run, words, code: int, message: str) -> None:
    found, out, err = run(*words)
    assert (found, out) == (code, "")
    assert message in err
    assert "Traceback" not in err
