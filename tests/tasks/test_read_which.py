"""Two prints on one glass, and one channel of a coloured one."""

import numpy as np
import pytest
import tifffile
from PIL import ImageCms

import negcurve
from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.files.layout_json import write_layout
from negcurve.tasks.read import read
from negcurve.tasks.read_options import ReadOptions
from tests.reading.prints import scan_of, small_layout
from tests.tasks.test_read import srgb_level

PPI = 150
ONE, OTHER = small_layout(), small_layout(seed=2)
ONE_MAX, OTHER_MAX = 1.4, 1.1


def _write(path, codes):
    tifffile.imwrite(
        path,
        codes,
        photometric="rgb" if codes.ndim == 3 else "minisblack",
        resolution=(PPI, PPI),
        resolutionunit="INCH",
        metadata=None,
    )


def _alone(layout, d_max, **more):
    return scan_of(layout, ppi=PPI, d_max=d_max, **more)[0].codes[:, :, 0]


def _beside(left, right):
    height = max(len(left), len(right))
    return np.hstack(
        [
            np.pad(each, ((0, height - len(each)), (0, 0)), constant_values=58000)
            for each in (left, right)
        ]
    )


@pytest.fixture(scope="module")
def glass(tmp_path_factory):
    """Two targets side by side, one twice side by side, one twice one above another.

    The first print of each has D-max 1.4, the other 1.1.
    """
    folder = tmp_path_factory.mktemp("glass")
    first, second = _alone(ONE, ONE_MAX), _alone(OTHER, OTHER_MAX, turn=2)
    again = _alone(ONE, OTHER_MAX, tilt_degrees=2)
    _write(folder / "two.tif", _beside(first, second))
    _write(folder / "twice.tif", _beside(first, again))
    _write(folder / "above.tif", _beside(first.T, again.T).T)
    for number, layout in enumerate((ONE, OTHER)):
        write_layout(layout, folder / f"{number}.layout.json")
    return folder


@pytest.mark.parametrize(
    ("name", "which", "layout", "d_max"),
    [
        ("two.tif", "left", ONE, ONE_MAX),
        ("two.tif", "right", OTHER, OTHER_MAX),
        ("two.tif", OTHER.identity_text, OTHER, OTHER_MAX),
        ("two.tif", ONE.identity_text.lower(), ONE, ONE_MAX),
        ("twice.tif", "left", ONE, ONE_MAX),
        ("twice.tif", "right", ONE, OTHER_MAX),
        ("above.tif", "top", ONE, ONE_MAX),
        ("above.tif", "bottom", ONE, OTHER_MAX),
    ],
)
def test_one_of_two_prints_is_chosen(glass, name, which, layout, d_max):
    readings = negcurve.read_scan(glass / name, gamma=1.0, which=which)
    assert readings.target == layout.identity_text
    assert len(readings) == len(layout.patches)
    assert readings.density.max() == pytest.approx(d_max, abs=0.01)


def test_two_prints_ask_which(glass):
    with pytest.raises(ReadingsError) as caught:
        negcurve.read_scan(glass / "two.tif", gamma=1.0)
    message = str(caught.value)
    assert "2 targets lie in this scan (" in message
    assert ONE.identity_text in message
    assert OTHER.identity_text in message
    assert "Say which: --which left, right, top or bottom, or the number" in message
    with pytest.raises(ReadingsError, match="2 targets lie in this scan"):
        negcurve.read_scan(glass / "twice.tif", gamma=1.0, which=ONE.identity_text)
    with pytest.raises(ReadingsError) as caught:
        negcurve.read_scan(glass / "twice.tif", gamma=1.0)
    assert "Say which: --which left, right, top or bottom; or crop" in str(caught.value)
    with pytest.raises(
        ReadingsError, match="2 of the 2 targets lie about as far to the left\nName"
    ):
        negcurve.read_scan(glass / "above.tif", gamma=1.0, which="left")
    with pytest.raises(
        ReadingsError, match="2 of the 2 targets lie about as far to the bottom"
    ):
        negcurve.read_scan(glass / "twice.tif", gamma=1.0, which="bottom")
    with pytest.raises(ReadingsError, match="'00000000' is none of the targets that"):
        negcurve.read_scan(glass / "two.tif", gamma=1.0, which="00000000")


@pytest.fixture(scope="module")
def blue(tmp_path_factory):
    """A print whose red density is 1, green 0.6 and blue 0.2 of its full range."""
    folder = tmp_path_factory.mktemp("blue")
    shares = (1.0, 0.6, 0.2)
    levels = []
    for share in shares:
        _, made = scan_of(ONE, ppi=PPI, d_min=0.06, d_max=0.06 + 1.3 * share)
        levels.append(srgb_level(made.reflectance))
    codes = np.rint(np.stack(levels, axis=2) * 65535).astype(np.uint16)
    _write(folder / "blue.tif", codes)
    _write(folder / "grey.tif", codes[:, :, 0])
    write_layout(ONE, folder / "t.layout.json")
    return folder


@pytest.mark.parametrize(
    ("channel", "share"), [("red", 1.0), ("green", 0.6), ("blue", 0.2)]
)
def test_a_channel_is_read_and_marked(blue, tmp_path, channel, share):
    options = ReadOptions(
        inputs=[blue / "blue.tif"],
        output=tmp_path / "r.csv",
        channel=channel,
        profile=_srgb_profile(tmp_path),
    )
    readings = read(options).readings
    assert readings.density_kind == channel
    level = readings.negative_level
    np.testing.assert_allclose(
        readings.density, 0.06 + 1.3 * share * level**1.4, atol=0.004
    )
    assert negcurve.read_readings(tmp_path / "r.csv").density_kind == channel


def test_luminance_of_a_coloured_print_weighs_the_channels(blue, tmp_path):
    """D50 luminance of sRGB: 0.2225, 0.7169, 0.0606.

    Source: the adapted primaries of the sRGB profile, IEC 61966-2-1:1999, annex.
    """
    readings = negcurve.read_scan(blue / "blue.tif", profile=_srgb_profile(tmp_path))
    assert readings.density_kind == "luminance"
    level = readings.negative_level
    light = sum(
        weight * 10 ** -(0.06 + 1.3 * share * level**1.4)
        for weight, share in zip((0.2225, 0.7169, 0.0606), (1, 0.6, 0.2), strict=True)
    )
    np.testing.assert_allclose(readings.density, -np.log10(light), atol=0.004)


def _srgb_profile(folder):
    path = folder / "srgb.icc"
    path.write_bytes(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    return path


@pytest.mark.parametrize(
    ("name", "options", "said"),
    [
        ("grey.tif", {"channel": "red", "gamma": 1.0}, "has no red channel, it is"),
        ("blue.tif", {"channel": "visual"}, "a scan gives no visual density"),
        ("blue.tif", {"which": "middle"}, "'middle' is neither a place nor a target's"),
        ("blue.tif", {"order": "rows"}, "is said of an instrument's list, but none is"),
        ("blue.tif", {"zero": "paper"}, "is said of an instrument's list, but none is"),
    ],
)
def test_what_a_scan_cannot_give_is_refused(blue, name, options, said):
    with pytest.raises(InvalidValueError, match=said):
        negcurve.read_scan(blue / name, **options)
