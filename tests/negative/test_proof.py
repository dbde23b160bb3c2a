"""The proof: what the tones print as, page sized."""

import colour
import numpy as np

from negcurve.density import lightness_from_density
from negcurve.encoding import SRGB, SRGB_GREY, CurveEncoding
from negcurve.negative.proof import BARS, DOT, GAP, MARGIN, proof, reduced_root
from negcurve.negative.tones import Light
from negcurve.target.glyphs import GLYPH_HEIGHT
from tests.negative.pictures import in_memory, noise
from tests.negative.test_tally import solution

D50 = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"]


def lightness(codes: np.ndarray) -> np.ndarray:
    xyz = colour.sRGB_to_XYZ(
        codes / 255, illuminant=D50, chromatic_adaptation_transform="Bradford"
    )
    return colour.XYZ_to_Lab(xyz, D50)[..., 0]


def luminance(encoding: CurveEncoding) -> Light:
    return Light(encoding, np.uint16, power=1.0, precision=np.float64)


def test_corrected_beside_uncorrected() -> None:
    tones = np.linspace(0, 1, 200)
    codes = np.rint(65535 * tones).astype(np.uint16)
    picture = in_memory(np.tile(codes, (40, 1))[..., np.newaxis])
    solved = solution()
    drawn = proof(picture, encoding=SRGB_GREY, solution=solved)
    page = drawn.picture
    column = (page.shape[1] - 3 * MARGIN) // 2
    row = page[MARGIN + 5]
    corrected = lightness(row[MARGIN : MARGIN + 200])
    straight = lightness(row[2 * MARGIN + column : 2 * MARGIN + column + 200])
    tone = drawn.tone[5]
    density = solved.printed_density(tone)
    np.testing.assert_allclose(corrected, lightness_from_density(density), atol=0.6)
    uncorrected = solved.response.density(np.clip(1 - tone, 0.2, 1.0))
    np.testing.assert_allclose(straight, lightness_from_density(uncorrected), atol=0.6)


def test_large_pictures_are_averaged_as_light() -> None:
    array = noise((230, 170, 3), np.uint16)
    root = reduced_root(in_memory(array), luminance(SRGB), long_edge=23)
    assert root.shape == (23, 17)
    light = SRGB.luminance(array / 65535)
    wanted = light.reshape(23, 10, 17, 10).mean(axis=(1, 3))
    np.testing.assert_allclose(root**2, wanted, atol=1e-9)


def test_last_row_and_column_may_stand_for_fewer_pixels() -> None:
    array = np.full((23, 17, 1), 40_000, np.uint16)
    root = reduced_root(in_memory(array), luminance(SRGB_GREY), long_edge=8)
    assert root.shape == (8, 6)
    np.testing.assert_allclose(root, root[0, 0], atol=1e-12)


def test_histogram_shows_where_the_densities_lie() -> None:
    # Two tones, black and white, one pixel each: bars at both ends and none between.
    array = np.zeros((60, 400, 1), np.uint16)
    array[:, 200:] = 65535
    page = proof(in_memory(array), encoding=SRGB_GREY, solution=solution()).picture
    bars = page[-MARGIN - DOT * GLYPH_HEIGHT - GAP // 2 - BARS :][:BARS]
    ink = (bars[:, MARGIN : MARGIN + 400] == 0).all(axis=2)
    assert ink[-1].all()  # the base line
    assert ink[0, :6].all()
    assert ink[0, -6:].all()
    assert not ink[:-1, 10:-10].any()
