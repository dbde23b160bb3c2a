"""The step that a film's base leaves at its edge, drawn with a known paper."""

import numpy as np
import pytest

from negcurve.reading.film_edge import (
    FilmEdge,
    base_density,
    base_findings,
    film_edge,
    film_edge_findings,
)
from negcurve.reading.margins import Margin
from negcurve.reading.scan import read_target
from tests.reading.prints import ArraySource, GammaEncoding, scan_of

OUTWARDS = np.arange(-8.0, 20.0, 0.2)
LIMIT = 0.2
SCAN = ArraySource(np.zeros((2, 2, 1), np.uint8))


def print_density(log_exposure):
    """A paper of gradient 1 below its D-max of 1.5, bent over 0.15."""
    return 1.5 - 0.15 * np.log(1 + np.exp(-np.asarray(log_exposure) / 0.15))


def sides(*, base=0.1, exposure=0.0, coated=8.0, slope=0.0, seed=1):
    """Four sides on which the film ends at 0 and the coating at `coated` mm."""
    rng = np.random.default_rng(seed)
    found = []
    for rays in (60, 80, 60, 80):
        light = exposure - base * (OUTWARDS < 0) + slope * OUTWARDS
        streaks = np.repeat(rng.normal(0, 0.01, rays // 5), 5)
        density = print_density(light + streaks[:, None])
        density = density + rng.normal(0, 0.01, density.shape)
        density[:, coated < OUTWARDS] = 0.06
        light = 10**-density
        found.append(Margin(light=light, level=light, outwards_mm=OUTWARDS))
    return found


@pytest.mark.parametrize("base", [0.05, 0.1, 0.2])
def test_the_step_at_the_edge_is_the_papers(base):
    edge = film_edge(sides(base=base), limit=LIMIT)
    true = print_density(0.0) - print_density(-base)
    assert edge.step == pytest.approx(true, abs=0.004)
    assert edge.beside == pytest.approx(float(print_density(0.0)), abs=0.005)
    (found,) = film_edge_findings(edge, SCAN)
    assert found.severity == "note"
    assert "the film's base holds light back" in found.what


@pytest.mark.parametrize(
    "options",
    [
        {"base": 0.0},
        {"exposure": 1.2},
        {"coated": -3.0},
        {"coated": 2.5},
        {"base": 0.0, "slope": 0.01},
        {"base": -0.1},
    ],
)
def test_nothing_is_said_without_a_step(options):
    """No base, D-max on both sides, no coating there, a slope of the lamp."""
    for seed in range(5):
        assert film_edge(sides(seed=seed, **options), limit=LIMIT) is None


@pytest.mark.parametrize("base", [0.06, 0.1, 0.15])
def test_a_tablet_on_the_sheet_gives_the_bases_density(base):
    edge = film_edge(sides(base=base), limit=LIMIT)
    tablet = 0.05 + 0.1 * np.arange(21)
    read = print_density(-base - tablet)
    found = base_density(edge, tablet, read)
    assert found == pytest.approx(base, rel=0.2)
    (said,) = base_findings(edge, tablet, read, SCAN)
    # 1 - 10^-0.1 is 0.21, 1 - 10^-0.3 is 0.50: transmittance, ISO 5-1.
    lost = round(100 * (1 - 10**-found))
    assert f"{found:.2f} in log exposure" in said.what
    assert f"{lost}% of the exposure time" in said.what


def test_on_the_shoulder_the_base_is_not_known():
    edge = FilmEdge(beside=1.5, under=1.48)
    tablet = 0.05 + 0.1 * np.arange(21)
    assert base_density(edge, tablet, print_density(0.8 - tablet)) is None
    assert base_density(edge, tablet[8:], print_density(-tablet[8:])) is None
    assert base_findings(edge, tablet, print_density(0.8 - tablet), SCAN) == []
    assert base_findings(None, tablet, print_density(-tablet), SCAN) == []


@pytest.mark.parametrize("beside", [0.0, 0.05])
def test_a_scan_of_a_print_coated_beyond_its_film(layout, beside):
    source, _ = scan_of(
        layout,
        ppi=150,
        grain=0.02,
        noise=0.002,
        beside=beside,
        glass_mm=(170, 145),
        tilt_degrees=2.0,
    )
    read = read_target(source, GammaEncoding(1.0), [layout])
    if not beside:
        assert read.film_edge is None
        return
    assert read.film_edge.step == pytest.approx(beside, abs=0.005)
    (said,) = [each for each in read.readings.findings if "base" in each.what]
    assert said.what == (
        "coating beside the film reads D 1.45, under clear film 1.40: the film's base "
        "holds light back"
    )
