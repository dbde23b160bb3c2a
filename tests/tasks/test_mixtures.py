"""The way to a coloured ink, end to end: mixtures printed, scanned, read and ranked."""

from pathlib import Path

import numpy as np
import pytest
import tifffile

from negcurve.files.tiff import GreyTiffWriter
from negcurve.simulation.setups import demo_set_up
from negcurve.tasks.film import FilmOptions, film
from negcurve.tasks.inks import InksResult
from negcurve.tasks.read import read
from negcurve.tasks.read_options import ReadOptions
from negcurve.tasks.simulated import print_file, scan_to_file
from negcurve.tasks.target import make_target
from negcurve.values import FloatArray

PPI = 144


def held_back(rgb: FloatArray) -> FloatArray:
    """Share of full black's density that a colour holds back: yellow most.

    Yellow with magenta holds back 1.15 times as much as black, for 2/3 of the ink.
    """
    cyan, magenta, yellow = np.moveaxis(1 - rgb, -1, 0)
    mixed = np.minimum(np.minimum(cyan, magenta), yellow)
    return 0.15 * cyan + 0.35 * magenta + 0.8 * yellow - 0.3 * mixed


def as_black(colour: Path, grey: Path) -> None:
    """Write the grey target whose black holds back what the colours do.

    The simulated film knows black alone; its density is told at a table of levels.
    """
    rgb = tifffile.imread(colour) / 65535
    film_of = demo_set_up().darkroom.film
    level = np.linspace(0, 1, 2001)
    density = film_of.density(level) - film_of.density(1.0)
    # Full black is to be 1: 1.15 of it must still be within what the film can do.
    wanted = held_back(rgb) / 1.15 * density[0]
    codes = np.rint(65535 * np.interp(-wanted, -density, level)).astype(np.uint16)
    with GreyTiffWriter(
        grey,
        width=codes.shape[1],
        height=codes.shape[0],
        resolution_ppi=PPI,
        description="",
    ) as writer:
        writer.write(codes)


@pytest.mark.slow
def test_mixtures_are_printed_scanned_read_and_ranked(tmp_path: Path) -> None:
    made = make_target(tmp_path / "m.tif", mixtures=True, ppi=PPI, sheet="8x10in")
    as_black(tmp_path / "m.tif", tmp_path / "black.tif")
    scene = demo_set_up()
    sheet = print_file(scene, tmp_path / "black.tif", border_mm=8, seed=3)
    scan_to_file(scene, sheet, tmp_path / "scan.tif", seed=4)
    result = read(
        ReadOptions(
            inputs=[tmp_path / "scan.tif"],
            output=tmp_path / "r.csv",
            target=tmp_path / "m.tif",
        )
    )
    assert result.readings.ink == tuple(
        patch.ink.text for patch in made.layout.patches if patch.ink
    )
    ranked = film(FilmOptions(readings=[tmp_path / "r.csv"]))
    assert isinstance(ranked, InksResult)
    inks = [each.ink for each in ranked.ranking.inks]
    truth = held_back(np.array([ink.codes for ink in inks]) / 255)
    printed = np.array([each.density for each in ranked.ranking.inks])
    # What holds back more prints lighter: ranks agree, ties by noise apart.
    order = np.argsort(np.argsort(-truth))
    rank = np.corrcoef(order, np.arange(len(order)))[0, 1]
    assert rank > 0.97
    assert np.ptp(printed) > 1
    best = ranked.ranking.best
    held = dict(zip([ink.text for ink in inks], truth.tolist(), strict=True))
    assert held[best.ink.text] > held["0,0,0"] - 0.1
    assert best.ink.amount < 0.8
