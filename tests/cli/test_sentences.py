"""Each mistake of a user ends in a sentence that says what, where and what to do."""

import sys
from pathlib import Path

import numpy as np
import pytest

from negcurve import cli
from negcurve.files.readings_csv import write_readings
from negcurve.files.solution_json import write_solution
from negcurve.readings import Readings
from negcurve.response.solving import solve


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    """A folder with readings, a table, a strip, and files that are none of these."""
    folder = tmp_path_factory.mktemp("bench")
    level = np.repeat(np.linspace(0, 1, 21), 2)
    readings = Readings(negative_level=level, density=0.1 + 1.2 * level**1.4)
    write_readings(readings, folder / "r.csv")
    write_solution(solve([readings]), folder / "t.json")
    steps = (1.4, 1.39, 1.3, 1.1, 0.8, 0.5, 0.3, 0.15, 0.1, 0.1)
    lines = [f"{step},{density}" for step, density in enumerate(steps, 1)]
    (folder / "strip.csv").write_text("\n".join(["step,density", *lines]), "utf-8")
    (folder / "bad.tif").write_bytes(b"no picture\x00\xff")
    (folder / "empty.tif").write_bytes(b"")
    (folder / "bad.json").write_text("{}", "utf-8")
    (folder / "folder").mkdir()
    return folder


SENTENCES = [
    (
        "solve r.csv -o n.json --aim foo",
        2,
        "--aim: 'foo' is neither an aim that is known nor a file\n"
        "Write lightness, density, luminance, or name a CSV with "
        "image_tone,density or image_tone,lightness.",
    ),
    (
        "solve r.csv -o n.json --black-share 1.5",
        2,
        "--black-share: 1.5 lies outside 0.5..1\n"
        "Give the share of the density range where black lies; 0.98 is usual.",
    ),
    (
        "solve r.csv -o n.json --sheet-error -1",
        2,
        "--sheet-error: -1 is negative\nGive the standard deviation from print to "
        "print in density, such as 0.03.",
    ),
    (
        "check r.csv --table t.json --sheet-error -1",
        2,
        "--sheet-error: -1 is negative\nGive the standard deviation from print to "
        "print in density, such as 0.03.",
    ),
    (
        "check r.csv --table bad.json",
        3,
        "bad.json: does not say what it is, not negcurve/solution/1\n"
        "Name a solution file.",
    ),
    (
        "target folder",
        3,
        "folder: is a folder, but a TIFF would be written\n"
        "Give it a name that ends in .tif.",
    ),
    (
        "target t.jpg",
        3,
        "t.jpg: is a name that ends in .jpg, but a TIFF would be written\n"
        "Give it a name that ends in .tif.",
    ),
    (
        "target new.tif --bits 12",
        2,
        "--bits: 12 is not 8 or 16\nUse 16, or 8 where the driver takes no more.",
    ),
    (
        "target new.tif --mode cmyk",
        2,
        "--mode: 'cmyk' is not grey or rgb\nUse grey or rgb.",
    ),
    (
        "apply bad.tif -o n.tif --table t.json",
        3,
        "bad.tif: is not a TIFF, PNG or JPEG file\n"
        "Save the picture or scan as TIFF, PNG or JPEG.",
    ),
    (
        "apply empty.tif -o n.tif --table t.json",
        3,
        "empty.tif: is empty\nSave it again from where it comes, or name another file.",
    ),
    (
        "expose 60s --from-distance 50cm",
        2,
        "--from-distance: one distance alone changes nothing\n"
        "Give both: --from-distance 50cm --to-distance 70cm.",
    ),
    (
        "expose 60s --to-distance 50cm",
        2,
        "--to-distance: one distance alone changes nothing\n"
        "Give both: --from-distance 50cm --to-distance 70cm.",
    ),
    (
        "expose --overhang 7cm",
        2,
        "--overhang: says nothing without the height of the tubes\n"
        "Give --tube-height as well: --tube-height 10cm.",
    ),
    (
        "expose 60s --curve strip.csv",
        2,
        "--curve: a curve alone changes nothing\nGive the densities that a tone has "
        "and wants: --has 0.62 --wants 0.70.",
    ),
    (
        "expose 60s --units 300",
        2,
        "expose: both a time and integrator units were given\n"
        "Give the time, or --units with --units-per-s.",
    ),
    (
        "expose 60s --lamp 85",
        2,
        "--lamp: 85 lies outside 0..3\nGive a share: 0.85 for 85 %.",
    ),
    (
        "expose 60s --density 12",
        2,
        "--density: 12 lies outside -4..4\nGive it in density, as 0.12.",
    ),
    (
        "expose 60s --stops 20",
        2,
        "--stops: 20 lies outside -10..10\nGive stops, as +1/2 or -1.",
    ),
    (
        "tablet strip.csv --tablet 10x0.15 --wanted-scale 1.5",
        2,
        "--wanted-scale: no series says what dose gives which scale\n"
        "Give your own tests with --series, CSV dose,exposure_scale.",
    ),
    (
        "tablet strip.csv --tablet 10x0.15 --unexposed -1",
        2,
        "--unexposed: -1 is no density of unexposed paper\n"
        "Give the print density of the coated, unexposed border: 0.08, say.",
    ),
    (
        "expose 60s --patches 99",
        2,
        "--patches: 99 patches are not possible\nUse 2 to 15.",
    ),
    (
        "expose 60s --patches 5 --page p.txt",
        3,
        "p.txt: is a name that ends in .txt, but a page would be written\n"
        "Give it a name that ends in .html.",
    ),
    (
        "report -o page.txt --table t.json",
        3,
        "page.txt: is a name that ends in .txt, but a page would be written\n"
        "Give it a name that ends in .html.",
    ),
    (
        "tablet --merged 3",
        2,
        "--merged: gives no exposure scale by itself\n"
        "Add --last for the scale, or --time for the time for black.",
    ),
    (
        "tablet strip.csv --tablet 10x0.15 --black-share 2",
        2,
        "--black-share: 2 lies outside 0.5..0.999\n"
        "Give the share of the range that counts as black; 0.98 is usual.",
    ),
    (
        "mix 8x10in --process platinum-palladium --platinum 2",
        2,
        "--platinum: 2 lies outside 0..1\n"
        "Give the share of platinum in the metal: 0.3 for three parts in ten.",
    ),
    (
        "mix 8x10in --process cyanotype --platinum 0.5",
        2,
        "--platinum: cyanotype holds neither platinum nor palladium to share\n"
        "Leave the share out, or name --process platinum-palladium.",
    ),
    (
        "mix 8x10in --drops-per-ml 0",
        2,
        "--drops-per-ml: 0 is not above 0\nGive a number above 0.",
    ),
    (
        "mix 8x10in --agent chlorate",
        2,
        "--agent-drops: 0 drops of the agent are none\n"
        "Give how many, such as --agent-drops 2, or leave --agent out.",
    ),
    (
        "mix 8x10in --failed 0.2",
        2,
        "--failed: is part of a cost, but no bottle has a price\n"
        "Give --price NAME=PRICE for each bottle, per ml.",
    ),
    (
        "mix 8x10in --price palladium=-3",
        2,
        "--price: a price below 0 cannot be used\n"
        "Give 0 where something costs nothing.",
    ),
    (
        "bath --weigh AgNO3 --volume 100ml",
        2,
        "--strength: is missing; nothing can be worked out without it\n"
        "Add it: --strength 10.",
    ),
    (
        "bath --at 4=45C",
        2,
        "--at: is the temperature of a step, but no sequence is named\n"
        "Name a process as well: negcurve bath palladium --at 4=45C.",
    ),
    (
        "bath --palladium-chloride 9 --salt AgNO3",
        2,
        "--salt: silver nitrate does not dissolve palladium chloride anhydrous as a "
        "chloride does\nName sodium chloride, or the chloride of another alkali.",
    ),
    (
        "record add t.json --name a --record-dir rec --set humidity_percent=abc",
        2,
        "circumstances.humidity_percent: 'abc' is not a number\n"
        "Write a number from 0 to 100; its unit is in the name.",
    ),
    (
        "record add t.json --name a --record-dir rec --set humidity_percent=300",
        2,
        "circumstances.humidity_percent: 300 lies outside 0..100\n"
        "Write it in the unit that its name says.",
    ),
    (
        "record add t.json --name= --record-dir rec",
        2,
        "--name: is empty\nGive a name in plain letters.",
    ),
    (
        "record retire a --record-dir rec --because=",
        2,
        "--because: no reason is given\nSay why, for a later reader: "
        '--because "new batch of paper".',
    ),
    (
        "read bad.tif -o n.csv --ink-side up",
        2,
        "--ink-side: is said of a film, but a print is read\n"
        "Add --film for a scan of the film, else leave it out.",
    ),
    (
        "solve",
        2,
        "readings: no readings named\n"
        "Name what `negcurve read` wrote: negcurve solve R.csv -o T.json.",
    ),
]


@pytest.mark.parametrize(("line", "code", "sentence"), SENTENCES)
def test_mistakes_end_in_a_sentence(
    bench: Path,
    line: str,
    code: int,
    sentence: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.chdir(bench)
    monkeypatch.setattr(sys, "argv", ["negcurve", *line.split()])
    before = sorted(bench.iterdir())
    with pytest.raises(SystemExit) as stop:
        cli.main()
    assert capsys.readouterr().err == f"negcurve: {sentence}\n"
    assert stop.value.code == code
    assert sorted(bench.iterdir()) == before


def test_an_unknown_substance_is_answered_with_names(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["bath", "--weigh", "xyz", "--strength", "10", "--volume", "100ml"]
    monkeypatch.setattr(sys, "argv", ["negcurve", *words])
    with pytest.raises(SystemExit):
        cli.main()
    said = capsys.readouterr().err
    assert said.startswith("negcurve: xyz: is not a substance that we know\n")
    for name in ("silver nitrate", "ferric oxalate", "potassium oxalate"):
        assert name in said
