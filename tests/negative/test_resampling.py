"""Lanczos-3 in strips against the same sum over the whole picture in float64."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from negcurve.density import lightness_from_reflectance
from negcurve.encoding import SRGB, SRGB_GREY, grey_encoding
from negcurve.negative.lanczos import lanczos_weights, pieces
from negcurve.negative.rendering import Rendering, render
from negcurve.negative.resampling import Resampler, domain_power
from negcurve.negative.tones import Light
from negcurve.response.table import LookupTable
from negcurve.values import CodeArray, FloatArray
from tests.negative.pictures import (
    Sheet,
    dense,
    exact_codes,
    in_memory,
    noise,
    print_table,
    scene,
)

ROOT = Path(__file__).parents[2]


def dense_lanczos(source: int, wanted: int) -> FloatArray:
    """Lanczos-3 written out anew from its definition, shape (wanted, source)."""
    scale = max(1.0, source / wanted)
    matrix = np.zeros((wanted, source))
    for row in range(wanted):
        centre = (row + 0.5) * source / wanted - 0.5
        for column in range(source):
            x = np.pi * (column - centre) / scale
            if abs(x) < 3 * np.pi:
                same = abs(x) < 1e-12
                matrix[row, column] = (
                    1.0 if same else 3 * np.sin(x) * np.sin(x / 3) / x**2
                )
    return matrix / matrix.sum(axis=1, keepdims=True)


def whole_image(
    array: CodeArray, height: int, width: int, table: LookupTable | None = None
) -> FloatArray:
    """Unrounded codes, the whole picture at once in float64."""
    encoding = SRGB_GREY if array.shape[2] == 1 else SRGB
    light = encoding.luminance(array / 65535)
    power = domain_power(array.shape[1], width)
    down, across = dense_lanczos(len(array), height), dense_lanczos(len(light.T), width)
    resampled = np.clip(down @ light**power @ across.T, 0, 1) ** (1 / power)
    tone = np.clip(lightness_from_reflectance(resampled) / 100, 0, 1)
    return exact_codes(table or print_table(), tone)


@pytest.mark.parametrize("channels", [1, 3])
@pytest.mark.parametrize(
    ("height", "width"), [(211, 181), (390, 333), (150, 90), (41, 35), (150, 129)]
)
@pytest.mark.parametrize("kind", ["scene", "noise"])
def test_strips_meet_the_whole_image_in_float64(
    kind: str, height: int, width: int, channels: int
) -> None:
    shape = (150, 128, channels)
    array = scene(*shape) if kind == "scene" else noise(shape, np.uint16)
    sheet = Sheet()
    render(
        in_memory(array),
        sheet,
        encoding=SRGB_GREY if channels == 1 else SRGB,
        table=print_table(),
        how=Rendering(
            mirrored=False,
            resampler=Resampler(shape[:2], (height, width)),
        ),
    )
    error = sheet.codes - whole_image(array, height, width)
    assert np.abs(error).max() <= 0.52


def test_darks_beside_whites_are_exact_when_reduced() -> None:
    # Near black a millionth of light is a good part of a code, so sums in float32,
    # which are that far off beside white, would show here (0.52 instead of 0.504).
    rng = np.random.default_rng(0)
    array = rng.integers(0, 3000, (400, 400, 1)).astype(np.uint16)
    array[rng.random((400, 400, 1)) < 0.3] = 65535
    array[rng.random((400, 400, 1)) < 0.3] = 0
    tone = np.linspace(0, 1, 513)
    steep = LookupTable(tone_nodes=tone, level_nodes=0.95 * (1 - tone) ** 3)
    sheet = Sheet()
    render(
        in_memory(array),
        sheet,
        encoding=SRGB_GREY,
        table=steep,
        how=Rendering(mirrored=False, resampler=Resampler((400, 400), (200, 200))),
    )
    error = sheet.codes - whole_image(array, 200, 200, steep)
    assert np.abs(error).max() <= 0.51


def test_a_flat_picture_stays_flat_to_its_edges() -> None:
    array = np.full((40, 50, 1), 30_000, np.uint16)
    for height, width in ((61, 76), (17, 21)):
        sheet = Sheet()
        render(
            in_memory(array),
            sheet,
            encoding=SRGB_GREY,
            table=print_table(),
            how=Rendering(resampler=Resampler((40, 50), (height, width))),
        )
        assert np.ptp(sheet.codes.astype(int)) <= 1


SIDES = ((100, 133), (133, 100), (10, 997), (997, 10), (1, 5), (5, 1), (400, 523))


@pytest.mark.parametrize(("source", "wanted"), SIDES)
def test_weights_are_symmetric_and_add_up_to_one(source: int, wanted: int) -> None:
    kept = lanczos_weights(source, wanted)
    np.testing.assert_allclose(kept.weights.sum(axis=1), 1, atol=1e-14)
    matrix = dense(kept)
    np.testing.assert_allclose(matrix, matrix[::-1, ::-1], atol=1e-12)
    np.testing.assert_allclose(matrix, dense_lanczos(source, wanted), atol=1e-12)


@pytest.mark.parametrize(("span", "block"), [(128, 16), (40, 7), (1, 1), (1000, 900)])
@pytest.mark.parametrize(("source", "wanted"), SIDES)
def test_pieces_hold_each_weight_once(
    source: int, wanted: int, span: int, block: int
) -> None:
    weights = lanczos_weights(source, wanted)
    rebuilt = np.zeros((wanted, source))
    reached = 0
    for piece in pieces(weights, span=span, block=block, precision=np.float64):
        assert piece.start == reached < piece.stop <= reached + piece.length
        reached = piece.stop
        low, high = piece.needed
        assert (low, high) == (max(piece.low, 0), min(piece.high, source))
        count, length, reach = piece.blocks.shape
        assert piece.high == piece.low + (count - 1) * piece.step + reach
        lines = piece.blocks.reshape(-1, reach)
        assert not lines[piece.stop - piece.start :].any()
        for row in range(piece.start, piece.stop):
            begin = piece.low + (row - piece.start) // length * piece.step
            for place in np.flatnonzero(lines[row - piece.start]):
                rebuilt[row, begin + place] = lines[row - piece.start, place]
    assert reached == wanted
    np.testing.assert_array_equal(rebuilt, dense(weights))


def test_fine_black_and_white_lines_keep_their_light_when_reduced() -> None:
    # Half the paper white: Y 0.5, whatever the lines' direction.
    lines = np.zeros((120, 120, 1), np.uint16)
    lines[::2] = 65535
    for array in (lines, lines.transpose(1, 0, 2)):
        sheet = Sheet()
        render(
            in_memory(array),
            sheet,
            encoding=SRGB_GREY,
            table=print_table(),
            how=Rendering(resampler=Resampler((120, 120), (30, 30))),
        )
        tone = float(lightness_from_reflectance(0.5)) / 100
        middle = sheet.codes[5:-5, 5:-5].mean()
        assert abs(middle - exact_codes(print_table(), np.array(tone))) < 120


def resampled(root: FloatArray, shape: tuple[int, int]) -> FloatArray:
    """Root of luminance, resampled from codes that stand for it."""
    codes = np.rint(root * 65535).astype(np.uint16)[..., np.newaxis]
    resampler = Resampler(root.shape, shape)
    light = Light(
        grey_encoding(2.0),
        np.uint16,
        power=resampler.power,
        precision=resampler.precision,
    )
    worker = resampler.worker(light.reader())
    found = np.full(shape, np.nan)
    for band in resampler.bands:
        for columns, tile in worker.tiles(band, codes[slice(*band.needed)]):
            found[band.start : band.stop, columns] = tile
    return found


def test_detail_is_kept_when_enlarged() -> None:
    # A sine of 6 pixels' period in the root of light, far below the limit of 2.
    x = np.arange(240)
    root = 0.5 + 0.3 * np.cos(2 * np.pi * (x + 0.5) / 6)
    found = resampled(np.tile(root, (240, 1)), (400, 400))
    wanted = 0.5 + 0.3 * np.cos(2 * np.pi * (np.arange(400) + 0.5) * 0.6 / 6)
    error = found[:, 20:-20] - wanted[20:-20]
    assert np.abs(error).max() < 0.01


@pytest.mark.parametrize("shape", [(75, 300), (31, 240), (300, 700)])
def test_tiles_stay_near_the_sum_in_float64(shape: tuple[int, int]) -> None:
    root = np.random.default_rng(1).random((60, 240))
    codes = np.rint(root * 65535) / 65535
    down, across = dense_lanczos(60, shape[0]), dense_lanczos(240, shape[1])
    error = resampled(root, shape) - down @ codes @ across.T
    assert np.abs(error).max() < 6e-7


@pytest.mark.parametrize("wanted", [5003, 1001])
def test_wide_pictures_take_several_tiles_and_products(wanted: int) -> None:
    shape = (20, wanted)
    power = domain_power(3800, wanted)
    root = np.random.default_rng(2).random((30, 3800))
    light = (np.rint(root * 65535) / 65535) ** (2 * power)
    down = dense(lanczos_weights(30, 20))
    across = dense(lanczos_weights(3800, wanted))
    expected = np.maximum(down @ light @ across.T, 0) ** (0.5 / power)
    found = resampled(root, shape)
    # Near black the root of a sum in light is steep.
    assert np.abs(found - expected)[expected > 0.01].max() < 6e-7


def test_mirrored_is_the_turned_picture() -> None:
    array = scene(150, 128, 1)
    codes = []
    for mirrored in (False, True):
        sheet = Sheet()
        render(
            in_memory(array),
            sheet,
            encoding=SRGB_GREY,
            table=print_table(),
            how=Rendering(
                mirrored=mirrored, resampler=Resampler((150, 128), (211, 181))
            ),
        )
        codes.append(sheet.codes)
    np.testing.assert_array_equal(codes[0], codes[1][:, ::-1])


HASHED = """
import hashlib
from negcurve.encoding import SRGB_GREY
from negcurve.negative.rendering import Rendering, render
from negcurve.negative.resampling import Resampler
from tests.negative.pictures import Sheet, in_memory, print_table, scene
for shape in ((799, 1016), (299, 380)):
    sheet = Sheet()
    how = Rendering(resampler=Resampler((611, 777), shape))
    render(in_memory(scene(611, 777, 1)), sheet, encoding=SRGB_GREY,
           table=print_table(), how=how)
    print(hashlib.sha256(sheet.codes.tobytes()).hexdigest())
"""


def test_threads_of_the_linear_algebra_library_change_nothing() -> None:
    """OpenBLAS, and others, take the number from the environment when they load."""
    found = []
    for threads in ("1", "3"):
        number = dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS"), threads)
        outcome = subprocess.run(
            [sys.executable, "-c", HASHED],
            env={**os.environ, **number, "PYTHONPATH": str(ROOT)},
            capture_output=True,
            text=True,
            check=True,
        )
        found.append(outcome.stdout.split())
    assert len(set(found[0])) == 2
    assert found[0] == found[1]
