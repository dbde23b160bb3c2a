import numpy as np
import pytest
from scipy import ndimage

from negcurve.encoding import LINEAR, SRGB, srgb_to_linear
from negcurve.reading.geometry import Geometry
from negcurve.reading.patches import pixels_in, read_areas, trimmed
from negcurve.target.layout import Box
from tests.reading.areas import BOX, PX_PER_MM, area, flat, texture
from tests.reading.prints import ArraySource, GammaEncoding


def test_a_flat_patch_reads_its_own_reflectance():
    value = area(flat(0.3))
    assert value.reflectance == pytest.approx(0.3, abs=1e-5)
    assert value.left_out == 0
    assert not value.clipped


def test_reflectance_is_averaged_not_density_and_not_code():
    """Half 0.1, half 0.5: the mean is 0.3, where densities would give 0.22."""
    picture = flat(0.1)
    picture[(np.indices(picture.shape).sum(axis=0) // 2) % 2 == 0] = 0.5
    assert area(picture).reflectance == pytest.approx(0.3, abs=0.002)
    levels = picture**0.5
    read = area(levels, encoding=GammaEncoding(2.0)).reflectance
    assert read == pytest.approx(0.3, abs=0.002)


def test_colours_become_luminance():
    """Against the sRGB weights of IEC 61966-2-1 adapted to D50 (ICC): Y row."""
    level = np.broadcast_to([0.2, 0.4, 0.7], (*flat(0).shape, 3))
    weights = np.array([0.2225, 0.7169, 0.0606])
    wanted = float(weights @ srgb_to_linear(np.array([0.2, 0.4, 0.7])))
    assert area(level, encoding=SRGB).reflectance == pytest.approx(wanted, abs=2e-4)


@pytest.mark.parametrize("foreign", [0.0, 0.9])
def test_dust_and_hairs_are_left_out(foreign):
    picture = 0.2 * (1 + 0.05 * texture(1))
    clean = area(picture)
    y, x = np.indices(picture.shape) / PX_PER_MM
    rng = np.random.default_rng(2)
    for cx, cy in rng.uniform((4, 4), (12, 10), (12, 2)):
        picture[np.hypot(x - cx, y - cy) < 0.3] = foreign
    picture[np.abs(y - 0.6 * x - 2) < 0.08] = foreign
    picture = ndimage.gaussian_filter(picture, 0.6)
    read = area(picture)
    assert read.left_out > 0.05
    assert abs(np.log10(read.reflectance / clean.reflectance)) < 0.004


def test_a_gap_in_the_coating_is_left_out_up_to_a_third():
    picture = 0.1 * (1 + 0.03 * texture(3))
    picture[:, : round(6.2 * PX_PER_MM)] = 0.85
    read = area(picture)
    assert read.reflectance == pytest.approx(0.1, rel=0.02)
    assert read.left_out > 0.25


def test_rough_paper_is_not_read_too_dark_or_too_light():
    """Grain is normal in density, so skewed in reflectance; its mean must stay."""
    biases = []
    for seed in range(8):
        picture = 10 ** -(1.0 + 0.12 * texture(seed, 0.08))
        inner = trimmed(BOX)
        rows = slice(
            round(inner.top_mm * PX_PER_MM), round(inner.bottom_mm * PX_PER_MM)
        )
        columns = slice(
            round(inner.left_mm * PX_PER_MM), round(inner.right_mm * PX_PER_MM)
        )
        true = picture[rows, columns].mean()
        biases.append(np.log10(area(picture).reflectance / true))
    assert abs(np.mean(biases)) < 0.002


def test_a_slope_across_the_patch_reads_its_middle():
    x = (np.indices(flat(0).shape)[1] + 0.5) / PX_PER_MM
    read = area(0.3 + 0.02 * (x - 8))
    assert read.reflectance == pytest.approx(0.3, abs=0.0005)
    assert read.standard_error < 0.0005


@pytest.mark.parametrize("angle", [8.0, -40.0, 90.0])
def test_a_turned_patch_is_read_within_its_own_edges(angle):
    picture = flat(0.9)
    y, x = np.indices(picture.shape) / PX_PER_MM
    turn = np.radians(angle)
    u = np.cos(turn) * (x - 8) + np.sin(turn) * (y - 7)
    v = -np.sin(turn) * (x - 8) + np.cos(turn) * (y - 7)
    picture[(np.abs(u) < 5.5) & (np.abs(v) < 4.5)] = 0.2
    read = area(picture, angle=angle)
    assert read.reflectance == pytest.approx(0.2, abs=1e-4)
    assert read.left_out == 0


@pytest.mark.parametrize("grain_mm", [0.05, 0.3])
def test_the_standard_error_is_that_of_repeated_patches(grain_mm):
    reads = [area(0.3 + 0.01 * texture(seed, grain_mm)) for seed in range(40)]
    scatter = np.std([each.reflectance for each in reads], ddof=1)
    said = np.sqrt(np.mean([each.standard_error**2 for each in reads]))
    # The scatter of 40 is itself only known to 11 %.
    assert said / scatter == pytest.approx(1.0, abs=0.35)


@pytest.mark.parametrize(
    ("noise_codes", "low", "high"),
    # A quarter of a code of noise does not show in every patch, so more is allowed for.
    [(0.0, 0.7, 1.4), (0.25, 1.0, 3.0), (1.0, 0.7, 1.4)],
)
def test_rounding_to_codes_is_part_of_the_standard_error(noise_codes, low, high):
    rng = np.random.default_rng(6)
    errors, said = [], []
    for value in rng.uniform(0.02, 0.06, 30):
        noise = noise_codes / 255 * rng.normal(size=flat(0).shape)
        read = area(value + noise, bits=8)
        errors.append(read.reflectance - value)
        said.append(read.standard_error)
    rms, own = np.sqrt(np.mean(np.square(errors))), np.sqrt(np.mean(np.square(said)))
    assert low < own / rms < high


def test_clipping_is_told_apart_by_end():
    dark = area(flat(0.002) + 0.004 * texture(5))
    assert dark.clipped_low > 0.1
    assert dark.clipped_high == 0
    assert dark.clipped
    light = area(flat(1.0) + 0.01 * texture(5))
    assert light.clipped_high > 0.3
    assert light.clipped_low == 0


def test_one_clipped_channel_of_three_does_not_count():
    level = np.broadcast_to([0.0, 0.4, 0.5], (*flat(0).shape, 3))
    assert not area(level, encoding=SRGB).clipped


def test_a_fine_scan_is_read_at_every_other_pixel():
    codes = np.full((800, 800, 1), 30000, dtype=np.uint16)
    geometry = Geometry(matrix=np.diag([60.0, 60.0, 1.0]), size_mm=(16, 14))
    box = Box(left_mm=1, top_mm=1, width_mm=10, height_mm=10)
    read = read_areas(ArraySource(codes), LINEAR, geometry, [box])[0]
    assert read.reflectance == pytest.approx(30000 / 65535, abs=1e-6)


@pytest.mark.parametrize("corner", [(-30, 5), (5, -30), (40, 5), (5, 40)])
def test_a_box_beyond_the_scan_has_no_pixels(corner):
    codes = np.zeros((100, 120, 3), dtype=np.uint16)
    geometry = Geometry(matrix=np.diag([6.0, 6.0, 1.0]), size_mm=(20, 16))
    box = Box(left_mm=corner[0], top_mm=corner[1], width_mm=5, height_mm=5)
    found, places = pixels_in(ArraySource(codes), geometry, box)
    assert found.shape == (0, 3)
    assert places.shape == (0, 2)
