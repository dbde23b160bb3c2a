import dataclasses

import numpy as np
from numpy.testing import assert_allclose

from negcurve.density import density_from_reflectance
from negcurve.simulation.coating import Coating
from negcurve.simulation.darkroom import Darkroom
from negcurve.simulation.film import Film
from negcurve.simulation.lamp import Lamp
from negcurve.simulation.paper import CharacteristicCurve, ImageColour, Paper

CURVE = CharacteristicCurve(
    d_min=0.08, d_max=1.42, gradient=0.9, toe=0.15, shoulder=0.12
)
EVEN = Darkroom(
    film=Film(
        name="ink", full_ink_density=2.4, blur_mm=0.0, graininess=0.0, dust_count=0
    ),
    lamp=Lamp(name="bank", overhang_mm=1e5, tilt_across=0.0, tilt_down=0.0, ripple=0.0),
    paper=Paper(
        name="paper",
        curve=CURVE,
        bare_density=0.05,
        coating=Coating(streaks=0.0, clouds=0.0),
        colour=ImageColour(),
        grain=0.0,
    ),
    exposure_spread=0.0,
)


def test_clear_film_reaches_the_share_that_sets_the_exposure():
    reached = (EVEN.density(1.0) - 0.08) / (1.42 - 0.08)
    assert_allclose(reached, EVEN.black_share, atol=1e-6)
    assert (np.diff(EVEN.density(np.linspace(0, 1, 300))) > 0).all()


def test_even_darkroom_prints_its_true_response():
    levels = np.array([[0, 20000, 40000, 65535]], np.uint16)
    codes = np.kron(levels, np.ones((200, 60), np.uint16)).astype(np.uint16)
    sheet = EVEN.print_sheet(codes, resolution_ppi=150, mirrored=False, seed=1)
    border = (sheet.reflectance.shape[0] - 200) // 2
    row = sheet.reflectance[border + 100, border + 30 :: 60][:4]
    # Steps of the tables: 7 / 32767 in log exposure and 4 / 65535 in density.
    expected = EVEN.density(levels[0] / 65535)
    assert_allclose(density_from_reflectance(row), expected, atol=5e-4)


def test_mirrored_file_prints_right_way_round():
    codes = np.zeros((200, 300), np.uint16)
    codes[:, :150] = 65535
    straight = EVEN.print_sheet(codes, resolution_ppi=150, mirrored=False, seed=1)
    turned = EVEN.print_sheet(codes, resolution_ppi=150, mirrored=True, seed=1)
    middle = straight.reflectance.shape[0] // 2
    assert straight.reflectance[middle, 100] < straight.reflectance[middle, -100]
    assert turned.reflectance[middle, 100] > turned.reflectance[middle, -100]


def test_tape_keeps_the_coating_white():
    codes = np.full((300, 300), 65535, np.uint16)
    sheet = EVEN.print_sheet(
        codes, resolution_ppi=150, covered_mm=[(20.0, 20.0, 10.0, 6.0)], seed=1
    )
    border = (sheet.reflectance.shape[0] - 300) // 2
    y, x = (border + round(mm * 150 / 25.4) for mm in (23.0, 25.0))
    assert_allclose(density_from_reflectance(sheet.reflectance[y, x]), 0.08, atol=1e-3)
    assert density_from_reflectance(sheet.reflectance[y, x + 60]) > 1.3


def test_fine_files_are_printed_at_a_whole_part_of_their_resolution():
    codes = np.full((400, 600), 30000, np.uint16)
    sheet = EVEN.print_sheet(codes, resolution_ppi=720, seed=1)
    assert sheet.resolution_ppi == 360
    border = 2 * round(6 * 360 / 25.4)
    assert sheet.reflectance.shape == (200 + border, 300 + border)


def test_sheets_differ_by_their_exposure_and_repeat_by_seed():
    loose = dataclasses.replace(EVEN, exposure_spread=0.02)
    codes = np.full((60, 60), 40000, np.uint16)
    reached = []
    for seed in range(30):
        sheet = loose.print_sheet(codes, resolution_ppi=30, seed=seed)
        middle = sheet.reflectance[35, 35]
        reached.append(float(density_from_reflectance(middle)))
    again = loose.print_sheet(codes, resolution_ppi=30, seed=29)
    assert float(density_from_reflectance(again.reflectance[35, 35])) == reached[-1]
    through = EVEN.film.density(40000 / 65535) + EVEN.lamp.glass_density
    exposure = EVEN.log_exposure - through
    slope = np.diff(CURVE.density([exposure - 0.01, exposure + 0.01])) / 0.02
    assert_allclose(np.std(reached), 0.02 * slope[0], rtol=0.3)
