import dataclasses

import numpy as np
import pytest
from numpy.testing import assert_allclose

from negcurve.density import density_from_reflectance
from negcurve.errors import InvalidValueError
from negcurve.simulation.coating import Coating
from negcurve.simulation.paper import CharacteristicCurve, ImageColour, Paper
from negcurve.simulation.profile import LUMINANCE_WEIGHTS

CURVE = CharacteristicCurve(d_min=0.08, d_max=1.48, gradient=1.0, toe=0.1, shoulder=0.1)
EVEN = Coating(streaks=0.0, clouds=0.0)
PAPER = Paper(name="even", curve=CURVE, bare_density=0.05, coating=EVEN,
              colour=ImageColour(), grain=0.0)  # fmt: skip


def test_curve_runs_between_its_ends_with_its_gradient():
    assert_allclose(CURVE.density([-2.0, 4.0]), [0.08, 1.48], atol=1e-6)
    slope = np.diff(CURVE.density([0.65, 0.75])) / 0.1
    assert_allclose(slope, 1.0, atol=0.005)
    assert (np.diff(CURVE.density(np.linspace(-3, 4, 500))) >= 0).all()


@pytest.mark.parametrize("share", [0.02, 0.5, 0.98])
def test_log_exposure_for_a_share_is_the_inverse(share):
    assert_allclose(CURVE.share(CURVE.log_exposure_for(share)), share, atol=1e-9)


def test_impossible_curve_is_refused():
    with pytest.raises(InvalidValueError, match="d_min: must lie below d_max"):
        dataclasses.replace(CURVE, d_min=1.5)
    with pytest.raises(InvalidValueError, match="toe and shoulder"):
        dataclasses.replace(CURVE, toe=0.0)


def test_even_sheet_prints_the_curve_inside_and_bare_paper_outside():
    exposure = np.full((300, 300), 0.7, np.float32)
    image = PAPER.reflectance_image(exposure, resolution_ppi=100, inset_mm=12, seed=1)
    density = density_from_reflectance(image)
    # The image is kept in steps of 4 D / 65535.
    assert_allclose(density[150, 150], CURVE.density(0.7), atol=3e-4)
    assert_allclose(density[2, 2], 0.05, atol=3e-4)


def test_grain_is_strongest_in_the_middle():
    paper = dataclasses.replace(PAPER, grain=0.03)
    spread = []
    for exposure in (-2.0, 0.7, 3.0):
        sheet = np.full((200, 200), exposure, np.float32)
        image = paper.reflectance_image(sheet, resolution_ppi=300, inset_mm=0, seed=1)
        spread.append(density_from_reflectance(image[40:-40, 40:-40]).std())
    assert_allclose(spread, [0.0075, 0.03, 0.0075], rtol=0.1)


def test_streaks_lie_along_the_stroke():
    rng = np.random.default_rng(1)
    coating = Coating(streaks=0.05, clouds=0.0, stroke="down")
    weight = coating.weight((400, 400), resolution_ppi=50, rng=rng)
    assert_allclose([weight.mean(), weight.std()], [1.0, 0.05], atol=1e-3)
    down, across = (np.abs(np.diff(weight, axis=axis)).mean() for axis in (0, 1))
    assert across > 5 * down


def test_thin_coating_prints_lighter():
    thin = np.full((8, 8), 0.7, np.float32)
    light = dataclasses.replace(PAPER, coating=Coating(streaks=0.1, clouds=0.0))
    image = light.reflectance_image(
        np.tile(thin, (40, 40)), resolution_ppi=50, inset_mm=0, seed=3
    )
    weight = light.coating.weight(
        (320, 320), resolution_ppi=50, rng=np.random.default_rng(3)
    )
    inside = np.s_[60:-60, 60:-60]
    density = density_from_reflectance(image[inside])
    together = np.corrcoef(density.ravel(), np.log(weight[inside]).ravel())[0, 1]
    assert together > 0.99


def test_coating_ends_ragged_where_strokes_end():
    rng = np.random.default_rng(5)
    cover = Coating(edge_mm=1.0).cover(
        (500, 500), inset_mm=6.0, resolution_ppi=100, rng=rng
    )
    assert cover[250, 250] == 1
    assert cover[0, 0] == 0
    top = np.argmax(cover > 0.5, axis=0)[60:-60]
    side = np.argmax(cover > 0.5, axis=1)[60:-60]
    assert np.abs(np.diff(top)).mean() > 3 * np.abs(np.diff(side)).mean()


@pytest.mark.parametrize(
    "colour", [ImageColour(), ImageColour(name="blue", red=1.35, blue=0.62)]
)
def test_colour_keeps_the_luminance(colour):
    luminance = np.array([0.0, 0.02, 0.3, 0.9, 1.0])
    light = colour.rgb(luminance)
    assert_allclose(light @ LUMINANCE_WEIGHTS, luminance, atol=1e-12)
    assert light.max() <= 1
    assert light.min() >= 0


def test_relief_scatters_the_light_and_keeps_its_mean():
    rough = dataclasses.replace(PAPER, relief=0.05, relief_mm=0.3)
    exposure = np.full((300, 300), 0.7, np.float32)
    image = rough.reflectance_image(exposure, resolution_ppi=200, inset_mm=0, seed=2)
    inside = image[50:-50, 50:-50] / 10 ** -CURVE.density(0.7)
    assert_allclose(inside.mean(), 1, atol=0.01)
    assert_allclose(inside.std(), 0.05, rtol=0.15)


def test_bristles_leave_thin_lines_along_the_stroke():
    coating = Coating(streaks=0.0, clouds=0.0, gaps=20.0, stroke="across")
    rng = np.random.default_rng(4)
    weight = coating.weight((600, 800), resolution_ppi=200, rng=rng)
    thin = weight < 0.5
    # Some 15 of them of about 30 mm by 0.3 mm on 102 mm by 76 mm.
    assert 0.003 < thin.mean() < 0.05
    along, across = (
        np.abs(np.diff(thin.astype(int), axis=axis)).sum() for axis in (1, 0)
    )
    assert across > 10 * along
