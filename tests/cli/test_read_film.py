"""`negcurve read --film` as a user types it."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from negcurve.cli import app
from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.files.layout_json import write_layout
from negcurve.files.tiff import GreyTiffWriter
from negcurve.target.edge_strip import StripDesign, compose_strip
from tests.reading.films import film_of


@pytest.fixture
def film(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    layout = compose_strip(StripDesign(resolution_ppi=300))
    source, _ = film_of(layout, ppi=300.0, mirrored=True, grain=0.03, scan_gamma=2.2)
    with GreyTiffWriter(
        "film.tif",
        width=source.width,
        height=source.height,
        resolution_ppi=300,
        description="a scan",
    ) as writer:
        writer.write(source.codes[..., 0])
    write_layout(layout, "neg.layout.json")
    return layout


def run(*words):
    result = CliRunner().invoke(app, ["read", *words])
    if result.exception and not isinstance(result.exception, SystemExit):
        raise result.exception
    return result.stdout


def test_verdict_in_words(film):
    text = run("film.tif", "--film", "--ink-side", "down", "--gamma", "2.2")
    assert f"film with strip {film.identity_text}" in text
    assert "lettering reads backwards with the ink side down: as it must" in text
    assert text.rstrip().endswith("verdict: print with it")


def test_json_and_csv(film):
    words = ("film.tif", "--film", "--ink-side", "up", "-o", "f.csv", "--json")
    said = json.loads(run(*words, "--gamma", "2.2"))
    assert said["schema"] == "negcurve/film-scan/1"
    assert said["result"]["right_side"] is False
    assert said["result"]["verdict"] == "do not print with it"
    lines = Path("f.csv").read_text(encoding="utf-8").splitlines()
    assert lines[1].startswith("patch,negative_level,film_density")
    assert len(lines) == 16


def test_an_untagged_scan_of_16_bits_is_asked_about(film):
    words = ("film.tif", "--film", "--ink-side", "down", "-o", "f.csv")
    with pytest.raises(ReadingsError, match=r"16 bits and no profile") as caught:
        run(*words)
    assert "Give --gamma 1.0 for a linear (raw) scan" in caught.value.fix
    assert not Path("f.csv").exists()


@pytest.mark.parametrize(
    ("words", "what"),
    [
        (("film.tif", "--film"), "how the film lay"),
        (("film.tif", "a.tif", "--film", "--ink-side", "up"), "2 files were named"),
        (("film.tif",), "the readings need a file"),
    ],
)
def test_what_is_lacking_is_said(film, words, what):
    with pytest.raises(InvalidValueError, match=what):
        run(*words)
