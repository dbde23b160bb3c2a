import numpy as np
import pytest

from negcurve.errors import FileError, InvalidValueError
from negcurve.files.png import write_png
from negcurve.files.readings_csv import write_readings
from negcurve.files.solution_json import write_solution
from negcurve.response.solving import solve
from negcurve.tasks.record import AddOptions, add
from negcurve.tasks.report import ReportOptions, report
from tests.report.samples import placed_readings


@pytest.fixture
def table(tmp_path):
    path = tmp_path / "table.json"
    write_solution(solve([placed_readings()], notes={"exposure": "6 min"}), path)
    return path


def test_a_page_of_a_solution_with_check_and_pictures(tmp_path, table):
    second = tmp_path / "second.csv"
    write_readings(placed_readings(seed=4, sheet="second"), second)
    scan = tmp_path / "scan.png"
    write_png(scan, np.full((60, 80), 128, np.uint8), overwrite=False)
    result = report(
        ReportOptions(
            output=tmp_path / "page.html", table=table, checks=[second], scan=scan
        )
    )
    html = (tmp_path / "page.html").read_text(encoding="utf-8")
    assert result.size_bytes == len(html.encode())
    assert result.figures == 4
    assert "Check: print second" in html
    assert "Map of the sheet" in html
    assert "scan: scan.png" in html
    assert str(tmp_path) not in html


def test_a_page_of_a_calibration_in_the_record(tmp_path, table):
    folder = tmp_path / "record"
    add(
        AddOptions(
            folder=folder, table=table, name="Spring", circumstances={"paper": "matt"}
        )
    )
    report(
        ReportOptions(output=tmp_path / "p.html", record="spring", record_dir=folder)
    )
    html = (tmp_path / "p.html").read_text(encoding="utf-8")
    assert "<h1>Spring</h1>" in html
    assert "<td>matt</td>" in html


def test_solution_and_record_are_not_mixed(tmp_path, table):
    for more in ({}, {"table": table, "record": "spring"}):
        with pytest.raises(InvalidValueError, match="name either a table or"):
            report(ReportOptions(output=tmp_path / "p.html", **more))


def test_an_existing_page_stays(tmp_path, table):
    page = tmp_path / "p.html"
    page.write_text("mine")
    with pytest.raises(FileError):
        report(ReportOptions(output=page, table=table))
    assert page.read_text() == "mine"
