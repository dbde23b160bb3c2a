"""The page in a real browser: nothing fetched, no complaint, nothing wider than it."""

import json
import re
import shutil
import subprocess

import numpy as np
import pytest
from PIL import Image

from negcurve.report.sections import Story, report_html
from negcurve.response.solving import solve
from tests.report.samples import placed_readings

BROWSER = next(
    (
        found
        for name in ("chromium", "chromium-browser", "google-chrome")
        if (found := shutil.which(name))
    ),
    None,
)

pytestmark = [
    pytest.mark.skipif(BROWSER is None, reason="no chromium is installed here"),
    pytest.mark.slow,
]

QUIET = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--hide-scrollbars",
]


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("page")
    solution = solve([placed_readings()], notes={"exposure": "6 min"})
    page = folder / "page.html"
    page.write_text(
        report_html(Story(name="Page", solution=solution)), encoding="utf-8"
    )
    return folder


def browse(folder, *options):
    data = folder / f"profile-{len(list(folder.glob('profile-*')))}"
    return subprocess.run(
        [
            BROWSER,
            *QUIET,
            f"--user-data-dir={data}",
            *options,
            (folder / "page.html").as_uri(),
        ],
        capture_output=True,
        text=True,
        timeout=180,
        check=True,
    )


def addresses(log):
    """Every address outside that a page asked for, from the browser's own record.

    What the browser asks for itself (updates, the time) has no page as its initiator.
    """
    events = json.loads(log.read_text(encoding="utf-8"))["events"]
    asked = [event.get("params", {}) for event in events]
    return {
        each["url"]
        for each in asked
        if each.get("initiator", "not an origin") != "not an origin"
        and not each["url"].startswith(("file:", "data:"))
    }


def test_the_page_shows_without_a_request_or_a_complaint(folder):
    shot, log = folder / "shot.png", folder / "net.json"
    said = browse(
        folder,
        "--enable-logging=stderr",
        f"--log-net-log={log}",
        "--window-size=900,3000",
        f"--screenshot={shot}",
    ).stderr
    assert "CONSOLE" not in said
    assert addresses(log) == set()
    with Image.open(shot) as image:
        codes = np.asarray(image.convert("RGB"), dtype=int)
    assert codes.shape == (3000, 900, 3)
    assert (codes[:40].mean(axis=(0, 1)) > 200).all()
    blue = (codes[:, :, 2] - codes[:, :, 0]) > 100
    assert blue.sum() > 500  # the response's points and the table's line


def test_a_request_and_a_complaint_would_be_seen(folder, tmp_path):
    html = (folder / "page.html").read_text(encoding="utf-8")
    picture = '<main><img src="http://127.0.0.1:9/x.png" alt="">'
    bad = re.sub(r"<meta http-equiv[^>]*>", "", html).replace("<main>", picture)
    (tmp_path / "page.html").write_text(bad, encoding="utf-8")
    log, shot = tmp_path / "net.json", tmp_path / "s.png"
    browse(tmp_path, f"--log-net-log={log}", f"--screenshot={shot}")
    assert addresses(log) == {"http://127.0.0.1:9/x.png"}
    refused = html.replace("<main>", picture)
    (tmp_path / "page.html").write_text(refused, encoding="utf-8")
    said = browse(tmp_path, "--enable-logging=stderr", f"--screenshot={shot}").stderr
    assert "CONSOLE" in said


def test_in_dark_mode_the_page_is_dark_and_its_plots_readable(folder):
    shot = folder / "dark.png"
    browse(
        folder,
        "--blink-settings=preferredColorScheme=0",
        "--window-size=900,1600",
        f"--screenshot={shot}",
    )
    with Image.open(shot) as image:
        codes = np.asarray(image.convert("L"), dtype=int)
    assert np.median(codes) < 50
    assert (codes > 180).mean() < 0.2
    assert (codes > 180).sum() > 2000


def test_it_prints_on_a_few_pages_and_fits_a_phone(folder):
    pdf = folder / "page.pdf"
    browse(folder, f"--print-to-pdf={pdf}", "--no-pdf-header-footer")
    content = pdf.read_bytes()
    assert content.startswith(b"%PDF")
    pages = content.count(b"/Type /Page\n") + content.count(b"/Type /Page ")
    assert 2 <= pages <= 8
    shot = folder / "phone.png"
    browse(folder, "--window-size=400,1600", f"--screenshot={shot}")
    with Image.open(shot) as image:
        codes = np.asarray(image.convert("L"), dtype=int)
    # Figures end inside the window: the last columns are bare page beside them.
    assert codes[:, -6:].min() > 200
