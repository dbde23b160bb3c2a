"""The demo on its small sheet, run once; every file is looked into."""

import dataclasses
from contextlib import closing

import numpy as np
import pytest
from PIL import Image

import negcurve
from negcurve.density import density_from_lightness
from negcurve.errors import FileError
from negcurve.files.pictures import open_picture
from negcurve.simulation.setups import demo_set_up
from negcurve.tasks.demo import CAUTION, DemoOptions, demo
from negcurve.tasks.demo_steps import BLACK_SHARE
from negcurve.tasks.demo_work import FILES


@pytest.fixture(scope="module")
def done(tmp_path_factory):
    told = []
    folder = tmp_path_factory.mktemp("demo") / "new" / "folder"
    result = demo(
        DemoOptions(folder=folder, quick=True),
        progress=lambda what, share: told.append((what, share)),
    )
    return result, told


def test_one_round_brings_the_print_to_its_aim(done):
    result, _ = done
    assert result.before.rms > 5
    assert result.after.rms < 1.5  # the small sheet; the full one promises 1.0
    assert result.after.range_kept > 0.95


def test_errors_are_those_of_the_written_table(done):
    # Reckoned here again from the file alone, by the definition of printed error.
    result, _ = done
    solution = negcurve.read_solution(result.folder / "05-table.json")
    density = demo_set_up().darkroom.density
    low, high = density(np.array([0.0, 1.0]))
    tone = np.linspace(0, 1, 256)
    ends = [low + BLACK_SHARE * (high - low), low]
    wanted = np.interp(tone, [0, 1], lightness(ends))
    printed = lightness(density(solution.table.negative_level(tone)))
    rms = np.sqrt(np.mean((printed - wanted) ** 2))
    np.testing.assert_allclose(result.after.rms, rms, rtol=1e-6)


def lightness(density):
    """L* of densities, by inverting the other direction."""
    scale = np.linspace(1, 100, 20001)
    return np.interp(-np.asarray(density), -density_from_lightness(scale), scale)


def test_every_file_is_there_and_nothing_else(done):
    result, _ = done
    assert [each.name for each in result.files] == list(FILES)
    assert sorted(each.name for each in result.folder.iterdir()) == sorted(FILES)


def test_pictures_open_and_are_not_blank(done):
    result, _ = done
    for path in result.files:
        if path.suffix == ".png":
            with Image.open(path) as picture:
                assert np.asarray(picture.convert("L")).std() > 5, path.name
        if path.suffix == ".tif":
            with closing(open_picture(path)) as source:
                assert source.rows(0, source.height).std() > 500, path.name


def test_negative_is_printed_the_target_s_way(done):
    result, _ = done
    with (
        closing(open_picture(result.folder / "02-target.tif")) as target,
        closing(open_picture(result.folder / "06-negative.tif")) as negative,
    ):
        assert negative.description.startswith("negcurve negative")
        assert negative.resolution_ppi == target.resolution_ppi
        assert (negative.channels, negative.dtype) == (target.channels, target.dtype)


def test_check_reads_the_second_print_against_its_table(done):
    result, _ = done
    second = negcurve.read_readings(result.folder / "09-second-readings.csv")
    solution = negcurve.read_solution(result.folder / "05-table.json")
    assert second.table == solution.table.identity
    assert np.isfinite(second.image_tone).all()
    assert result.check.rms < 4


def test_account_gives_the_figures_and_the_caution(done):
    result, _ = done
    written = (result.folder / "account.txt").read_text()
    assert written == result.account
    assert f"straight-line negative  {result.before.rms:5.2f}" in written
    assert f"through the table       {result.after.rms:5.2f}" in written
    assert "simulated" in written
    assert CAUTION in written


def test_progress_only_rises_and_ends(done):
    _, told = done
    shares = [share for _, share in told]
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    assert len({what for what, _ in told}) > 5


def test_an_earlier_run_is_not_overwritten_unasked(done):
    result, _ = done
    options = DemoOptions(folder=result.folder, quick=True)
    before = {path: path.stat().st_mtime_ns for path in result.files}
    with pytest.raises(FileError, match=r"01-picture\.tif"):
        demo(options)
    assert before == {path: path.stat().st_mtime_ns for path in result.files}


def test_a_file_is_no_folder(tmp_path):
    (tmp_path / "taken").write_text("mine")
    with pytest.raises(FileError) as caught:
        demo(DemoOptions(folder=tmp_path / "taken"))
    assert str(caught.value) == (
        f"{tmp_path / 'taken'}: is a file; the demo writes into a folder\n"
        "Name a folder; it is made where it is missing."
    )
    assert (tmp_path / "taken").read_text() == "mine"


def test_options_are_frozen():
    with pytest.raises(dataclasses.FrozenInstanceError):
        DemoOptions(folder="x").seed = 2  # type: ignore[misc]
