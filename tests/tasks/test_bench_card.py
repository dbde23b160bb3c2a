"""Cards for terminal and page, the figure on them, and lists as typed."""

import re

import numpy as np
import pytest

from negcurve.darkroom.cautions import DEFER, cautions_for
from negcurve.darkroom.curve_fitting import fit_curve
from negcurve.darkroom.tablet import nominal_tablet
from negcurve.errors import InvalidValueError
from negcurve.tasks.bench_card import UNVERIFIED, UNVERIFIED_NOTE, WIDTH, Card, Section
from negcurve.tasks.curve_figure import HEIGHT, curve_figure
from negcurve.tasks.curve_figure import WIDTH as FIGURE_WIDTH
from negcurve.tasks.typed import named_numbers, named_texts, pair, typed_numbers
from tests.darkroom.strips import printed

LONG = "A sentence that is much longer than a terminal is wide, " * 3


def card(*rows: tuple[str, ...], **more) -> Card:
    section = Section(
        heading="Table", lines=(LONG,), columns=("what", "how much"), rows=rows
    )
    return Card(title="A card", sections=(section,), **more)


def test_text_keeps_to_its_width_and_lines_columns_up() -> None:
    text = card(("first", LONG), ("second one", "2")).text()
    assert max(len(line) for line in text.splitlines()) <= WIDTH
    lines = text.splitlines()
    header = next(line for line in lines if "how much" in line)
    first = next(line for line in lines if line.startswith("  first"))
    assert header.index("how much") == first.index("A sentence")
    assert all(line == line.rstrip() for line in lines)


def test_the_mark_brings_its_note_once() -> None:
    assert UNVERIFIED_NOTE not in card(("a", "1")).text()
    text = " ".join(
        card(("a", f"1 {UNVERIFIED}"), ("b", f"2 {UNVERIFIED}")).text().split()
    )
    assert text.count(UNVERIFIED_NOTE) == 1


def test_cautions_stand_last_and_defer() -> None:
    found = card(("a", "1"), cautions=cautions_for(["silver nitrate"])).text()
    plain = " ".join(found.split())
    assert plain.endswith(" ".join(DEFER.split()))
    assert plain.index("Cautions") > plain.index("how much")


def test_details_come_when_wanted_and_on_the_page() -> None:
    section = Section(heading="Fine print", lines=("small",), detail=True)
    both = Card(title="A card", sections=(section,))
    assert "Fine print" not in both.text()
    assert "Fine print" in both.text(full=True)
    assert "Fine print" in both.page()


def test_the_page_is_whole_and_escaped() -> None:
    page = card(("<b>", "1 & 2")).page()
    assert "<td>&lt;b&gt;</td><td>1 &amp; 2</td>" in page
    assert page.count("<section>") == page.count("</section>") == 1
    assert not re.search(r"(src|href)=", page)  # nothing is loaded from elsewhere


def test_the_figure_stays_in_its_frame() -> None:
    x = -nominal_tablet("31").density
    svg = curve_figure(fit_curve(x, printed(x, noise=0.02)))
    pairs = [
        tuple(map(float, each.split(",")))
        for points in re.findall(r'points="([^"]+)"', svg)
        for each in points.split()
    ]
    pairs += [
        (float(a), float(b))
        for a, b in re.findall(r'cx="([\d.-]+)" cy="([\d.-]+)"', svg)
    ]
    across, down = np.array(pairs).T
    assert len(pairs) == 121 + 2 * 121 + 31
    assert across.min() >= 0
    assert across.max() <= FIGURE_WIDTH
    assert down.min() >= 0
    assert down.max() <= HEIGHT


def test_lists_as_typed() -> None:
    assert typed_numbers("1.4 1,3; 1.2", where="x") == (1.4, 1.0, 3.0, 1.2)
    assert typed_numbers("1.4, 1.3\n1.2", where="x") == (1.4, 1.3, 1.2)
    assert typed_numbers(None, where="x") == ()
    assert pair("0.1,1.7", where="x") == (0.1, 1.7)
    assert pair(None, where="x") is None
    assert named_texts(["a = b c", "d=e"], where="x") == {"a": "b c", "d": "e"}
    assert named_numbers(["iron=27%"], where="x") == {"iron": 27.0}


@pytest.mark.parametrize("parts", [["a"], ["=1"], ["a="], ["a=1", "a=2"]])
def test_pairs_that_are_none(parts: list[str]) -> None:
    with pytest.raises(InvalidValueError, match="is not a name with one value"):
        named_texts(parts, where="--strength")
