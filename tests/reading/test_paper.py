import numpy as np
import pytest

from negcurve.reading.paper import Whites, taped_density, white_findings
from negcurve.reading.scan import read_target
from tests.reading.prints import ArraySource, GammaEncoding, patch_value, scan_of

SCAN = ArraySource(np.zeros((10, 10, 1), dtype=np.uint16), resolution_ppi=(300, 300))


def said(taped=None, paper=None, *, lightest=0.08):
    whites = Whites(lightest=lightest, taped=taped, paper=paper)
    return [(each.severity, each.what) for each in white_findings(whites, SCAN)]


@pytest.mark.parametrize(
    ("taped", "paper", "fault"),
    [
        (0.07, None, ""),
        (0.09, None, ""),
        (0.03, None, ": full ink lets light through, 0.05"),
        (0.07, 0.05, ""),
        (0.07, 0.02, ": stain or fog of 0.05"),
        (0.04, 0.00, ": stain or fog of 0.04 and full ink lets light through, 0.04"),
        (None, 0.04, ""),
        (None, 0.01, ": thin ink, stain or fog of 0.07"),
    ],
)
def test_whites_are_compared(taped, paper, fault):
    ((severity, text),) = said(taped, paper)
    read = "" if paper is None else f"{paper:.2f} on bare paper, "
    read += "" if taped is None else f"{taped:.2f} under the tape, "
    assert text == f"whites read D {read}0.08 in the lightest patch{fault}"
    assert severity == ("warning" if fault else "note")


def test_each_fault_has_its_cure():
    whites = Whites(lightest=0.2, taped=0.1, paper=0.05)
    (found,) = white_findings(whites, SCAN)
    assert found.fix == (
        "Clear and wash longer, or in fresh baths; coat and dry in weaker light. More "
        "ink, or a shorter exposure, would give whiter whites."
    )


def test_nothing_is_said_of_whites_that_were_not_seen():
    assert said() == []


def test_an_untaped_box_printed_dark():
    density = np.linspace(0.08, 1.4, 9)
    assert taped_density(patch_value(reflectance=10**-1.38), density) is None
    taped = taped_density(patch_value(reflectance=10**-0.07), density)
    assert taped == pytest.approx(0.07)


@pytest.mark.parametrize("lid", [0.05, 0.9])
def test_the_paper_round_a_print_is_read(layout, lid):
    """Paper of D 0.06 lies beyond a coating with a wavy edge, then the lid."""
    source, _ = scan_of(
        layout, ppi=150, d_min=0.08, noise=0.003, lid=lid, glass_mm=(190, 165), turn=1
    )
    read = read_target(source, GammaEncoding(1.0), [layout])
    assert read.whites.paper == pytest.approx(0.06, abs=0.003)
    assert read.whites.taped is None
    assert read.film_edge is None
    (found,) = read.readings.findings
    assert str(found) == (
        "note: scan.tif: whites read D 0.06 on bare paper, 0.08 in the lightest patch"
    )
