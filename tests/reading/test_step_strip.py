"""A printed step tablet in a scan: found, placed, read."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import ndimage

from negcurve.encoding import grey_encoding
from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.reading.step_comb import falls, fit_ends
from negcurve.reading.step_strip import StripBox, find_strip, read_step_strip
from tests.darkroom.strips import printed
from tests.reading.prints import ArraySource

GAMMA = grey_encoding(2.2)
LEFT, TOP, HIGH = 120.4, 180, 60


def source_of(codes: np.ndarray) -> ArraySource:
    return ArraySource(np.ascontiguousarray(codes)[..., np.newaxis])


def scan(
    *,
    steps=31,
    increment=0.10,
    pitch=16.3,
    ground=1.42,
    angle=0.0,
    middle=-1.5,
    noise=0.02,
    reverse=False,
    upright=False,
    seed=1,
):
    """A sheet with a strip upon it; returns the scan and the true densities."""
    rng = np.random.default_rng(seed)
    density = printed(-0.05 - increment * np.arange(steps), middle=middle, noise=0.01)
    image = np.full((420, 800), 0.06)
    image[40:-40, 40:-40] = ground
    y, x = np.mgrid[: image.shape[0], : image.shape[1]].astype(float)
    turn = np.radians(angle)
    along = (x - LEFT) * np.cos(turn) + (y - TOP) * np.sin(turn)
    across = -(x - LEFT) * np.sin(turn) + (y - TOP) * np.cos(turn)
    step = np.floor(along / pitch).astype(int)
    inside = (step >= 0) & (step < steps) & (across >= 0) & (across < HIGH)
    laid = density[::-1] if reverse else density
    image[inside] = laid[step[inside]]
    image = ndimage.gaussian_filter(image, 1.0) + rng.normal(0, noise, image.shape)
    codes = np.rint(65535 * np.clip(10**-image, 0, 1) ** (1 / 2.2)).astype(np.uint16)
    return source_of(codes.T if upright else codes), density


@pytest.mark.parametrize(
    "print_of",
    [
        {},
        {"reverse": True},
        {"upright": True},
        {"upright": True, "reverse": True},
        {"ground": 0.06},  # the paper around it was not exposed
        {"angle": 1.0},
        {"angle": -1.5, "seed": 3},
        {"steps": 21, "increment": 0.15, "pitch": 25.0},
        {"middle": -2.2},  # over-exposed: many steps merge in black
        {"middle": -0.7},  # under-exposed: many merge in white
        {"noise": 0.05},
    ],
    ids=str,
)
def test_a_strip_is_found_and_read(print_of: dict) -> None:
    source, density = scan(**print_of)
    found = read_step_strip(source, GAMMA, steps=len(density))
    # A cell of some 350 pixels averages light: noise s leaves s / 19 and s^2 ln 10 / 2.
    noise = print_of.get("noise", 0.02)
    assert_allclose(found.density, density, atol=0.005 + 4 * noise / 19)
    assert (found.spread < 1.5 * noise).all()


def test_the_box_is_where_the_strip_lies() -> None:
    source, _ = scan(ground=0.06)
    box = read_step_strip(source, GAMMA, steps=31).box
    assert_allclose([box.left, box.width], [LEFT, 31 * 16.3], atol=1.5)
    assert TOP - 8 <= box.top <= TOP + 8
    assert HIGH - 16 <= box.height <= HIGH + 16


@pytest.mark.parametrize("off", [-6.0, 0.0, 6.0])
def test_a_box_need_only_be_near(off: float) -> None:
    source, density = scan()
    box = StripBox(left=LEFT + off, top=TOP + 5, width=31 * 16.3, height=HIGH - 10)
    found = read_step_strip(source, GAMMA, steps=31, box=box)
    assert_allclose(found.density, density, atol=0.012)
    assert_allclose(found.box.left, LEFT, atol=1.5)


def blank() -> ArraySource:
    rng = np.random.default_rng(1)
    return source_of(rng.normal(40000, 500, (300, 500)).astype(np.uint16))


def patchwork() -> ArraySource:
    rng = np.random.default_rng(2)
    codes = np.kron(rng.integers(8000, 60000, (12, 20)), np.ones((30, 30)))
    return source_of(codes.astype(np.uint16))


def ramp() -> ArraySource:
    codes = np.tile(np.linspace(8000, 60000, 700), (300, 1))
    return source_of(codes.astype(np.uint16))


@pytest.mark.parametrize("picture", [blank, patchwork, ramp])
def test_what_is_no_strip_is_not_taken_for_one(picture) -> None:
    with pytest.raises(ReadingsError) as caught:
        find_strip(picture(), GAMMA, steps=31)
    assert "no strip of 31 equal steps was found" in str(caught.value)
    assert "--strip-box X,Y,W,H" in str(caught.value)


def test_cells_that_are_uneven_or_climb_are_no_steps() -> None:
    """A ragged edge along the box, and a strip whose steps were mixed."""
    box = StripBox(left=LEFT, top=TOP, width=31 * 16.3, height=HIGH)
    source, _ = scan()
    codes = source.codes.copy()
    middle = TOP + HIGH // 2
    codes[middle : TOP + HIGH, :, :] = 60000
    with pytest.raises(ReadingsError, match="is uneven within them"):
        read_step_strip(source_of(codes[..., 0]), GAMMA, steps=31, box=box)
    mixed = source.codes.copy()
    order = np.random.default_rng(4).permutation(31)
    for place, other in enumerate(order):
        to, start = (round(LEFT + 16.3 * each) for each in (place, other))
        mixed[TOP : TOP + HIGH, to : to + 16] = source.codes[
            TOP : TOP + HIGH, start : start + 16
        ]
    with pytest.raises(ReadingsError, match="does not get lighter all along"):
        read_step_strip(source_of(mixed[..., 0]), GAMMA, steps=31, box=box)


@pytest.mark.parametrize(
    ("box", "message"),
    [
        ((700, 100, 200, 50), "does not lie in the scan of 800 x 420 pixels"),
        ((-1, 100, 200, 50), "does not lie in the scan"),
        ((100, 100, 100, 50), "100 pixels are too few for 31 steps"),
    ],
)
def test_impossible_boxes(box: tuple[float, ...], message: str) -> None:
    left, top, width, height = box
    wanted = StripBox(left=left, top=top, width=width, height=height)
    with pytest.raises(InvalidValueError, match=message):
        read_step_strip(scan()[0], GAMMA, steps=31, box=wanted)


def test_falls_end_where_density_jumps() -> None:
    line = np.concatenate(
        [np.full(10, 0.1), np.linspace(1.4, 0.1, 50), np.full(5, 1.4)]
    )
    assert falls(line) == [(10, 60)]
    assert falls(np.full(20, 0.5)) == []


def test_ends_of_a_strip_to_a_fraction_of_a_pixel() -> None:
    edges = 3.7 + 20.3 * np.arange(22)
    step = np.searchsorted(edges, np.arange(440) + 0.5) - 1
    profile = 1.4 - 0.06 * np.clip(step, 0, 20)
    start, pitch = fit_ends(profile, 21)
    assert_allclose(start, 3.7, atol=0.8)
    assert_allclose(pitch, 20.3, atol=0.05)
