"""Sheets on a glass, drawn as areas of light: ground, paper, lid, what lies there."""

from dataclasses import dataclass

import numpy as np
import pytest

from negcurve.encoding import LINEAR_GREY
from negcurve.reading.bare_paper import bare_paper, white_limit
from negcurve.reading.geometry import Geometry
from negcurve.reading.margins import margins
from negcurve.reading.reduced import Reduced
from tests.reading.prints import small_layout

LAYOUT = small_layout()
PX_PER_MM = 5.0
GROUND, LIGHTEST = 1.4, 0.09


@dataclass
class Sheet:
    """How far coating and paper reach beyond the film, what lies there; mm and D."""

    coated: float = 6.0
    brushed: bool = True
    paper_beyond: float | None = 20.0
    paper: float = 0.06
    lid: float = 0.3
    glass: float = 40.0
    frame: float | None = None
    wedge: bool = False
    tilt_degrees: float = 1.5
    noise: float = 0.004


def seen(sheet, *, lightest=LIGHTEST):
    """What is read beside the coating of a sheet."""
    width, height = LAYOUT.width_mm, LAYOUT.height_mm
    size = [round((each + 2 * sheet.glass) * PX_PER_MM) for each in (height, width)]
    v, u = (np.indices(size) + 0.5) / PX_PER_MM
    turn = np.radians(sheet.tilt_degrees)
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    middle = np.array([width, height]) / 2
    centre = middle + sheet.glass
    x, y = np.tensordot(rotation.T, np.stack([u - centre[0], v - centre[1]]), 1)
    x, y = x + middle[0], y + middle[1]
    beyond = np.maximum(np.maximum(-x, x - width), np.maximum(-y, y - height))
    density = np.full(size, sheet.lid)
    if sheet.wedge:
        density[(x > width + 25) & (x < width + 35)] = 0.5
    if sheet.frame is not None:
        inside = np.minimum(np.minimum(u, u.max() - u), np.minimum(v, v.max() - v))
        density[inside < sheet.frame] = 1.2
    if sheet.paper_beyond is not None:
        density[beyond < sheet.paper_beyond] = sheet.paper
    edge = sheet.coated
    if sheet.brushed:
        edge = edge + 0.6 * np.sin(x / 2.3) + 0.7 * np.sin(y / 3.1)
    density[beyond < edge] = GROUND
    light = 10**-density
    light += sheet.noise * np.random.default_rng(1).normal(size=size)
    matrix = np.eye(3)
    matrix[:2, :2] = rotation * PX_PER_MM
    matrix[:2, 2] = PX_PER_MM * (centre - rotation @ middle)
    geometry = Geometry(matrix=matrix, size_mm=(width, height))
    reduced = Reduced(levels=light[:, :, None].astype(np.float32), factor=1)
    sides = margins(reduced, LINEAR_GREY, geometry, LAYOUT)
    limit = white_limit(sides, lightest=lightest)
    if limit is None:
        return None
    found = bare_paper(sides, limit=limit, lightest=lightest)
    return None if found is None else found.density


@pytest.mark.parametrize("lid", [0.0, 0.05, 0.3, 1.5])
@pytest.mark.parametrize("coated", [-3.0, 6.0])
def test_paper_beside_a_brushed_coating(lid, coated):
    read = seen(Sheet(lid=lid, coated=coated))
    assert read == pytest.approx(0.06, abs=0.002)


@pytest.mark.parametrize(("coated", "glass"), [(6.0, 14.0), (2.0, 3.5)])
def test_a_scan_cropped_within_the_paper(coated, glass):
    sheet = Sheet(paper_beyond=90.0, coated=coated, glass=glass)
    assert seen(sheet) == pytest.approx(0.06, abs=0.002)


def test_a_coating_between_tapes_has_straight_edges():
    sheet = Sheet(brushed=False, lid=0.15)
    assert seen(sheet) == pytest.approx(0.06, abs=0.002)


@pytest.mark.parametrize(
    "sheet",
    [
        Sheet(brushed=False, paper_beyond=None, lid=0.03),
        Sheet(brushed=False, paper_beyond=None, lid=0.09),
        Sheet(brushed=False, paper_beyond=None, lid=1.5),
        Sheet(brushed=False, paper_beyond=None, lid=0.05, frame=6.0),
        Sheet(brushed=False, paper_beyond=None, lid=0.05, frame=6.0, tilt_degrees=0),
        Sheet(brushed=False, paper_beyond=90.0, glass=14.0),
        Sheet(coated=60.0),
        Sheet(glass=-9.0),
        Sheet(coated=18.0, paper_beyond=19.0),
    ],
)
def test_nothing_is_said_where_lid_and_paper_cannot_be_told_apart(sheet):
    """Coated to its edge on a light or dark lid, within a frame, or seen too little."""
    assert seen(sheet) is None


def test_paper_is_not_darker_than_coated_paper():
    """A grey lid round a torn edge is no paper."""
    assert seen(Sheet(paper=0.16)) is None
    assert seen(Sheet(paper=0.16), lightest=0.2) == pytest.approx(0.16, abs=0.003)


def test_a_wedge_on_the_lid_does_not_make_the_lid_paper():
    assert seen(Sheet(brushed=False, paper_beyond=None, lid=0.05, wedge=True)) is None


def test_a_print_without_ground_says_nothing():
    assert seen(Sheet(), lightest=1.3) is None
