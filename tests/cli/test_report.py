import json

import pytest

from negcurve.files.solution_json import write_solution
from tests.cli.running import runner
from tests.watch.samples import made_solution


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("NEGCURVE_RECORD", raising=False)
    write_solution(made_solution(notes={"exposure": "6 min"}), "t.json")
    return tmp_path


run = runner("report")


def test_help_begins_with_examples():
    text = run("--help").stdout
    assert text.index("Examples") < text.index("Options")
    assert "negcurve report -o page.html --table table.json" in text


def test_a_page_is_written_and_its_size_said(folder):
    result = run("-o", "p.html", "--table", "t.json", "--title", "My paper")
    assert result.exit_code == 0
    assert "wrote p.html, " in result.stdout
    assert "<h1>My paper</h1>" in (folder / "p.html").read_text(encoding="utf-8")


def test_json(folder):
    document = json.loads(run("-o", "p.html", "--table", "t.json", "--json").stdout)
    assert document["schema"] == "negcurve/report/1"
    size = (folder / "p.html").stat().st_size
    assert document["result"]["size_bytes"] == size
