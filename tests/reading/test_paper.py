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
    ("taped", "severity", "what"),
    [
        (0.07, "note", "reads D 0.07, the lightest patch is 0.01 above it"),
        (0.03, "warning", "reads D 0.03, the lightest patch is 0.05 above it"),
        (0.09, "note", "reads D 0.09, the lightest patch is no darker"),
    ],
)
def test_a_taped_white_is_compared_with_the_lightest_patch(taped, severity, what):
    ((found, text),) = said(taped)
    assert found == severity
    assert text == f"the taped box {what}"


@pytest.mark.parametrize(
    ("taped", "paper", "severity", "what"),
    [
        (0.07, 0.05, "note", ""),
        (0.07, 0.02, "warning", ", coated paper under the tape is 0.05 above it"),
        (None, 0.04, "note", ""),
        (None, 0.01, "warning", ", the lightest patch is 0.07 above it"),
    ],
)
def test_bare_paper_is_compared_with_coated_paper(taped, paper, severity, what):
    found, text = said(taped, paper)[-1]
    assert found == severity
    assert text == f"bare paper beside the coating reads D {paper:.2f}{what}"


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
    assert str(found) == "note: scan.tif: bare paper beside the coating reads D 0.06"
