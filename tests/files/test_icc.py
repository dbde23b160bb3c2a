"""Profiles become the encodings that LittleCMS, an outside engine, sees in them."""

import imagecodecs
import numpy as np
import pytest
from PIL import ImageCms

from negcurve.density import lightness_from_reflectance
from negcurve.encoding import SRGB, CurveEncoding, black_is_scaled, image_tone
from negcurve.errors import FileError
from negcurve.files.icc import TableEncoding, encoding_from_profile
from tests.files import profiles
from tests.files.profiles import gamma, grey, identity, parametric, rgb, table

CURVES = {
    "identity": identity(),
    "gamma 1": gamma(1.0),
    "gamma 1.8": gamma(1.8),
    "gamma 2.2": gamma(2.2),
    "two samples": table([0, 1]),
    "samples": table(np.linspace(0, 1, 256) ** 2.4),
    "many samples": table(np.linspace(0, 1, 4096) ** 1.7),
    "parametric 0": parametric(0, 2.2),
    "parametric 1": parametric(1, 2.4, 1.1, -0.1),
    "parametric 2": parametric(2, 2.4, 0.9, -0.05, 0.1),
    "parametric 3": parametric(3, *profiles.SRGB_CURVE),
    "parametric 4": parametric(4, 2.4, 0.9, 0.05, 0.3, 0.1, 0.05, 0.002),
}


def littlecms(profile, levels, channels):
    """Y by LittleCMS 2 in float64 (through imagecodecs), relative colorimetric."""
    found = imagecodecs.cms_transform(
        levels.reshape(1, -1, 3) if channels == 3 else levels.reshape(1, -1),
        profile,
        imagecodecs.cms_profile("xyz"),
        colorspace="rgb" if channels == 3 else "gray",
        outcolorspace="xyz",
        outdtype=np.float64,
        intent=1,
    )
    return found.reshape(-1, 3)[:, 1]


def tolerance(name):
    """LittleCMS keeps formulas as single-precision numbers, and looks samples up in 16
    bits: half a code in times the slope (2.4 at most here), and half a code out.
    """
    return 0.5 * (1 + 2.4) / 65535 if "samples" in name else 2e-6


@pytest.mark.parametrize("version", [2, 4])
@pytest.mark.parametrize("name", CURVES)
def test_grey_curves(name, version):
    profile = grey(CURVES[name], version=version)
    levels = np.linspace(0, 1, 1001)
    encoding = encoding_from_profile(profile, channels=1)
    assert isinstance(encoding, CurveEncoding)
    assert encoding.channels == 1
    found = encoding.luminance(levels[:, np.newaxis])
    np.testing.assert_allclose(
        found, littlecms(profile, levels, 1), rtol=0, atol=tolerance(name)
    )


def test_sampled_curves_run_straight_between_their_samples():
    # ICC.1:2010, 10.5: linear interpolation between samples evenly spaced over 0..1.
    encoding = encoding_from_profile(grey(table([0, 0.2, 1])), channels=1)
    levels = np.array([[0], [0.25], [0.5], [0.6], [1]])
    stored = round(0.2 * 65535) / 65535
    expected = [0, stored / 2, stored, stored + 0.2 * (1 - stored), 1]
    np.testing.assert_allclose(encoding.luminance(levels), expected, atol=1e-15)


@pytest.mark.parametrize("name", CURVES)
def test_rgb_curves(name):
    profile = rgb(CURVES[name])
    rng = np.random.default_rng(4)
    levels = np.concatenate([rng.random((500, 3)), np.eye(3), np.zeros((1, 3))])
    encoding = encoding_from_profile(profile, channels=3)
    found = encoding.luminance(levels)
    # White is 1 by definition here; LittleCMS leaves the sum of the stored primaries.
    white = littlecms(profile, np.ones((1, 3)), 3)[0] / encoding.luminance(
        np.ones((1, 3))
    )
    assert white == pytest.approx(1, abs=1e-4)
    np.testing.assert_allclose(
        found * white, littlecms(profile, levels, 3), rtol=0, atol=tolerance(name)
    )


def test_grey_in_lab_space():
    # ICC.1:2010, 8.3.4 with a Lab connection space: the curve gives L*.
    profile = grey(gamma(1.0), connection=b"Lab ")
    encoding = encoding_from_profile(profile, channels=1)
    levels = np.linspace(0, 1, 101)
    found = encoding.luminance(levels[:, np.newaxis])
    np.testing.assert_allclose(lightness_from_reflectance(found), 100 * levels)
    # LittleCMS holds Lab in 16 bits on the way: 3.5e-5 in its published trial.
    np.testing.assert_allclose(found, littlecms(profile, levels, 1), atol=5e-5)


def test_srgb_as_pillow_makes_it():
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    encoding = encoding_from_profile(profile, channels=3)
    levels = np.random.default_rng(5).random((1000, 3))
    # The profile's primaries have 16 bits of fraction: 1.5e-5 at most.
    np.testing.assert_allclose(
        encoding.luminance(levels), SRGB.luminance(levels), atol=1.5e-5
    )
    assert "sRGB" in encoding.name


@pytest.mark.parametrize("channels", [1, 3])
def test_tables_go_through_littlecms(channels):
    profile = profiles.lut(9, channels=channels, black=0.02)
    encoding = encoding_from_profile(profile, channels=channels)
    assert isinstance(encoding, TableEncoding)
    nodes = np.linspace(0, 1, 9)
    levels = np.repeat(nodes[:, np.newaxis], channels, axis=1)
    # On its grid a table gives what it holds, with 16 bits.
    np.testing.assert_allclose(
        encoding.luminance(levels), 0.02 + 0.98 * nodes**2.2, atol=4e-5
    )


def test_shapes_are_kept():
    for profile, channels in [
        (rgb(gamma(2.2)), 3),
        (profiles.lut(5), 3),
        (profiles.lut(5, channels=1), 1),
        (grey(gamma(2.2)), 1),
    ]:
        encoding = encoding_from_profile(profile, channels=channels)
        levels = np.random.default_rng(1).random((4, 5, channels))
        found = encoding.luminance(levels)
        assert found.shape == (4, 5)
        np.testing.assert_allclose(found[2, 3], encoding.luminance(levels[2, 3]))


def test_a_black_above_one_is_scaled():
    encoding = encoding_from_profile(profiles.lut(9, black=0.02), channels=3)
    assert black_is_scaled(encoding)
    ends = np.repeat([[0.0], [1.0]], 3, axis=1)
    np.testing.assert_allclose(image_tone(encoding, ends), [0, 1], atol=1e-4)
    unscaled = image_tone(encoding, ends, scale_black=False)
    np.testing.assert_allclose(
        unscaled, lightness_from_reflectance([0.02, 1.0]) / 100, atol=1e-3
    )


def test_a_grey_picture_with_an_rgb_profile():
    profile = rgb(gamma(1.8))
    grey_levels = np.linspace(0, 1, 50)[:, np.newaxis]
    found = encoding_from_profile(profile, channels=1)
    assert found.channels == 1
    whole = encoding_from_profile(profile, channels=3)
    np.testing.assert_allclose(
        found.luminance(grey_levels), whole.luminance(np.repeat(grey_levels, 3, 1))
    )


@pytest.mark.parametrize("version", [2, 4])
def test_an_encoding_has_its_profile_s_name(version):
    profile = grey(gamma(2.2), version=version)
    assert encoding_from_profile(profile, channels=1).name == "made for a test"


GOOD = rgb(table(np.linspace(0, 1, 64) ** 2))

DAMAGED = {
    "empty": (b"", "does not begin like a profile"),
    "noise": (bytes(range(256)), "does not begin like a profile"),
    "cut off": (GOOD[:-40], "it is cut off"),
    "cut in its tags": (GOOD[:140], "it is cut off"),
    "too many tags": (GOOD[:128] + b"\xff" * 4 + GOOD[132:], "it is cut off"),
    "no curve": (profiles.profile(b"GRAY", {}), "it has no tag kTRC"),
    "no primaries": (
        profiles.profile(b"RGB ", {b"rTRC": gamma(2)}),
        "it has no tag rXYZ",
    ),
    "dark primaries": (
        rgb(gamma(2), primaries=((0.1, 0.1, 0.1),) * 3),
        "its primaries add up to Y = 0.300, not 1",
    ),
    "curve of another type": (grey(profiles.xyz(1, 1, 1)), "of no known type"),
    "unknown parametric form": (grey(parametric(7, 1)), "unknown form 7"),
    "short parametric": (grey(parametric(4, 1, 1)), "a curve is cut off"),
    "slope of 0": (grey(parametric(1, 2, 0, 1)), "slope of 0"),
    "short table": (grey(b"curv\0\0\0\0\xff\xff\xff\xff\0\0"), "a curve is cut off"),
    "falling curve": (grey(table([1, 0])), "curve kTRC does not rise"),
    "flat curve": (grey(table([0.5, 0.5])), "curve kTRC does not rise"),
    "damaged table": (
        profiles.profile(b"RGB ", {b"A2B0": b"mft2" + bytes(20)}),
        "its tables cannot be used",
    ),
}


@pytest.mark.parametrize("name", DAMAGED)
def test_damaged_profiles_are_refused(name):
    content, sentence = DAMAGED[name]
    channels = 1 if b"GRAY" in content[:20] else 3
    with pytest.raises(FileError) as caught:
        encoding_from_profile(content, channels=channels, where="scan.tif")
    assert caught.value.where == "scan.tif"
    assert sentence in caught.value.what
    assert "--profile" in caught.value.fix


@pytest.mark.parametrize(
    ("content", "channels", "message"),
    [
        (
            grey(gamma(2)),
            3,
            "a.tif: the ICC profile is for grey, the picture is RGB\n"
            "Name a profile for it with --profile, or the gamma with --gamma.",
        ),
        (
            profiles.profile(b"CMYK", {}),
            3,
            "a.tif: the ICC profile is for CMYK, the picture is RGB\n"
            "Name a profile for it with --profile, or the gamma with --gamma.",
        ),
        (
            profiles.profile(b"RGB ", {}, kind=b"link"),
            3,
            "a.tif: the ICC profile is a link or a colour list, not a picture's "
            "profile\nName the scanner's or the picture's own profile.",
        ),
    ],
)
def test_profiles_for_something_else(content, channels, message):
    with pytest.raises(FileError) as caught:
        encoding_from_profile(content, channels=channels, where="a.tif")
    assert str(caught.value) == message


def test_any_damage_gives_an_encoding_or_a_sentence():
    rng = np.random.default_rng(8)
    levels = np.linspace(0, 1, 5)[:, np.newaxis]
    for good in (GOOD, grey(CURVES["parametric 4"]), profiles.lut(3)):
        channels = 1 if good[16:20] == b"GRAY" else 3
        for _ in range(150):
            content = bytearray(good)
            for place in rng.integers(0, len(content), 3):
                content[place] = rng.integers(0, 256)
            try:
                encoding = encoding_from_profile(bytes(content), channels=channels)
            except FileError:
                continue
            found = encoding.luminance(np.repeat(levels, channels, axis=1))
            assert np.isfinite(found).all()
