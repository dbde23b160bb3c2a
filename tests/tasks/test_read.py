from pathlib import Path

import numpy as np
import pytest
import tifffile
from PIL import Image, ImageCms

import negcurve
from negcurve.errors import FileError, InvalidValueError, ReadingsError
from negcurve.files.layout_json import write_layout
from negcurve.files.readings_csv import read_readings
from negcurve.tasks.read import read
from negcurve.tasks.read_options import ReadOptions
from tests.reading.prints import scan_of, small_layout

LAYOUT = small_layout()
PPI = 150


@pytest.fixture(scope="module")
def scans(tmp_path_factory):
    """A folder with one print as three files, and its layout."""
    folder = tmp_path_factory.mktemp("scans")
    source, made = scan_of(LAYOUT, ppi=PPI, tilt_degrees=1, noise=0.002)
    _write_tiff(folder / "linear.tif", source.codes[:, :, 0])
    codes = np.rint(srgb_level(made.reflectance) * 255).astype(np.uint8)
    picture = Image.fromarray(np.repeat(codes[:, :, None], 3, axis=2))
    picture.save(folder / "colour.png", dpi=(PPI, PPI))
    picture.save(folder / "colour.jpg", dpi=(PPI, PPI), quality=90)
    (folder / "target").mkdir()
    write_layout(LAYOUT, folder / "target" / "t.layout.json")
    return folder, made


def srgb_level(light):
    """IEC 61966-2-1, the sRGB curve, written out."""
    light = np.clip(light, 0, 1)
    return np.where(
        light > 0.0031308, 1.055 * light ** (1 / 2.4) - 0.055, 12.92 * light
    )


def _write_tiff(path, codes):
    tifffile.imwrite(
        path, codes, resolution=(PPI, PPI), resolutionunit="INCH", metadata=None
    )


def options(folder, *names, **changes):
    usual = {"target": folder / "target" / "t.layout.json"}
    return ReadOptions(inputs=[folder / name for name in names], **{**usual, **changes})


@pytest.mark.parametrize(
    ("name", "gamma", "most"),
    [
        ("linear.tif", 1.0, 0.004),
        ("colour.png", None, 0.01),
        ("colour.jpg", None, 0.02),
    ],
)
def test_a_scan_becomes_a_readings_file(scans, tmp_path, name, gamma, most):
    folder, made = scans
    csv, png = tmp_path / "r.csv", tmp_path / "check.png"
    result = read(options(folder, name, output=csv, overlay=png, gamma=gamma))
    written = read_readings(csv)
    np.testing.assert_array_equal(written.density, result.readings.density)
    assert written.patch == result.readings.patch
    assert written.sheet == Path(name).stem
    assert written.source == name
    assert written.target == LAYOUT.identity_text
    assert written.density_zero == "scanner"
    assert (
        np.abs(written.density - made.density_of(written.negative_level)).max() < most
    )
    with Image.open(png) as shown:
        assert max(shown.size) >= 1600
    assumed = ["sRGB is assumed" in str(each) for each in result.findings]
    assert any(assumed) == (gamma is None)
    assert (result.output, result.overlay) == (csv, png)
    assert len(result.scans) == 1


def test_the_api_reads_without_writing(scans):
    folder, _ = scans
    readings = negcurve.read_scan(
        folder / "linear.tif",
        target=folder / "target" / "t.layout.json",
        gamma=1.0,
        sheet="first",
        hours_dry=24,
        print_state="wet",
    )
    assert (readings.sheet, readings.hours_dry) == ("first", 24)
    assert readings.print_state == "wet"
    assert sorted(each.name for each in folder.iterdir()) == [
        "colour.jpg",
        "colour.png",
        "linear.tif",
        "target",
    ]


def test_the_layout_is_found_beside_the_scan(scans, tmp_path):
    folder, _ = scans
    (tmp_path / "scan.tif").write_bytes((folder / "linear.tif").read_bytes())
    with pytest.raises(ReadingsError) as caught:
        negcurve.read_scan(tmp_path / "scan.tif", gamma=1.0)
    assert f"this is target {LAYOUT.identity_text}; looked for" in str(caught.value)
    write_layout(LAYOUT, tmp_path / "some.layout.json")
    assert len(negcurve.read_scan(tmp_path / "scan.tif", gamma=1.0)) == 54


@pytest.mark.parametrize("embedded", [True, False])
def test_a_profile_is_honoured(scans, tmp_path, embedded):
    """The sRGB profile that LittleCMS makes, embedded or named, on 16-bit RGB."""
    folder, made = scans
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    (tmp_path / "p.icc").write_bytes(profile)
    codes = np.rint(srgb_level(made.reflectance) * 65535).astype(np.uint16)
    tifffile.imwrite(
        tmp_path / "scan.tif",
        np.repeat(codes[:, :, None], 3, axis=2),
        photometric="rgb",
        resolution=(PPI, PPI),
        resolutionunit="INCH",
        metadata=None,
        iccprofile=profile if embedded else None,
    )
    readings = negcurve.read_scan(
        tmp_path / "scan.tif",
        target=folder / "target" / "t.layout.json",
        profile=None if embedded else tmp_path / "p.icc",
    )
    true = made.density_of(readings.negative_level)
    np.testing.assert_allclose(readings.density, true, atol=0.004)
    assert readings.findings == ()


def test_an_untagged_16_bit_scan_asks_for_its_gamma(scans):
    folder, _ = scans
    with pytest.raises(ReadingsError) as caught:
        read(options(folder, "linear.tif"))
    assert str(caught.value) == (
        "linear.tif: this scan has 16 bits and no profile, so its levels may be linear "
        "or not\nGive --gamma 1.0 for a linear (raw) scan, --gamma 2.2 or the "
        "scanner's --profile FILE.icc otherwise; or save scans with a profile."
    )


def test_several_scans_are_averaged(scans, tmp_path):
    folder, _ = scans
    again, _ = scan_of(LAYOUT, ppi=PPI, turn=2, noise=0.002, seed=5)
    _write_tiff(tmp_path / "again.tif", again.codes[:, :, 0])
    inputs = [folder / "linear.tif", tmp_path / "again.tif"]
    target = folder / "target" / "t.layout.json"
    result = read(ReadOptions(inputs=inputs, target=target, gamma=1.0))
    assert len(result.scans) == 2
    assert len(result.readings) == 54
    assert result.readings.sheet == "linear"
    assert any("2 readings of the print" in each.what for each in result.findings)


def test_densities_by_hand_in_the_order_of_the_layout(scans, tmp_path):
    folder, made = scans
    true = made.density_of([patch.negative_level for patch in LAYOUT.patches])
    typed = tmp_path / "typed.csv"
    typed.write_text("density\n" + "\n".join(f"{each:.2f}" for each in true) + "\n")
    csv = tmp_path / "r.csv"
    target = folder / "target" / "t.layout.json"
    result = read(ReadOptions(inputs=[typed], output=csv, target=target))
    np.testing.assert_allclose(result.readings.density, true, atol=0.0051)
    assert result.readings.target == LAYOUT.identity_text
    assert result.readings.sheet == "typed"
    assert result.scans == ()
    assert read_readings(csv).patch == tuple(str(n) for n in range(1, 55))


def test_outputs_are_checked_before_anything_is_read(scans, tmp_path):
    folder, _ = scans
    (tmp_path / "r.csv").write_text("mine")
    with pytest.raises(FileError, match="exists"):
        read(options(folder, "no such scan.tif", output=tmp_path / "r.csv"))
    assert (tmp_path / "r.csv").read_text() == "mine"
    with pytest.raises(FileError, match=r"a list of readings .*\n?.*ends in \.csv"):
        read(options(folder, "linear.tif", output=tmp_path / "r.tif", overwrite=True))
    typed = tmp_path / "r.csv"
    with pytest.raises(FileError, match="is an input of this command"):
        read(ReadOptions(inputs=[typed], output=typed, overwrite=True))


def test_nothing_is_written_when_the_scan_cannot_be_read(scans, tmp_path):
    folder, _ = scans
    blank = np.full((400, 500), 60000, dtype=np.uint16)
    _write_tiff(tmp_path / "blank.tif", blank)
    out = tmp_path / "out"
    out.mkdir()
    with pytest.raises(ReadingsError, match="nearly blank"):
        read(
            ReadOptions(
                inputs=[tmp_path / "blank.tif"],
                target=folder / "target" / "t.layout.json",
                gamma=1.0,
                output=out / "r.csv",
                overlay=out / "o.png",
            )
        )
    assert list(out.iterdir()) == []


def test_the_target_file_itself_is_no_scan(tmp_path):
    path = tmp_path / "t.tif"
    negcurve.make_target(path, sheet="4x5in", levels=11, ppi=100)
    with pytest.raises(ReadingsError) as caught:
        negcurve.read_scan(path)
    assert str(caught.value) == (
        "t.tif: this is the target file itself, not a scan of a print\nPrint the "
        "target on film, expose and develop a sheet with it, and scan that."
    )


@pytest.mark.parametrize(
    ("changes", "what"),
    [
        ({"inputs": []}, "nothing to read"),
        ({"inputs": ["a.tif", "b.tif", "./a.tif"]}, "a.tif: is named twice"),
        ({"profile": "p.icc", "gamma": 1.0}, "both given"),
        ({"inputs": ["a.tif", "b.tif"], "overlay": "o.png"}, "shows one scan, 2"),
        ({"inputs": ["a.csv"], "overlay": "o.png"}, "shows one scan, none given"),
        ({"corners_px": [(1, 2)]}, "places given: 1; needed: one for each mark"),
        ({"inputs": ["a.tif", "b.tif"], "corners_px": [(1, 2)]}, "in one scan, 2"),
        ({"hours_dry": -1.0}, "-1 is no time"),
    ],
)
def test_options_that_do_not_go_together_are_refused(changes, what):
    with pytest.raises(InvalidValueError, match=what):
        read(ReadOptions(**{"inputs": ["a.tif"], **changes}))


def test_an_overlay_under_another_name_is_refused_before_any_work(tmp_path):
    with pytest.raises(FileError, match=r"but a PNG would be written"):
        read(ReadOptions(inputs=[tmp_path / "none.tif"], overlay="x.jpg"))
