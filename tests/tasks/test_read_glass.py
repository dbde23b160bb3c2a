"""Pictures of one print from a scanner whose light falls off across the glass."""

import json

import numpy as np
import pytest
import tifffile

from negcurve.density import lightness_from_density
from negcurve.files.layout_json import write_layout
from negcurve.response.solving import solve
from negcurve.tasks.read import ReadOptions, read
from tests.cli.running import runner
from tests.reading.prints import Print, SetUp, small_layout

LAYOUT = small_layout()
run = runner("read")
PPI = 150
GLASS = (170.0, 180.0)
TILT = 0.03
TURNS = {"a": 0, "again": 0, "b": 2, "c": 1}


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """One print scanned twice as it lay, then turned by 180 and by 90 degrees."""
    folder = tmp_path_factory.mktemp("glass")
    write_layout(LAYOUT, folder / "t.layout.json")
    for seed, (name, turn) in enumerate(TURNS.items()):
        setup = SetUp(ppi=PPI, turn=turn, glass_mm=GLASS, noise=0.002, seed=seed)
        made = Print(LAYOUT, setup)
        along = (np.arange(made.shape[0]) + 0.5) / made.shape[0]
        made.reflectance *= 1 + TILT * (along[:, None] - 0.5)
        tifffile.imwrite(
            folder / f"{name}.tif",
            made.codes()[:, :, 0],
            resolution=(PPI, PPI),
            resolutionunit="INCH",
            metadata=None,
        )
    return folder


def scanned(folder, *names, **changes):
    scans = [folder / f"{name}.tif" for name in names]
    options = {"target": folder / "t.layout.json", "gamma": 1.0}
    return read(ReadOptions(inputs=scans, **{**options, **changes}))


def off(readings):
    """How far readings lie from the print, their mean left out. [D rms]"""
    made = Print(LAYOUT, SetUp(ppi=PPI))
    return float(np.std(readings.density - made.density_of(readings.negative_level)))


def table_error(readings):
    """L* printed less L* aimed at over even tones, in the true response. [rms]"""
    made = Print(LAYOUT, SetUp(ppi=PPI))
    solution = solve([readings], black_share=1.0)
    tone = np.linspace(0, 1, 256)
    printed = made.density_of(solution.table.negative_level(tone))
    shown = lightness_from_density(printed)
    ends = lightness_from_density(made.density_of(np.array([1.0, 0.0])))
    return float(np.sqrt(np.mean((shown - (ends[0] + tone * np.ptp(ends))) ** 2)))


def test_a_turned_second_scan_mends_the_readings(folder):
    one, two = scanned(folder, "a"), scanned(folder, "a", "b")
    assert one.glass is None
    (tilt,) = [part for part in two.glass.parts if part.name == "tilt down"]
    reach = np.ptp([p.box.center[1] for p in LAYOUT.patches])
    expected = -TILT * reach / GLASS[1] / np.log(10)
    assert tilt.span == pytest.approx(expected, rel=0.12)
    assert two.glass.corrected
    assert off(two.readings) < 0.6 * off(one.readings)


def test_two_alike_and_one_turned_need_the_correction(folder):
    left = scanned(folder, "a", "again", "b", correct_glass=False)
    mended = scanned(folder, "a", "again", "b")
    assert (left.glass.corrected, mended.glass.corrected) == (False, True)
    assert off(mended.readings) < 0.8 * off(left.readings)
    assert table_error(mended.readings) <= table_error(left.readings) + 0.02


def test_a_quarter_turn_is_told_from_a_half(folder):
    glass = scanned(folder, "a", "c").glass
    assert {part.name for part in glass.parts} >= {"tilt down", "saddle"}
    (turn, _), *_ = glass.moves
    assert abs(turn) == pytest.approx(90, abs=0.3)


def test_the_command_says_it_in_words_and_numbers(folder, tmp_path):
    scans = [str(folder / "a.tif"), str(folder / "b.tif")]
    usual = ["--target", str(folder / "t.layout.json"), "--gamma", "1"]
    shown = run(*scans, "-o", str(tmp_path / "r.csv"), *usual)
    assert shown.exit_code == 0, shown.stderr
    assert "scanner's unevenness: 0.0" in shown.stdout
    assert "over the print, taken out" in shown.stdout
    assert "turned by 180 degrees shows the scanner's own" in shown.stderr
    left = run(
        *scans,
        "-o",
        str(tmp_path / "left.csv"),
        *usual,
        "--no-correct-glass",
        "--json",
    )
    glass = json.loads(left.stdout)["result"]["glass"]
    assert glass["significant"]
    assert not glass["corrected"]
    assert {each["part"] for each in glass["told"]} == {"tilt across", "tilt down"}
    assert glass["not_told"] == ["bend across", "bend down", "twist"]
