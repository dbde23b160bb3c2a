import json
import sys
from pathlib import Path

import numpy as np
import pytest
import tifffile
from numpy.testing import assert_allclose

from negcurve.cli import main
from negcurve.darkroom.tablet import nominal_tablet
from tests.darkroom.strips import printed

DENSITIES = " ".join(f"{d:.3f}" for d in printed(-nominal_tablet("31").density))


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):
    def run(*words: str) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["negcurve", "tablet", *words])
        with pytest.raises(SystemExit) as stopped:
            main()
        out, err = capsys.readouterr()
        return int(stopped.value.code or 0), out, err

    return run


def test_typed_densities(run) -> None:
    code, out, err = run("--densities", DENSITIES, "--time", "8m", "--film-over")
    assert (code, err) == (0, "")
    assert out.startswith("Step-tablet test, 31x0.10 tablet\n")
    assert "exposure scale" in out
    assert "R 180, class 180" in out
    assert "Black counts from 98 % of the range from D-min to D-max" in out
    assert "safety data sheet" in out
    assert "tablet D" not in out  # the steps come with -v


def test_verbose_adds_the_steps(run) -> None:
    _, out, _ = run("--densities", DENSITIES, "-v")
    assert "tablet D" in out


def test_json(run) -> None:
    code, out, err = run("--densities", DENSITIES, "--time", "8m", "--json")
    assert (code, err) == (0, "")
    document = json.loads(out)
    assert document["schema"] == "negcurve/tablet/1"
    result = document["result"]
    assert_allclose(result["exposure_scale"]["value"], 1.8, atol=5e-3)
    assert result["black_time_s"]["low"] < result["black_time_s"]["value"]
    assert result["film_density"] is None
    assert result["matches"] == []
    assert {each["severity"] for each in document["findings"]} == {"warning"}


def test_quiet_keeps_warnings_and_drops_notes(run) -> None:
    _, _, err = run("--densities", DENSITIES, "--time", "8m", "-q")
    assert "note:" not in err
    assert "warning:" in err


def test_step_numbers_alone(run) -> None:
    code, out, _ = run(
        *("--merged", "3", "--last", "17", "--tablet", "21", "--time", "8m"),
        "--film-over",
    )
    assert code == 0
    assert "2.10 (2.00 to 2.20)" in out
    assert "3 min 34 s by eye, from step 3" in out
    assert "up to one step further, 2 min 32 s." in " ".join(out.split())


def test_a_page(run, tmp_path: Path) -> None:
    page = tmp_path / "test.html"
    assert run("--densities", DENSITIES, "--page", str(page))[0] == 0
    assert "<svg" in page.read_text(encoding="utf-8")
    code, _, err = run("--densities", DENSITIES, "--page", str(page))
    assert code == 3
    assert "--overwrite" in err


@pytest.mark.parametrize(
    ("words", "code", "message"),
    [
        ((), 2, "strip: no strip was given"),
        (("gone.csv",), 3, "gone.csv: does not exist"),
        (("--densities", "1.4 dark"), 2, "--densities: 'dark' is no number"),
        (("--densities", "1.4 1.3"), 4, "2 steps are too few for a curve"),
        (("--densities", DENSITIES, "--drop", "1.5"), 2, "steps are whole numbers"),
        (("--densities", DENSITIES, "--negative", "1.5"), 2, "1 numbers where two"),
        (("--merged", "9", "--last", "3"), 2, "step 3 must be denser than step 9"),
    ],
)
def test_mistakes_are_sentences(run, words, code: int, message: str) -> None:
    found, out, err = run(*words)
    assert found == code
    assert out == ""
    assert message in err
    assert "Traceback" not in err


def test_a_scan(run, tmp_path: Path) -> None:
    picture = np.full((200, 600), 0.06)
    density = printed(-nominal_tablet("31").density)
    picture[60:140, 70:535] = np.repeat(density, 15)
    codes = np.rint(65535 * (10**-picture) ** (1 / 2.2)).astype(np.uint16)
    path = tmp_path / "scan.tif"
    tifffile.imwrite(path, codes, metadata=None)
    code, out, err = run(str(path), "--gamma", "2.2")
    assert code == 0
    assert "R 180, class 180" in out
    assert "strip found at " in err
    code, out, _ = run(str(path), "--gamma", "2.2", "--strip-box", "72,65,465,70")
    assert code == 0
    assert "R 180, class 180" in out
    code, _, err = run(str(path))
    assert code == 4
    assert "16 bits and no profile" in err
    tifffile.imwrite(path, codes[:50], metadata=None)
    code, _, err = run(str(path), "--gamma", "2.2")
    assert code == 4
    assert "no strip of 31 equal steps was found" in err


def test_help_begins_with_examples(run) -> None:
    code, out, _ = run("--help")
    assert code == 0
    assert out.index("negcurve tablet strip.csv") < out.index("--densities")
