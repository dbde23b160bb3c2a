import re
from datetime import UTC, datetime, timedelta
from html.parser import HTMLParser

import numpy as np
import pytest

from negcurve.report.page import Page
from negcurve.report.sections import Story, report_html
from negcurve.report.thumbnail import thumbnail
from negcurve.response.checking import check
from negcurve.response.solving import solve
from negcurve.values import Finding
from negcurve.watch.deviation import assumed_curve, split_deviation
from negcurve.watch.even_sheet import sheet_from_readings
from negcurve.watch.evenness import study
from negcurve.watch.judgement import judge
from tests.report.samples import placed_readings
from tests.watch.samples import made_strip

VOID = {"meta", "img", "br", "hr", "link", "input"}


class Tree(HTMLParser):
    """Collects tags and attributes, and complains about what does not nest."""

    def __init__(self):
        super().__init__()
        self.open, self.tags, self.text = [], [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text.append(data)

    def all(self, tag):
        return [attrs for name, attrs in self.tags if name == tag]


def tree_of(html):
    tree = Tree()
    tree.feed(html)
    assert tree.open == []
    return tree


def full_story():
    readings = placed_readings()
    solution = solve([readings], notes={"exposure": "6 min", "paper": "matt <cotton>"})
    curve = assumed_curve(solution.ends.d_min, solution.ends.d_max)
    strips = [made_strip(solution, seed=k) for k in range(12)]
    deviations = [
        split_deviation(
            solution.response.density(each.negative_level), each.density, curve
        )
        for each in strips
    ]
    start = datetime(2026, 1, 1, tzinfo=UTC)
    grey = np.linspace(0, 1, 400 * 300, dtype=np.float32).reshape(400, 300, 1)
    picture = thumbnail(grey, caption="target: t.tif", text="The target.")
    return Story(
        name="Spring & <matt>",
        solution=solution,
        checks=(check([placed_readings(seed=5, sheet="second")], solution),),
        pictures=(picture, picture),
        before_after=(picture, picture),
        evenness=study([sheet_from_readings(readings, solution)]),
        judgement=judge(deviations),
        times=tuple(start + timedelta(days=k) for k in range(12)),
        circumstances={"sensitizer": "palladium"},
        remarks="Dried overnight.",
    )


@pytest.fixture(scope="module")
def html():
    return report_html(full_story())


@pytest.fixture(scope="module")
def tree(html):
    return tree_of(html)


def test_the_page_nests_and_tells_every_part(tree):
    text = "".join(tree.text)
    for heading in (
        "Target and scan",
        "Readings",
        "Response, aim and table",
        "Check: print second",
        "Before and after",
        "Evenness",
        "History: strips of later sessions",
        "Circumstances",
        "Cautions",
        "How to repeat it",
    ):
        assert heading in text
    assert "Spring & <matt>" in text
    assert "matt <cotton>" in text
    assert "Dried overnight." in text
    assert "negcurve solve" in text


def test_nothing_is_fetched_and_nothing_runs(html, tree):
    assert not tree.all("script")
    assert not tree.all("link")
    for name, attrs in tree.tags:
        for key, value in attrs.items():
            assert not key.startswith("on"), name
            if key in ("src", "href", "xlink:href"):
                assert value.startswith(("data:image/", "#")), value
    outside = set(re.findall(r"https?://[^\s\"'<>)]+", html))
    assert all(each.startswith("http://www.w3.org/") for each in outside)
    assert "@import" not in html
    assert re.findall(r"url\(([^)]{1,2})", html) == [] or all(
        each.startswith("#") for each in re.findall(r"url\(([^)]+)\)", html)
    )


def test_ids_are_unique_and_references_lead_somewhere(html):
    ids = re.findall(r'\bid="([^"]+)"', html)
    assert len(ids) == len(set(ids))
    used = re.findall(r'(?:url\(#|href="#)([^)"]+)', html)
    assert set(used) <= set(ids)
    for names in re.findall(r'aria-labelledby="([^"]+)"', html):
        assert set(names.split()) <= set(ids)


def test_every_picture_says_what_it_shows(tree):
    images = tree.all("img")
    assert len(images) == 4
    assert all(each["alt"] and each["width"] and each["height"] for each in images)
    drawings = [each for each in tree.all("svg") if each.get("role") == "img"]
    assert len(drawings) == 4
    assert len(tree.all("desc")) >= 4


def test_a_screen_reader_finds_its_way(tree):
    assert tree.all("html")[0]["lang"] == "en"
    assert len(tree.all("h1")) == 1
    assert len(tree.all("main")) == 1
    assert all("scope" in each for each in tree.all("th"))
    assert len(tree.all("caption")) == len(tree.all("table"))


def test_the_page_is_small_and_always_the_same(html):
    assert len(html.encode()) < 500_000
    assert report_html(full_story()) == html


def test_dark_mode_and_paper_are_thought_of(html):
    assert "prefers-color-scheme: dark" in html
    assert "@media print" in html
    assert "var(--ink, #222222)" in html


def test_cautions_of_light_and_of_what_is_named_are_shown(tree):
    text = "".join(tree.text)
    assert "UV light" in text
    assert "palladium salts" in text
    assert "safety data sheet" in " ".join(text.split())


def test_markup_in_what_the_user_wrote_stays_text():
    page = Page(title="<script>x</script>", lead="a & b")
    page.findings([Finding(severity="warning", where="<b>", what="<i>", fix='"q"')])
    page.table(("<u>",), [("<s>",)], caption="<em>")
    tree = tree_of(page.html())
    assert not {name for name, _ in tree.tags} & {"script", "b", "i", "u", "s", "em"}


def test_a_bare_solution_also_makes_a_page():
    html = report_html(Story(name="bare", solution=solve([placed_readings()])))
    assert "nothing was noted about exposure, paper or chemistry" in html
    tree_of(html)


def test_thumbnails_are_small():
    wide = thumbnail(np.ones((100, 2000, 3), np.float32), caption="c", text="t")
    assert (wide.width, wide.height) == (420, 21)
    assert wide.content[:2] == b"\xff\xd8"
