import dataclasses
import io

import colour as colour_science
import numpy as np
import pytest
from numpy.testing import assert_allclose
from PIL import Image, ImageCms
from scipy import ndimage

from negcurve.density import lightness_from_reflectance
from negcurve.simulation.paper import ImageColour
from negcurve.simulation.scanner import Scanner
from negcurve.simulation.scanner_encoding import ScannerEncoding
from negcurve.simulation.setups import COLOURS, ENCODINGS

CLEAN = Scanner(
    name="clean",
    encoding=ScannerEncoding(name="raw", channels=1, gamma=1.0),
    resolution_ppi=200,
    skew_deg=0.0,
    keystone=0.0,
    stretch=0.0,
    flare=0.0,
    unevenness=0.0,
    read_noise=0.0,
    shot_noise=0.0,
    dust_count=0,
    hair_count=0,
)


def scanned(scanner, image, *, ppi=200.0, colour=None):
    return scanner.scan(
        image, resolution_ppi=ppi, colour=colour or ImageColour(), seed=1
    )


def test_clean_scan_is_the_print_on_the_lid():
    image = np.random.default_rng(1).uniform(0, 1, (90, 120)).astype(np.float32)
    scan = scanned(dataclasses.replace(CLEAN, border_mm=25.4 / 200 * 10), image)
    assert scan.codes.shape == (110, 140)
    assert_allclose(scan.codes[10:-10, 10:-10] / 65535, image, atol=1e-4)
    assert_allclose(scan.codes[0, 0] / 65535, CLEAN.lid, atol=1e-4)


def test_place_on_the_glass_is_where_the_scan_shows_it():
    scanner = dataclasses.replace(
        CLEAN, skew_deg=3.0, keystone=0.004, stretch=0.003, lid=0.0
    )
    image = np.zeros((400, 500), np.float32)
    ndimage.gaussian_filter(image, 1)
    image[100:107, 350:357] = 1  # centre at pixel (103.5, 353.5) from the corner
    scan = scanned(scanner, image)
    row, column = ndimage.center_of_mass(scan.codes)
    pixel_mm = 25.4 / 200
    x, y = scanner.print_place(
        (column + 0.5) * pixel_mm, (row + 0.5) * pixel_mm, size_mm=(63.5, 50.8)
    )
    assert_allclose([x / pixel_mm, y / pixel_mm], [353.5, 103.5], atol=0.1)


def test_quarter_turns_are_counter_clockwise():
    image = np.zeros((60, 100), np.float32)
    image[:10, :10] = 1
    scan = scanned(dataclasses.replace(CLEAN, border_mm=0.0, quarter_turns=1), image)
    assert scan.codes.shape == (100, 60)
    assert scan.codes[-1, 0] == 65535


def test_flare_mixes_in_the_neighbourhood_and_keeps_even_light():
    scanner = dataclasses.replace(CLEAN, flare=0.02, border_mm=0.0, lid=0.0)
    even = np.full((200, 200), 0.4, np.float32)
    assert_allclose(scanned(scanner, even).codes / 65535, 0.4, atol=1e-4)
    spot = np.full((400, 400), 0.9, np.float32)
    spot[195:205, 195:205] = 0.04
    lifted = scanned(scanner, spot).codes[200, 200] / 65535
    assert_allclose(lifted, 0.04 * 0.98 + 0.9 * 0.02, atol=2e-4)


def test_noise_has_its_deviation():
    scanner = dataclasses.replace(
        CLEAN, read_noise=0.003, shot_noise=0.004, border_mm=0.0
    )
    for light, expected in (
        (0.02, np.hypot(0.003, 0.004 * 0.02**0.5)),
        (0.81, 0.00469),
    ):
        codes = scanned(scanner, np.full((200, 200), light, np.float32)).codes
        assert_allclose((codes / 65535).std(), expected, rtol=0.03)


def test_gain_and_tone_change_what_is_read():
    scanner = dataclasses.replace(CLEAN, gain=0.98, tone_power=1.02, border_mm=0.0)
    codes = scanned(scanner, np.full((50, 50), 0.25, np.float32)).codes
    assert_allclose(codes / 65535, 0.98 * 0.25**1.02, atol=1e-4)


def test_dust_and_hairs_stay_small():
    scanner = dataclasses.replace(CLEAN, dust_count=20, hair_count=2, border_mm=0.0)
    codes = scanned(scanner, np.full((800, 800), 0.5, np.float32)).codes / 65535
    touched = np.abs(codes - 0.5) > 0.01
    assert 0.0003 < touched.mean() < 0.01
    assert codes.max() > 0.6
    assert codes.min() < 0.45


@pytest.mark.parametrize("encoding", ENCODINGS, ids=lambda each: each.name)
@pytest.mark.parametrize("colour", COLOURS, ids=lambda each: each.name)
def test_littlecms_reads_the_luminance_back(encoding, colour):
    # Reference: LittleCMS through Pillow; untagged files are sRGB here.
    luminance = np.linspace(0.02, 0.9, 30, dtype=np.float32)[None, :]
    codes = encoding.codes(luminance, colour)
    levels = codes / (2**encoding.bits - 1)
    assert_allclose(luminance_of(levels, encoding), luminance, atol=0.004)
    coarse = np.rint(levels * 255).astype(np.uint8)
    blob = encoding.profile or ENCODINGS[0].profile
    profile = ImageCms.ImageCmsProfile(io.BytesIO(blob))
    mode = "L" if encoding.channels == 1 else "RGB"
    transform = ImageCms.buildTransform(
        profile,
        ImageCms.createProfile("LAB"),
        mode,
        "LAB",
        renderingIntent=1,
        # Without it linear darks go through a coarse table of its own.
        flags=ImageCms.Flags.NOOPTIMIZE,
    )
    picture = Image.fromarray(coarse)
    lab = np.asarray(ImageCms.applyTransform(picture, transform))
    expected = lightness_from_reflectance(luminance_of(coarse / 255, encoding)) * 2.55
    # 8-bit Lab holds L* in steps of 100 / 255.
    assert_allclose(lab[..., 0], expected, atol=1.1)


def luminance_of(levels, encoding):
    """Y at D50 of a scanner's levels, by the definition of its profile."""
    if encoding.gamma is None:
        light = colour_science.eotf(levels, "sRGB")
    else:
        light = levels**encoding.gamma
    return light if encoding.channels == 1 else light @ np.array(encoding.matrix[1])


def test_gamma_is_kept_as_a_profile_can_hold_it():
    assert ScannerEncoding(name="x", gamma=1.8).gamma == 461 / 256
    assert ScannerEncoding(name="x", tagged=False).profile is None
