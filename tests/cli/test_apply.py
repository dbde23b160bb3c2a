"""`negcurve apply`: help, what it prints, exit codes, sentences."""

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from negcurve.files.solution_json import write_solution
from negcurve.files.tiff_picture import TiffPicture
from tests.negative.pictures import noise, scene
from tests.tasks.test_apply import solved, write_picture


def run(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [
            sys.executable,
            "-c",
            "from negcurve.cli import main; main()",
            "apply",
            *map(str, arguments),
        ],
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.fixture
def files(tmp_path: Path) -> tuple[Path, Path, Path]:
    write_solution(solved(), tmp_path / "t.json")
    picture = write_picture(tmp_path / "picture.tif", scene(90, 120, 1))
    return picture, tmp_path / "negative.tif", tmp_path / "t.json"


def test_help_begins_with_examples() -> None:
    outcome = run("--help")
    assert outcome.returncode == 0
    assert "  negcurve apply picture.tif -o negative.tif --table t.json\n" in "\n".join(
        line.rstrip() + "\n" for line in outcome.stdout.splitlines()
    )
    place = outcome.stdout.index
    assert place("Examples:") < place("Arguments") < place("Options")
    for option in ("--width", "--long-edge", "--ppi", "--proof", "--not-mirrored"):
        assert option in outcome.stdout


def test_it_says_size_range_shares_and_conditions(
    files: tuple[Path, Path, Path],
) -> None:
    picture, output, table = files
    outcome = run(picture, "-o", output, "--table", table, "--width", "4in")
    assert outcome.returncode == 0, outcome.stderr
    text = outcome.stdout
    assert "negative.tif: 1440 x 1080 pixels, 16 bits, mirrored, resampled" in text
    assert "prints 101.6 x 76.2 mm (4.00 x 3.00 in) at 360 ppi" in text
    assert "image tones 0." in text
    assert "pixels at black" in text
    assert "expose as the target: exposure 6 min 20 s; lamp LED" in text
    assert "not known: glass, paper, sensitizer, development, drying" in text
    assert "UV light:" in text
    assert "safety data sheet" in text
    assert "note: picture.tif: carries no ICC profile" in outcome.stderr


def test_json_is_for_machines(files: tuple[Path, Path, Path]) -> None:
    picture, output, table = files
    outcome = run(picture, "-o", output, "--table", table, "--ppi", "720", "--json")
    document = json.loads(outcome.stdout)
    assert document["schema"] == "negcurve/apply/1"
    result = document["result"]
    assert (result["width_px"], result["height_px"]) == (120, 90)
    assert result["mirrored"] is True
    assert result["counted_pixels"] == 120 * 90
    assert sum(result["density_counts"]) == 120 * 90
    assert [each["where"] for each in document["findings"]][1:2] == ["ppi"]
    assert outcome.stderr == ""


def test_the_size_of_the_whole_film_is_said(files: tuple[Path, Path, Path]) -> None:
    picture, output, table = files
    given = (picture, "-o", output, "--table", table, "--width", "8in", "--edge-strip")
    outcome = run(*given)
    assert outcome.returncode == 0, outcome.stderr
    with TiffPicture(output) as film:
        width, height = film.width, film.height
    # 6 mm on three sides; below, 5 mm to the strip and the strip of 18 mm.
    assert (width, height) == (2880 + 2 * 85, 2160 + 85 + 326)
    assert f"negative.tif: {width} x {height} pixels, 16 bits" in outcome.stdout
    film_mm, picture_mm = "215.2 x 181.4 mm (8.47 x 7.14 in)", "203.2 x 152.4 mm"
    assert f"prints {film_mm} at 360 ppi, the picture {picture_mm} (" in outcome.stdout
    result = json.loads(run(*given, "--json", "--overwrite").stdout)["result"]
    assert (result["width_px"], result["height_px"]) == (2880, 2160)
    assert (result["film_width_px"], result["film_height_px"]) == (width, height)
    assert result["film_width_mm"] == pytest.approx(width / 360 * 25.4)
    assert result["film_height_mm"] == pytest.approx(height / 360 * 25.4)


def test_a_border_with_a_wrong_unit_is_noticed(files: tuple[Path, Path, Path]) -> None:
    picture, output, table = files
    given = (picture, "-o", output, "--table", table, "--ppi", "60", "--width", "8in")
    outcome = run(*given, "--border", "500mm", "-q")
    assert outcome.returncode == 0
    assert (
        "warning: border: is wider than the picture, and makes the film 1203 x 1152 mm"
        in outcome.stderr
    )
    output.unlink()
    outcome = run(*given, "--border", "2500mm")
    assert outcome.returncode == 2
    assert "--border: makes the film 5204 x 5153 mm" in outcome.stderr
    assert not output.exists()


def test_quiet_keeps_warnings_only(files: tuple[Path, Path, Path]) -> None:
    picture, output, table = files
    outcome = run(picture, "-o", output, "--table", table, "--ppi", "720", "-q")
    assert outcome.stderr.startswith("warning: ppi: is 720 in the negative")
    assert "note:" not in outcome.stderr


def test_not_mirrored(files: tuple[Path, Path, Path]) -> None:
    picture, output, table = files
    outcome = run(picture, "-o", output, "--table", table, "--not-mirrored")
    assert "not mirrored, pixel for pixel" in outcome.stdout


@pytest.mark.parametrize(
    ("arguments", "code", "sentence"),
    [
        (("--weights", "1,2"), 2, "--weights: '1,2' is not three numbers"),
        (("--width", "8"), 2, "width: '8' is not a length with a unit"),
        (("--colour", "pink", "--proof", "{folder}/p.png"), 2, "'pink' is not known"),
        (("--bits", "12"), 2, "bits: 12 bits cannot be written"),
        (("--profile", "{folder}/none.icc"), 3, "none.icc"),
        (("--table", "{folder}/none.json"), 3, "none.json"),
    ],
)
def test_mistakes_have_a_sentence_and_a_code(
    arguments: tuple[str, ...],
    code: int,
    sentence: str,
    files: tuple[Path, Path, Path],
) -> None:
    picture, output, table = files
    given = [each.format(folder=picture.parent) for each in arguments]
    outcome = run(picture, "-o", output, "--table", table, *given)
    assert outcome.returncode == code, outcome.stderr
    assert sentence in outcome.stderr
    assert "Traceback" not in outcome.stderr
    assert not output.exists()
    assert not (picture.parent / "p.png").exists()


def test_the_whole_sentence_for_a_negative_as_picture(
    files: tuple[Path, Path, Path],
) -> None:
    picture, output, table = files
    negative = write_picture(
        picture.parent / "old.tif",
        noise((20, 20, 1), np.uint16),
        description="negcurve negative, table 12345678, mirrored",
    )
    outcome = run(negative, "-o", output, "--table", table)
    assert outcome.returncode == 3
    assert outcome.stderr == (
        "negcurve: old.tif: is a negcurve negative, not a picture\n"
        "Give the picture itself. A target is printed as it is, or made again through "
        "a table with `negcurve target --table`.\n"
    )


def test_a_missing_option_is_a_usage_error(files: tuple[Path, Path, Path]) -> None:
    outcome = run(files[0], "--table", files[2])
    assert outcome.returncode == 2
    assert "--output" in outcome.stderr
