"""Exported tables, followed by readers from outside the project."""

import json
import shutil
import subprocess
import sys
import xml.etree.ElementTree as Xml
from dataclasses import replace
from pathlib import Path
from typing import Any

import imagecodecs
import numpy as np
import pytest
import tifffile
from PIL import Image, ImageCms

import negcurve
from negcurve.encoding import GREY_ENCODINGS, SRGB_GREY
from negcurve.errors import FileError, InvalidValueError
from negcurve.files.solution_json import write_solution
from negcurve.negative.tones import code_map
from negcurve.response.response import Response
from negcurve.response.solution import Solution
from negcurve.response.table import LookupTable
from negcurve.tasks.export import ExportResult, export_table
from negcurve.values import FloatArray
from tests.negative.pictures import print_table
from tests.negative.test_tally import solution

CODES = np.arange(65536, dtype=np.uint16)
LEVELS = np.linspace(0, 1, 65536)
INK = (20, 110, 0)


def solved(**path: str) -> Solution:
    """A table whose white keeps ink away from the end of the scale."""
    table = print_table()
    level = np.linspace(table.level_nodes[-1], table.level_nodes[0], 401)
    share = (level - level[0]) / (level[-1] - level[0])
    response = Response(
        level_nodes=level,
        density_nodes=0.1 + 1.3 * share**1.4,
        error_nodes=np.full(401, 0.01),
    )
    return replace(
        solution(),
        table=table,
        response=response,
        notes={"exposure": "6 min 20 s", "lamp": "LED"},
        printer_path={"mode": "grey", "bits": "16", "ppi": "360", **path},
    )


def lightness(y: FloatArray) -> FloatArray:
    """CIE 15:2004, 8.2.1.1, written out."""
    return np.where(y > 216 / 24389, 116 * np.cbrt(y) - 16, y * 24389 / 27)


LIGHT = {
    # IEC 61966-2-1:1999, 5.2.
    "srgb": lambda v: np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4),
    "gamma-1.8": lambda v: v**1.8,
    "gamma-2.2": lambda v: v**2.2,
    "linear": lambda v: v,
}


def wanted(encoding: str, level: FloatArray) -> FloatArray:
    """Negative levels by the definitions alone, nothing of ours but the nodes."""
    table = print_table()
    tone = level if encoding == "lightness" else lightness(LIGHT[encoding](level)) / 100
    return np.interp(tone, table.tone_nodes, table.level_nodes)


def whats(result: ExportResult) -> str:
    return "\n".join(str(each) for each in result.findings)


def linked(link: Path, codes: np.ndarray[Any, Any], *more: str) -> np.ndarray[Any, Any]:
    """What LittleCMS's own program makes of codes through a link, as it comes."""
    if shutil.which("tificc") is None:
        pytest.skip("tificc of LittleCMS is not installed (liblcms2-utils)")
    given, made = link.with_name("in.tif"), link.with_name("out.tif")
    kind = "rgb" if codes.ndim == 3 else "minisblack"
    tifffile.imwrite(given, codes, photometric=kind)
    width = f"-w{8 * codes.itemsize}"
    words = ["tificc", width, *more, "-l", link, given, made]
    subprocess.run(words, check=True, capture_output=True)
    return np.asarray(tifffile.imread(made))


@pytest.mark.parametrize("encoding", sorted(GREY_ENCODINGS))
def test_littlecms_applies_the_link_as_apply_does(
    encoding: str, tmp_path: Path
) -> None:
    path = tmp_path / "t.icc"
    result = export_table(solved(), path, encoding=encoding)
    found = linked(path, CODES.reshape(256, 256)).ravel().astype(int)
    ours = code_map(GREY_ENCODINGS[encoding], print_table()).astype(int)
    # LittleCMS rounds the curve and what it makes of it: one code each.
    assert np.abs(found - ours).max() <= 2
    assert np.abs(found - 65535 * wanted(encoding, LEVELS)).max() <= 2
    assert result.error.level * 65535 < 0.6


@pytest.mark.parametrize("intent", ["-t0", "-t1", "-t3"])
def test_white_of_the_picture_stays_where_the_table_has_it(
    intent: str, tmp_path: Path
) -> None:
    """A link with a grid has its white moved to clear film, which prints black."""
    export_table(solved(), tmp_path / "t.icc")
    codes = np.repeat(np.array([[0, 254, 255]], np.uint8), 4, axis=0)
    found = linked(tmp_path / "t.icc", codes, intent)[0]
    np.testing.assert_allclose(found, 255 * wanted("srgb", codes[0] / 255), atol=0.51)


def test_the_link_is_a_whole_profile_that_says_what_it_is(tmp_path: Path) -> None:
    path = tmp_path / "t.icc"
    export_table(solved(), path, encoding="gamma-2.2")
    content = path.read_bytes()
    imagecodecs.cms_profile_validate(content)
    profile = ImageCms.getOpenProfile(str(path)).profile
    assert (profile.device_class, profile.version) == ("link", 4.3)
    assert (profile.xcolor_space, profile.connection_space) == ("GRAY", "GRAY")
    assert profile.rendering_intent == ImageCms.Intent.RELATIVE_COLORIMETRIC
    said = profile.profile_description
    assert f"table {print_table().identity}" in said
    assert "expects: grey levels, encoded with gamma 2.2 (gamma-2.2)" in said
    assert "inversion: inside" in said
    assert "largest error: 0.50 of a 16-bit code" in said
    assert "exposure: 6 min 20 s" in said
    assert len(content) % 4 == 0


@pytest.mark.parametrize("kind", ["link", "profile"])
def test_another_colour_engine_takes_the_profiles(kind: str, tmp_path: Path) -> None:
    iccdev = pytest.importorskip(
        "iccdev", reason="iccdev, another ICC engine, is not installed"
    )
    path = tmp_path / "t.icc"
    export_table(solved(), path, kind=kind)
    report = iccdev.validate_profile(path.read_bytes())
    assert report.status == iccdev.ValidationStatus.OK, report.report
    if kind == "link":
        with iccdev.IccCmm() as engine:
            engine.attach(str(path))
            engine.begin()
            level = np.linspace(0, 1, 999)
            found = [engine.apply([each])[0] for each in level]
        np.testing.assert_allclose(found, wanted("srgb", level), atol=1.1 / 65535)


def test_a_coloured_ink_makes_a_link_from_rgb_to_rgb(tmp_path: Path) -> None:
    path = tmp_path / "t.icc"
    result = export_table(solved(mode="rgb", ink="20,110,0"), path)
    profile = ImageCms.getOpenProfile(str(path)).profile
    assert (profile.xcolor_space, profile.connection_space) == ("RGB ", "RGB ")
    assert "grey levels in RGB" in profile.profile_description
    codes = np.repeat(CODES.reshape(256, 256)[..., np.newaxis], 3, axis=2)
    found = linked(path, codes).reshape(-1, 3)
    level = wanted("srgb", LEVELS)[:, np.newaxis]
    colour = 1 - (1 - level) * (1 - np.array(INK) / 255)
    np.testing.assert_allclose(found, 65535 * colour, atol=2)
    assert result.error.lightness < 0.01


def test_littlecms_converts_to_the_grey_profile(tmp_path: Path) -> None:
    path = tmp_path / "t.icc"
    result = export_table(solved(), path, kind="profile")
    content = path.read_bytes()
    imagecodecs.cms_profile_validate(content)
    profile = ImageCms.getOpenProfile(str(path)).profile
    assert (profile.device_class, profile.version) == ("prtr", 4.3)
    assert (profile.xcolor_space, profile.connection_space) == ("GRAY", "Lab ")
    assert "intent: relative colorimetric" in profile.profile_description
    assert "inversion: outside" in profile.profile_description
    light = np.linspace(0, 1, 2001)
    found = imagecodecs.cms_transform(
        light[np.newaxis],
        imagecodecs.cms_profile("gray", gamma=1.0),
        content,
        colorspace="gray",
        outcolorspace="gray",
        outdtype=np.float64,
        intent=1,
    ).ravel()
    # 16-bit tables of the engine on the way there: two codes.
    np.testing.assert_allclose(found, 1 - wanted("linear", light), atol=2 / 65535)
    assert result.inversion == "outside"
    assert "pure white full ink in place of level 0.139" in whats(result)


def test_an_8_bit_picture_is_converted_to_the_grey_profile(tmp_path: Path) -> None:
    path = tmp_path / "t.icc"
    export_table(solved(), path, kind="profile")
    ramp = Image.fromarray(np.arange(256, dtype=np.uint8)[np.newaxis]).convert("RGB")
    transform = ImageCms.buildTransform(
        ImageCms.createProfile("sRGB"),
        str(path),
        "RGB",
        "L",
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
    )
    found = np.asarray(ImageCms.applyTransform(ramp, transform)).ravel()
    positive = 255 * (1 - wanted("srgb", np.arange(256) / 255))
    np.testing.assert_allclose(found[:248], positive[:248], atol=1)
    # What the export warns of: this engine moves white to the end of the scale.
    assert found[255] == 255
    assert (np.diff(found.astype(int)) >= 0).all()


def test_the_grey_profile_turns_its_levels_back_into_lightness(tmp_path: Path) -> None:
    path = tmp_path / "t.icc"
    export_table(solved(), path, kind="profile")
    tone = np.linspace(0.02, 0.98, 99)
    table = print_table()
    device = 1 - np.interp(tone, table.tone_nodes, table.level_nodes)
    light = imagecodecs.cms_transform(
        device[np.newaxis],
        path.read_bytes(),
        imagecodecs.cms_profile("xyz"),
        colorspace="gray",
        outcolorspace="xyz",
        outdtype=np.float64,
        intent=1,
    ).reshape(-1, 3)[:, 1]
    np.testing.assert_allclose(lightness(light), 100 * tone, atol=0.02)


@pytest.mark.parametrize("suffix", [".clf", ".cube"])
@pytest.mark.parametrize("encoding", ["srgb", "linear"])
def test_opencolorio_follows_the_text_formats(
    suffix: str, encoding: str, tmp_path: Path
) -> None:
    ocio = pytest.importorskip("PyOpenColorIO", reason="OpenColorIO is not installed")
    path = tmp_path / f"t{suffix}"
    result = export_table(solved(), path, encoding=encoding)
    pixels = np.repeat(LEVELS.astype(np.float32)[:, np.newaxis], 3, axis=1)
    given = pixels[:, 0].astype(np.float64)
    transform = ocio.FileTransform(str(path))
    processor = ocio.Config.CreateRaw().getProcessor(transform)
    processor.getDefaultCPUProcessor().applyRGB(pixels)
    for channel in pixels.T:
        # Between samples the text is straight, the map is not: what the file says of
        # itself, and single precision.
        np.testing.assert_allclose(
            channel,
            wanted(encoding, given),
            atol=result.error.level + 2e-7,
        )


@pytest.mark.parametrize("suffix", [".clf", ".cube"])
def test_opencolorio_sees_the_coloured_ink(suffix: str, tmp_path: Path) -> None:
    ocio = pytest.importorskip("PyOpenColorIO", reason="OpenColorIO is not installed")
    path = tmp_path / f"t{suffix}"
    export_table(solved(mode="rgb", ink="20,110,0"), path, encoding="lightness")
    pixels = np.array([[0, 0, 0], [0.5, 0.5, 0.5], [1, 1, 1]], dtype=np.float32)
    transform = ocio.FileTransform(str(path))
    processor = ocio.Config.CreateRaw().getProcessor(transform)
    processor.getDefaultCPUProcessor().applyRGB(pixels)
    level = wanted("lightness", np.array([0, 0.5, 1]))[:, np.newaxis]
    colour = 1 - (1 - level) * (1 - np.array(INK) / 255)
    np.testing.assert_allclose(pixels, colour, atol=1e-6)


def test_the_cube_keeps_to_the_limits_of_its_format(tmp_path: Path) -> None:
    notes = {"paper": "a" * 400, "glass": "Überfang"}
    export_table(replace(solved(), notes=notes), tmp_path / "t.cube", points=65536)
    content = (tmp_path / "t.cube").read_bytes()
    lines = content.decode("ascii").splitlines()
    assert max(map(len, lines)) <= 250
    assert "LUT_1D_SIZE 65536" in lines
    rows = [line for line in lines if line[0].isdigit()]
    assert len(rows) == 65536


def test_the_clf_has_what_its_standard_asks_for(tmp_path: Path) -> None:
    for place in "ab":
        export_table(solved(), tmp_path / f"{place}.clf", encoding="linear")
    assert (tmp_path / "a.clf").read_bytes() == (tmp_path / "b.clf").read_bytes()
    root = Xml.parse(tmp_path / "a.clf").getroot()
    space = "{http://www.smpte-ra.org/ns/2136-1/2024}"
    assert root.tag == f"{space}ProcessList"
    assert root.get("compCLFversion") == "3.0"
    assert str(root.get("id")).startswith("urn:uuid:")
    array = root.find(f"{space}LUT1D/{space}Array")
    assert array is not None
    assert array.get("dim") == "4096 1"
    told = [each.text for each in root.findall(f"{space}Description")]
    assert any("linear light (linear)" in str(each) for each in told)
    assert any("largest error" in str(each) for each in told)


def test_the_csv_has_two_named_columns(tmp_path: Path) -> None:
    result = export_table(solved(), tmp_path / "t.csv", points=33)
    lines = (tmp_path / "t.csv").read_text(encoding="utf-8").splitlines()
    head = [line for line in lines if line.startswith("#")]
    assert lines[len(head)] == "image_level,negative_level"
    table = np.array([line.split(",") for line in lines[len(head) + 1 :]], float)
    np.testing.assert_allclose(table[:, 0], np.linspace(0, 1, 33), atol=1e-9)
    np.testing.assert_allclose(table[:, 1], wanted("srgb", table[:, 0]), atol=1e-9)
    assert any("encoded by the sRGB curve" in line for line in head)
    followed = np.interp(LEVELS, table[:, 0], table[:, 1])
    worst = np.abs(followed - wanted("srgb", LEVELS)).max()
    assert result.error.level == pytest.approx(worst, abs=1e-8)
    assert f"# largest error: {65535 * worst:.2f} of a 16-bit code" in head[1]


def test_with_the_inversion_outside_a_positive_comes_out(tmp_path: Path) -> None:
    export_table(solved(), tmp_path / "in.csv")
    export_table(solved(), tmp_path / "out.csv", inversion="outside")
    inside, outside = (
        np.loadtxt(tmp_path / name, delimiter=",", skiprows=count)
        for name, count in (("in.csv", 9), ("out.csv", 9))
    )
    np.testing.assert_allclose(inside[:, 1] + outside[:, 1], 1, atol=2e-9)
    text = (tmp_path / "out.csv").read_text(encoding="utf-8")
    assert "image_level,positive_level" in text
    assert "invert it to print" in text


def test_too_few_samples_are_said(tmp_path: Path) -> None:
    result = export_table(solved(), tmp_path / "t.cube", encoding="linear", points=64)
    assert "64 samples leave an error of" in whats(result)
    assert result.error.lightness > 0.1
    bare = export_table(print_table(), tmp_path / "b.cube", points=64)
    assert np.isnan(bare.error.lightness)


@pytest.mark.parametrize(
    ("name", "options", "says"),
    [
        ("t.txt", {}, "'.txt' says no format|.txt says no format"),
        ("t", {}, "no ending says no format"),
        ("t.icc", {"kind": "clf"}, "'clf' is no kind of .icc file"),
        ("t.cube", {"encoding": "gamma-3"}, "'gamma-3' is not known"),
        ("t.icc", {"points": 5000}, "5000 samples are not possible"),
        ("t.csv", {"points": 3}, "3 samples are not possible"),
        ("t.clf", {"inversion": "both"}, "'both' is not known"),
        ("t.icc", {"kind": "profile", "inversion": "inside"}, "level 0 of one is"),
        (
            "t.icc",
            {"kind": "profile", "encoding": "srgb"},
            "pictures of every encoding",
        ),
    ],
)
def test_what_makes_no_sense_is_refused(
    name: str, options: dict[str, Any], says: str, tmp_path: Path
) -> None:
    with pytest.raises(InvalidValueError, match=says):
        export_table(solved(), tmp_path / name, **options)
    assert not list(tmp_path.iterdir())


def test_a_grey_profile_cannot_carry_a_coloured_ink(tmp_path: Path) -> None:
    kept = solved(ink="20,110,0")
    with pytest.raises(InvalidValueError, match="coloured ink 20,110,0"):
        export_table(kept, tmp_path / "t.icc", kind="profile")


def test_nothing_is_overwritten_unasked(tmp_path: Path) -> None:
    table = tmp_path / "t.json"
    write_solution(solved(), table)
    (tmp_path / "t.cube").write_text("mine")
    with pytest.raises(FileError, match="exists already"):
        export_table(table, tmp_path / "t.cube")
    assert (tmp_path / "t.cube").read_text() == "mine"
    negcurve.export_table(table, tmp_path / "t.cube", overwrite=True)
    assert "LUT_1D_SIZE" in (tmp_path / "t.cube").read_text()


def test_a_steep_table_is_followed_in_every_format(tmp_path: Path) -> None:
    """Half of the levels within a hundredth of the tones."""
    tone = np.array([0, 0.495, 0.505, 1])
    level = np.array([0.9, 0.7, 0.2, 0.1])
    table = LookupTable(tone_nodes=tone, level_nodes=level)
    for suffix in (".icc", ".clf", ".cube"):
        result = export_table(table, tmp_path / f"t{suffix}", encoding="lightness")
        # Straight samples cut a corner by at most half a step times the bend.
        assert result.error.level < 0.5 / 4095 * 50 / 2
    own = code_map(SRGB_GREY, table)
    assert own[0] == round(0.9 * 65535)


def test_the_command_says_what_it_wrote(tmp_path: Path) -> None:
    write_solution(solved(), tmp_path / "t.json")

    def run(*words: str) -> subprocess.CompletedProcess[str]:
        code = "from negcurve.cli import main; main()"
        return subprocess.run(
            [sys.executable, "-c", code, "export", *words],
            capture_output=True,
            text=True,
            check=False,
            cwd=tmp_path,
        )

    outcome = run("t.json", "-o", "t.icc", "--encoding", "gamma-1.8")
    assert outcome.returncode == 0, outcome.stderr
    for said in (
        "ICC device link of table",
        "expects grey levels, encoded with gamma 1.8 (gamma-1.8)",
        "inversion inside",
        "largest error against the table: 0.50 of a 16-bit code, 0.00",
        "expose as the target: exposure 6 min 20 s; lamp LED",
        "UV light",
        "safety data sheet",
    ):
        assert said in outcome.stdout
    plain = json.loads(run("t.json", "-o", "t.csv", "--json").stdout)
    assert plain["schema"] == "negcurve/export/1"
    assert plain["result"]["encoding"] == "srgb"
    assert plain["result"]["largest_error_level"] < 1e-3
    refused = run("t.json", "-o", "t.icc")
    assert refused.returncode == 3
    assert "exists already" in refused.stderr
