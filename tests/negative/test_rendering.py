"""Rendering: right to half a code, and the same however the work is cut."""

from pathlib import Path

import numpy as np
import pytest

from negcurve.encoding import SRGB, SRGB_GREY, Encoding, image_tone
from negcurve.files.memory_picture import MemoryPicture
from negcurve.files.tiff import GreyTiffWriter
from negcurve.files.tiff_picture import TiffPicture
from negcurve.negative import painting, rendering, strips
from negcurve.negative.rendering import Rendering, render
from negcurve.negative.resampling import Resampler
from negcurve.negative.tones import code_map
from negcurve.response.table import LookupTable
from negcurve.values import CodeArray, FloatArray
from tests.negative.pictures import (
    FullDisk,
    Ordered,
    Sheet,
    exact_codes,
    in_memory,
    noise,
    print_table,
    scene,
)

SHAPES = {"plain": (190, 159), "larger": (311, 260), "smaller": (97, 81)}


def resampler(shape: str) -> Resampler | None:
    if shape == "plain":
        return None
    return Resampler(SHAPES["plain"], SHAPES[shape])


def rendered(
    array: CodeArray,
    *,
    encoding: Encoding | None = None,
    table: LookupTable | None = None,
    how: Rendering | None = None,
) -> CodeArray:
    sheet = Sheet()
    grey = array.shape[2] == 1
    render(
        in_memory(array),
        sheet,
        encoding=encoding or (SRGB_GREY if grey else SRGB),
        table=table or print_table(),
        how=how,
    )
    return sheet.codes


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16])
def test_grey_goes_through_the_code_map_and_is_mirrored(dtype: type) -> None:
    array = noise((120, 90, 1), dtype)
    bits = 8 * array.itemsize
    wanted = code_map(SRGB_GREY, print_table(), bits)[array[..., 0]][:, ::-1]
    np.testing.assert_array_equal(rendered(array), wanted)
    unmirrored = rendered(array, how=Rendering(mirrored=False))
    np.testing.assert_array_equal(unmirrored, wanted[:, ::-1])


@pytest.mark.parametrize("dtype", [np.uint8, np.uint16, np.float32])
@pytest.mark.parametrize("channels", [1, 3])
def test_light_is_exact_to_half_a_code(dtype: type, channels: int) -> None:
    if dtype is np.float32:
        array = np.random.default_rng(2).random((300, 200, channels), dtype=dtype)
        level = array.astype(np.float64)
    else:
        array = noise((300, 200, channels), dtype)
        level = array / np.iinfo(dtype).max
    encoding = SRGB_GREY if channels == 1 else SRGB
    exact = exact_codes(print_table(), image_tone(encoding, level))
    codes = rendered(array, how=Rendering(mirrored=False))
    assert codes.dtype == np.uint16
    assert np.abs(codes - exact).max() <= 0.52


def test_every_grey_of_an_rgb_picture_prints_like_the_grey_picture() -> None:
    greys = np.arange(65536, dtype=np.uint16).reshape(256, 256, 1)
    colour = rendered(np.repeat(greys, 3, axis=2))
    grey = rendered(greys)
    assert np.abs(colour.astype(int) - grey).max() <= 1
    exact = exact_codes(print_table(), image_tone(SRGB_GREY, greys / 65535))[:, ::-1]
    assert np.abs(colour - exact).max() <= 0.52


@pytest.mark.parametrize("shape", sorted(SHAPES))
@pytest.mark.parametrize("channels", [1, 3])
@pytest.mark.parametrize("bits", [8, 16])
def test_strips_and_threads_change_nothing(
    shape: str, channels: int, bits: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    array = scene(190, 159, channels)

    def with_threads(threads: int, kind: type[MemoryPicture]) -> CodeArray:
        sheet = Sheet()
        render(
            kind(name="picture.tif", array=array),
            sheet,
            encoding=SRGB_GREY if channels == 1 else SRGB,
            table=print_table(),
            how=Rendering(resampler=resampler(shape), bits=bits, threads=threads),
        )
        return sheet.codes

    whole = with_threads(1, MemoryPicture)
    monkeypatch.setattr(strips, "STRIP_PIXELS", 2000)
    for kind in (MemoryPicture, Ordered):
        np.testing.assert_array_equal(with_threads(1, kind), whole)
        np.testing.assert_array_equal(with_threads(5, kind), whole)


@pytest.mark.parametrize("shape", sorted(SHAPES))
def test_tally_counts_each_pixel_once(
    shape: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    height, width = SHAPES[shape]
    how = Rendering(resampler=resampler(shape), threads=3)
    array = scene(190, 159, 3)
    monkeypatch.setattr(strips, "STRIP_PIXELS", 2000)
    tally = render(
        in_memory(array), Sheet(), encoding=SRGB, table=print_table(), how=how
    )
    assert tally.pixels == height * width


def test_tally_of_grey_is_exact() -> None:
    array = noise((64, 64, 1), np.uint8)
    tally = render(in_memory(array), Sheet(), encoding=SRGB_GREY, table=print_table())
    counts = np.bincount(array.ravel(), minlength=256)
    np.testing.assert_array_equal(tally.counts, counts)
    level = np.arange(256)[:, np.newaxis] / 255
    np.testing.assert_allclose(tally.tone, image_tone(SRGB_GREY, level))


def test_large_pictures_are_counted_by_rows_whatever_the_strips(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    array = noise((200, 50, 1), np.uint8)
    monkeypatch.setattr(rendering, "COUNTED_PIXELS", 2000)  # every fifth row
    wanted = np.bincount(array[::5].ravel(), minlength=256)
    for strip, block in ((10_000, 10_000), (350, 10_000), (10_000, 150), (400, 100)):
        monkeypatch.setattr(strips, "STRIP_PIXELS", strip)
        monkeypatch.setattr(painting, "BLOCK_PIXELS", block)
        tally = render(
            in_memory(array), Sheet(), encoding=SRGB_GREY, table=print_table()
        )
        np.testing.assert_array_equal(tally.counts, wanted)


@pytest.mark.parametrize("shape", sorted(SHAPES))
def test_light_is_counted_alike_whatever_the_strips(
    shape: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    array = scene(190, 159, 3)
    monkeypatch.setattr(rendering, "COUNTED_PIXELS", 3000)
    how = Rendering(resampler=resampler(shape))
    tallies = []
    for strip, block in ((10**6, 10**6), (2000, 10**6), (10**6, 500), (1700, 400)):
        monkeypatch.setattr(strips, "STRIP_PIXELS", strip)
        monkeypatch.setattr(painting, "BLOCK_PIXELS", block)
        tallies.append(
            render(
                in_memory(array), Sheet(), encoding=SRGB, table=print_table(), how=how
            )
        )
    for each in tallies[1:]:
        np.testing.assert_array_equal(each.counts, tallies[0].counts)


def test_bins_of_light_stand_for_the_tones_counted_in_them() -> None:
    array = noise((200, 200, 3), np.uint16)
    array[:20] = 65535
    tally = render(in_memory(array), Sheet(), encoding=SRGB, table=print_table())
    tone = image_tone(SRGB, array / 65535)
    mean = (tally.tone * tally.counts).sum() / tally.pixels
    assert abs(mean - tone.mean()) < 2e-6
    assert tally.share(1.0, 1.0) == pytest.approx((tone > 0.9999).mean(), abs=1e-4)


def test_greys_are_known_where_there_are_few() -> None:
    def greys(array: CodeArray, how: Rendering | None = None) -> FloatArray:
        encoding = SRGB_GREY if array.shape[2] == 1 else SRGB
        return render(
            in_memory(array), Sheet(), encoding=encoding, table=print_table(), how=how
        ).greys

    tones = image_tone(SRGB_GREY, np.arange(256)[:, np.newaxis] / 255)
    few = np.array([[[3], [200]], [[7], [7]]], np.uint8)
    np.testing.assert_allclose(greys(few), tones[[3, 7, 200]])
    np.testing.assert_allclose(greys(np.repeat(few, 3, axis=2)), tones)
    assert greys(noise((20, 20, 3), np.uint16)).size == 0
    larger = Rendering(resampler=Resampler((2, 2), (5, 5)))
    assert greys(few, larger).size == 0


def test_eight_bits_are_the_sixteen_dithered() -> None:
    array = scene(256, 256, 1)
    eight = rendered(array, how=Rendering(bits=8))
    sixteen = rendered(array)
    assert eight.dtype == np.uint8
    assert np.abs(eight - sixteen / 257).max() < 1
    assert abs(eight.mean() - sixteen.mean() / 257) < 0.005


def test_progress_ends_at_one() -> None:
    seen: list[float] = []
    render(
        in_memory(noise((50, 40, 1), np.uint16)),
        Sheet(),
        encoding=SRGB_GREY,
        table=print_table(),
        progress=lambda _what, share: seen.append(share),
    )
    assert seen[-1] == 1.0
    assert seen == sorted(seen)


@pytest.mark.parametrize("error", [OSError(28, "No space left"), KeyboardInterrupt()])
def test_a_failing_sink_stops_the_work_and_its_threads(
    error: BaseException, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(strips, "STRIP_PIXELS", 400)
    sink = FullDisk(error)
    with pytest.raises(type(error)):
        render(
            in_memory(noise((300, 40, 1), np.uint16)),
            sink,
            encoding=SRGB_GREY,
            table=print_table(),
        )
    assert sink.strips == 2


@pytest.mark.parametrize("positional", [True, False])
@pytest.mark.parametrize("bits", [8, 16])
@pytest.mark.parametrize("channels", [1, 3])
def test_threads_that_read_and_write_for_themselves_change_nothing(
    tmp_path: Path,
    positional: bool,
    bits: int,
    channels: int,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    array = noise((190, 159, channels), np.uint16)
    expected = rendered(array, how=Rendering(bits=bits, threads=1))
    monkeypatch.setattr(strips, "STRIP_PIXELS", 700)
    size = {"width": 159, "height": 190, "resolution_ppi": 360, "description": ""}
    picture, negative = tmp_path / "picture.tif", tmp_path / "negative.tif"
    with GreyTiffWriter(picture, channels=channels, **size) as writer:
        writer.write(array)
    with (
        TiffPicture(picture, positional=positional) as source,
        GreyTiffWriter(negative, bits=bits, positional=positional, **size) as writer,
    ):
        assert source.in_any_order
        assert writer.in_any_order
        render(
            source,
            writer,
            encoding=SRGB_GREY if channels == 1 else SRGB,
            table=print_table(),
            how=Rendering(bits=bits, threads=4),
        )
    with TiffPicture(negative) as found:
        np.testing.assert_array_equal(found.rows(0, 190)[..., 0], expected)
