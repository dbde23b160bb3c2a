"""From a picture file and a solution to a negative on disk."""

import json
import os
import signal
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tifffile
from PIL import Image, ImageCms

import negcurve
from negcurve.encoding import SRGB, SRGB_GREY, grey_encoding
from negcurve.errors import FileError, InvalidValueError
from negcurve.files.solution_json import write_solution
from negcurve.files.tiff import GreyTiffWriter
from negcurve.negative.tones import STRAIGHT, Light, code_map
from negcurve.response.solution import Solution
from negcurve.tasks.apply import ApplyResult, apply_table
from negcurve.values import CodeArray
from tests.files.profiles import lut
from tests.negative.pictures import noise, print_table, scene
from tests.negative.test_tally import solution

PATH = {"mode": "grey", "bits": "16", "ppi": "360", "profile": "none"}


def solved(**changes: Any) -> Solution:
    notes = {"exposure": "6 min 20 s", "lamp": "LED"}
    return replace(solution(), **{"printer_path": PATH, "notes": notes, **changes})


def write_picture(path: Path, array: CodeArray, *, description: str = "") -> Path:
    with GreyTiffWriter(
        path,
        width=array.shape[1],
        height=array.shape[0],
        resolution_ppi=300,
        description=description,
        channels=array.shape[2],
        bits=8 * array.itemsize,
    ) as writer:
        writer.write(array)
    return path


@pytest.fixture
def picture(tmp_path: Path) -> Path:
    return write_picture(tmp_path / "picture.tif", scene(120, 90, 1))


def whats(result: ApplyResult) -> str:
    return "\n".join(str(each) for each in result.findings)


def test_negative_says_what_it_is_and_prints_the_targets_way(
    picture: Path, tmp_path: Path
) -> None:
    output = tmp_path / "negative.tif"
    result = apply_table(picture, output, table=solved())
    with tifffile.TiffFile(output) as file:
        page = file.pages[0]
        codes = page.asarray()
        assert page.description == (
            f"negcurve negative, table {solution().table.identity}, mirrored; "
            "exposure: 6 min 20 s; lamp: LED"
        )
        assert page.tags["XResolution"].value == (360, 1)
        assert page.tags["YResolution"].value == (360, 1)
        assert page.tags["Software"].value.startswith("negcurve ")
        assert page.photometric == tifffile.PHOTOMETRIC.MINISBLACK
        assert codes.dtype == np.uint16
    wanted = code_map(SRGB_GREY, solution().table)[scene(120, 90, 1)[..., 0]]
    np.testing.assert_array_equal(codes, wanted[:, ::-1])
    assert result.size.width_mm == pytest.approx(90 / 360 * 25.4)
    assert result.unknown == ("glass", "paper", "sensitizer", "development", "drying")
    assert not result.resampled
    assert "sRGB is assumed" in whats(result)
    assert "states 300 ppi" in whats(result)


def test_table_may_be_a_path_a_solution_or_a_bare_table(
    picture: Path, tmp_path: Path
) -> None:
    kept = solved()
    write_solution(kept, tmp_path / "table.json")
    outputs = []
    for place, table in enumerate((tmp_path / "table.json", kept, kept.table)):
        output = tmp_path / f"{place}.tif"
        negcurve.apply_table(picture, output, table=table, ppi=360)
        outputs.append(tifffile.imread(output))
    np.testing.assert_array_equal(outputs[0], outputs[1])
    np.testing.assert_array_equal(outputs[0], outputs[2])


def test_a_bare_table_takes_the_pictures_own_resolution(
    picture: Path, tmp_path: Path
) -> None:
    result = apply_table(picture, tmp_path / "n.tif", table=STRAIGHT)
    assert result.size.resolution_ppi == 300
    assert np.isnan(result.tones.share_first)


def test_a_size_resamples_and_keeps_the_resolution_of_the_target(
    picture: Path, tmp_path: Path
) -> None:
    output = tmp_path / "n.tif"
    result = apply_table(picture, output, table=solved(), long_edge="10.16cm")
    assert (result.size.width_px, result.size.height_px) == (1080, 1440)
    assert result.resampled
    assert tifffile.imread(output).shape == (1440, 1080)


def test_a_picture_fits_a_sheet_with_margin_and_border(
    picture: Path, tmp_path: Path
) -> None:
    # 4x5 in less 12.7 mm and a border of 6.35 mm all round leave 2.5 x 3.5 in.
    output = tmp_path / "n.tif"
    result = apply_table(
        picture, output, table=solved(), fit="5x4in", margin="0.5in", border="0.25in"
    )
    assert (result.size.width_px, result.size.height_px) == (900, 1200)
    assert result.border_px == 90
    codes = tifffile.imread(output)
    assert codes.shape == (1380, 1080)
    assert codes[0, 0] == 65535
    plain = tmp_path / "plain.tif"
    apply_table(picture, plain, table=solved(), width="2.5in")
    np.testing.assert_array_equal(codes[90:-90, 90:-90], tifffile.imread(plain))


def test_a_size_that_the_pixels_have_resamples_nothing(
    picture: Path, tmp_path: Path
) -> None:
    result = apply_table(picture, tmp_path / "n.tif", table=solved(), width="0.25in")
    assert not result.resampled


def test_other_settings_than_the_targets_are_warned_of(
    picture: Path, tmp_path: Path
) -> None:
    result = apply_table(picture, tmp_path / "n.tif", table=solved(), ppi=720, bits=8)
    warnings = [each for each in result.findings if each.severity == "warning"]
    assert [each.where for each in warnings] == ["ppi", "bits"]
    assert "is 720 in the negative and was 360 in the target" in warnings[0].what
    assert tifffile.imread(tmp_path / "n.tif").dtype == np.uint8


def test_a_target_in_rgb_gives_negatives_in_rgb(picture: Path, tmp_path: Path) -> None:
    kept = solved(printer_path={**PATH, "mode": "rgb", "bits": "8"})
    apply_table(picture, tmp_path / "n.tif", table=kept)
    codes = tifffile.imread(tmp_path / "n.tif")
    assert codes.shape == (120, 90, 3)
    assert codes.dtype == np.uint8
    np.testing.assert_array_equal(codes[..., 0], codes[..., 2])


@pytest.mark.parametrize("compression", ["none", "lzw", "deflate"])
@pytest.mark.parametrize("size", [None, "2in"])
def test_compression_and_threads_change_no_pixel(
    compression: str, size: str | None, picture: Path, tmp_path: Path
) -> None:
    files = []
    for threads in (1, 4):
        output = tmp_path / f"{threads}.tif"
        apply_table(
            picture,
            output,
            table=solved(),
            compression=compression,
            threads=threads,
            width=size,
        )
        files.append(output)
    assert files[0].read_bytes() == files[1].read_bytes()
    apply_table(picture, tmp_path / "plain.tif", table=solved(), width=size)
    np.testing.assert_array_equal(
        tifffile.imread(files[0]), tifffile.imread(tmp_path / "plain.tif")
    )


def test_gamma_and_weights_say_how_a_picture_is_seen(tmp_path: Path) -> None:
    array = noise((40, 30, 3), np.uint8)
    picture = write_picture(tmp_path / "colour.tif", array)
    output = tmp_path / "n.tif"
    result = apply_table(
        picture, output, table=solved(), weights=(0, 1, 0), mirrored=False
    )
    green = code_map(SRGB_GREY, solution().table, 8)[array[..., 1]].astype(int)
    assert np.abs(tifffile.imread(output) - green).max() <= 1
    assert result.encoding == "sRGB, weighted"
    grey = write_picture(tmp_path / "grey.tif", array[..., :1])
    apply_table(grey, output, table=solved(), gamma=1.8, mirrored=False, overwrite=True)
    wanted = code_map(grey_encoding(1.8), solution().table, 8)[array[..., 0]]
    np.testing.assert_array_equal(tifffile.imread(output), wanted)


def test_an_embedded_profile_is_honoured(tmp_path: Path) -> None:
    # LittleCMS writes the profile and, through Pillow, gives the reference for L*.
    array = noise((20, 20, 3), np.uint8)
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB"))
    image = Image.fromarray(array)
    image.save(tmp_path / "p.png", icc_profile=profile.tobytes())
    result = apply_table(
        tmp_path / "p.png", tmp_path / "n.tif", table=STRAIGHT, mirrored=False, ppi=300
    )
    assert "assumed" not in whats(result)
    lab = ImageCms.createProfile("LAB")
    transform = ImageCms.buildTransform(profile, lab, "RGB", "LAB", 1)
    lightness = np.asarray(ImageCms.applyTransform(image, transform))[..., 0] / 2.55
    found = 100 * (1 - tifffile.imread(tmp_path / "n.tif") / 65535)
    assert np.abs(found - lightness).max() < 0.3  # half of its 8-bit step, and its own


@pytest.mark.parametrize("width", [None, "1in"])
def test_a_raised_black_is_taken_as_black_unless_kept(
    width: str | None, tmp_path: Path
) -> None:
    profile = tmp_path / "print.icc"
    profile.write_bytes(lut(17, channels=1, black=0.02))
    picture = write_picture(tmp_path / "a.tif", np.zeros((30, 30, 1), np.uint16))
    given: dict[str, Any] = {"table": solved(), "profile": profile, "width": width}
    scaled = apply_table(picture, tmp_path / "scaled.tif", **given)
    assert "has a profile whose black is L* 15.5; it is taken as black" in whats(scaled)
    assert (tifffile.imread(tmp_path / "scaled.tif") == 65535).all()
    kept = apply_table(picture, tmp_path / "kept.tif", scale_black=False, **given)
    assert "taken as black" not in whats(kept)
    exact = 65535 * float(solution().table.negative_level(0.1549))  # CIE: Y 0.02
    assert np.abs(tifffile.imread(tmp_path / "kept.tif") - exact).max() < 20


def test_grey_of_a_jpeg_and_a_png(tmp_path: Path) -> None:
    array = np.rint(scene(64, 48, 3) / 257).astype(np.uint8)
    Image.fromarray(array).save(tmp_path / "a.jpg", quality=95, dpi=(240, 240))
    result = apply_table(tmp_path / "a.jpg", tmp_path / "n.tif", table=STRAIGHT)
    assert result.size.resolution_ppi == 240
    decoded = np.asarray(Image.open(tmp_path / "a.jpg"))
    root = Light(SRGB, np.uint8).reader().of(decoded)
    codes = tifffile.imread(tmp_path / "n.tif")[:, ::-1]
    order = np.argsort(root.ravel(), kind="stable")
    assert (np.diff(codes.ravel()[order].astype(int)) <= 0).all()


@pytest.mark.parametrize(
    "description", ["negcurve target, 8x10in", "negcurve negative", "negcurve proof"]
)
def test_own_files_are_refused_as_pictures(description: str, tmp_path: Path) -> None:
    array = noise((20, 20, 1), np.uint16)
    picture = write_picture(tmp_path / "a.tif", array, description=description)
    with pytest.raises(FileError, match="not a picture"):
        apply_table(picture, tmp_path / "n.tif", table=solved())
    assert not (tmp_path / "n.tif").exists()


def test_a_negative_and_a_proof_just_made_are_refused(
    picture: Path, tmp_path: Path
) -> None:
    negative, proof = tmp_path / "n.tif", tmp_path / "p.png"
    apply_table(picture, negative, table=solved(), proof=proof)
    for each in (negative, proof):
        with pytest.raises(FileError, match=f"{each.name}: is a negcurve"):
            apply_table(each, tmp_path / "again.tif", table=solved())


def test_proof_shows_two_prints_in_colour(picture: Path, tmp_path: Path) -> None:
    apply_table(
        picture,
        tmp_path / "n.tif",
        table=solved(),
        proof=tmp_path / "p.png",
        colour="blue",
    )
    page = np.asarray(Image.open(tmp_path / "p.png")).astype(int)
    assert page.shape[2] == 3
    assert (page[..., 2] - page[..., 0]).max() > 40


def test_proof_needs_a_whole_solution(picture: Path, tmp_path: Path) -> None:
    with pytest.raises(InvalidValueError, match="bare table"):
        apply_table(
            picture, tmp_path / "n.tif", table=print_table(), proof=tmp_path / "p.png"
        )


def test_no_output_is_an_input(picture: Path, tmp_path: Path) -> None:
    before = picture.read_bytes()
    with pytest.raises(FileError, match="is an input"):
        apply_table(picture, picture, table=solved(), overwrite=True)
    link = tmp_path / "link.tif"
    link.hardlink_to(picture)
    with pytest.raises(FileError, match="is an input"):
        apply_table(picture, link, table=solved(), overwrite=True)
    assert picture.read_bytes() == before


def test_what_exists_is_kept_unless_told(picture: Path, tmp_path: Path) -> None:
    output = tmp_path / "n.tif"
    output.write_text("precious")
    with pytest.raises(FileError, match="exists already"):
        apply_table(picture, output, table=solved())
    assert output.read_text() == "precious"
    apply_table(picture, output, table=solved(), overwrite=True)
    assert tifffile.imread(output).shape == (120, 90)


def test_negative_and_proof_need_names_of_their_own(
    picture: Path, tmp_path: Path
) -> None:
    with pytest.raises(FileError, match="two different outputs"):
        apply_table(
            picture, tmp_path / "n.tif", table=solved(), proof=tmp_path / "n.tif"
        )


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        ({"width": "8"}, "is not a length with a unit"),
        ({"width": "8in", "height": "8in"}, "would stretch"),
        ({"width": "8in", "long_edge": "8in"}, "size: is given in more than one way"),
        ({"fit": "4x5in", "margin": "60mm"}, "leave no room"),
        ({"fit": "letterhead"}, "is not a sheet size"),
        ({"border": "5mm", "surround": "grey"}, "'grey' is not known"),
        ({"ppi": -5}, "lies outside 30..20000"),
        ({"bits": 12}, "bits: 12 bits cannot be written"),
        ({"compression": "zip"}, "'zip' is not known"),
        ({"weights": (1, 0, 0)}, "no separate red, green and blue"),
    ],
)
def test_options_without_meaning_are_refused(
    options: dict[str, Any], sentence: str, picture: Path, tmp_path: Path
) -> None:
    with pytest.raises(InvalidValueError, match=sentence):
        apply_table(picture, tmp_path / "n.tif", table=solved(), **options)
    assert sorted(each.name for each in tmp_path.iterdir()) == ["picture.tif"]


def run(code: str, *arguments: Path | str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", code, *map(str, arguments)],
        capture_output=True,
        text=True,
        check=False,
    )


APPLY = """
import os, resource, signal, sys
from negcurve.cli import main
import negcurve.tasks.apply_writing as task
sys.argv = ["negcurve", "apply", sys.argv[1], "-o", sys.argv[2], "--table", sys.argv[3]]
real = task.render
def render(*given, **options):
    options["progress"] = progress
    return real(*given, **options)
task.render = render
def progress(what, share):
    {at_each_strip}
{before}
main()
"""


def started(
    picture: Path, output: Path, *, at_each_strip: str = "pass", before: str = ""
) -> subprocess.CompletedProcess[str]:
    table = picture.parent / "table.json"
    if not table.exists():
        write_solution(solved(), table)
    code = APPLY.format(at_each_strip=at_each_strip, before=before)
    return run(code, picture, output, table)


posix = pytest.mark.skipif(os.name == "nt", reason="POSIX signals and limits")


@pytest.fixture
def large(tmp_path: Path) -> Path:
    """A picture of several strips."""
    return write_picture(tmp_path / "large.tif", noise((800, 700, 1), np.uint16))


@posix
def test_a_full_disk_leaves_nothing(large: Path, tmp_path: Path) -> None:
    # A limit on file size makes the system refuse writes half-way, as a full disk does.
    limit = "resource.setrlimit(resource.RLIMIT_FSIZE, (500_000, 500_000))"
    folder = tmp_path / "out"
    folder.mkdir()
    outcome = started(large, folder / "n.tif", before=limit)
    assert outcome.returncode == 3, outcome.stderr
    assert "n.tif: is too large for this disk" in outcome.stderr
    assert "Traceback" not in outcome.stderr
    assert list(folder.iterdir()) == []


@posix
def test_an_interruption_leaves_nothing(large: Path, tmp_path: Path) -> None:
    folder = tmp_path / "out"
    folder.mkdir()
    kill = "os.kill(os.getpid(), signal.SIGINT)"
    outcome = started(large, folder / "n.tif", at_each_strip=kill)
    assert outcome.returncode == 130, outcome.stderr
    assert "interrupted" in outcome.stderr
    assert "Traceback" not in outcome.stderr
    assert list(folder.iterdir()) == []


@posix
def test_a_killed_run_leaves_no_negative_and_the_next_one_tidies_up(
    large: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "out"
    folder.mkdir()
    output = folder / "n.tif"
    kill = "share > 0.4 and os.kill(os.getpid(), signal.SIGKILL)"
    outcome = started(large, output, at_each_strip=kill)
    assert outcome.returncode == -signal.SIGKILL
    assert not output.exists()
    (part,) = folder.iterdir()
    assert part.name.startswith(".negcurve-")
    outcome = started(large, output)
    assert outcome.returncode == 0, outcome.stderr
    assert f"{part.name}: removed, an unfinished file" in outcome.stderr
    assert list(folder.iterdir()) == [output]


@posix
def test_a_read_only_folder_is_refused_before_any_work(
    picture: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    closed = tmp_path / "closed"
    closed.mkdir(mode=0o555)
    if os.geteuid() == 0:  # the superuser may write anywhere, so the answer is made
        monkeypatch.setattr(os, "access", lambda path, _mode: Path(path) != closed)
    with pytest.raises(FileError, match=f"the folder {closed} cannot be written to"):
        apply_table(picture, closed / "n.tif", table=solved())
    assert list(closed.iterdir()) == []


def test_no_scipy_is_loaded_without_resampling(picture: Path, tmp_path: Path) -> None:
    write_solution(solved(), tmp_path / "table.json")
    code = (
        "import sys, json, negcurve; negcurve.apply_table(sys.argv[1], sys.argv[2], "
        "table=sys.argv[3]); print(json.dumps([name for name in ('scipy', "
        "'matplotlib', 'typer') if name in sys.modules]))"
    )
    outcome = run(code, picture, tmp_path / "n.tif", tmp_path / "table.json")
    assert outcome.returncode == 0, outcome.stderr
    assert json.loads(outcome.stdout) == []


def test_names_of_another_kind_are_refused(picture: Path, tmp_path: Path) -> None:
    with pytest.raises(FileError, match=r"ends in \.tif"):
        apply_table(picture, tmp_path / "n.png", table=solved())
    with pytest.raises(FileError, match=r"ends in \.png"):
        apply_table(picture, tmp_path / "n.tif", table=solved(), proof="p.jpg")
