"""Instrument files on the command line."""

import json

import numpy as np
import pytest

from negcurve.errors import FileError, InvalidValueError, ReadingsError
from negcurve.files.layout_json import write_layout
from negcurve.files.patch_order import in_order
from negcurve.files.readings_csv import read_readings
from tests.cli.running import runner
from tests.reading.prints import small_layout

run = runner("read")
LAYOUT = small_layout()


def density_of(level):
    return 0.09 + 1.2 * level**1.5


@pytest.fixture
def patches(tmp_path):
    """Visual densities read column by column, there and back, zeroed on the paper."""
    write_layout(LAYOUT, tmp_path / "target.layout.json")
    read = in_order(LAYOUT, "alternating-columns")
    rows = [f"{density_of(patch.negative_level) - 0.09:.3f}" for patch in read]
    text = "\n".join(
        [
            "CGATS.17\nBEGIN_DATA_FORMAT\nD_VIS\nEND_DATA_FORMAT\nBEGIN_DATA",
            *rows,
            "END_DATA\n",
        ]
    )
    path = tmp_path / "patches.txt"
    path.write_text(text)
    return path


def test_order_and_zero_as_a_user_says_them(patches, tmp_path):
    csv = tmp_path / "r.csv"
    done = run(
        *(str(patches), "-o", str(csv), "--order", "alternating-columns"),
        *("--zero", "paper", "--sheet", "7 May"),
    )
    assert done.exit_code == 0
    lines = done.stdout.splitlines()
    identity = LAYOUT.identity_text
    assert lines[0] == f"patches.txt: 54 patches read of target {identity}"
    assert lines[1] == "visual density 0.00 to 1.20, above paper"
    assert lines[3] == f"{csv}: readings of print 7 May"
    assert "note: patches.txt: visual density was taken from d_vis" in done.stderr
    readings = read_readings(csv)
    assert (readings.density_kind, readings.density_zero) == ("visual", "paper")
    np.testing.assert_allclose(
        readings.density, density_of(readings.negative_level) - 0.09, atol=6e-4
    )


def test_the_kind_of_density_is_told_to_machines(patches, tmp_path):
    done = run(
        *(str(patches), "-o", str(tmp_path / "r.csv"), "--json"),
        *("--order", "alternating-columns", "--channel", "visual"),
    )
    result = json.loads(done.stdout)["result"]
    assert result["density_kind"] == "visual"
    assert result["density_zero"] == "absolute"
    assert result["patches"] == 54
    assert result["scans"] == []


@pytest.mark.parametrize(
    ("options", "kind", "said"),
    [
        ([], ReadingsError, "would if read in the order alternating-columns"),
        (["--order", "diagonal"], InvalidValueError, "--order: 'diagonal' is not"),
        (["--zero", "black"], InvalidValueError, "--zero: densities counted from blac"),
        (["--zero", "grey"], InvalidValueError, "Use absolute, paper, scanner."),
        (["--channel", "cyan"], InvalidValueError, "--channel: 'cyan' is not known"),
        (["--channel", "red"], ReadingsError, "has no red density; it has visual"),
        (["--gamma", "2.2"], InvalidValueError, "--gamma: is said of a scan, but none"),
        (["--which", "left"], InvalidValueError, "no scan is read"),
        (["--overlay", "o.png"], InvalidValueError, "shows one scan, none given"),
        (["--overlay", "o.jpg"], FileError, "but a PNG would be written"),
        (["--corner", "1,2"], InvalidValueError, "in one scan, none given"),
    ],
)
def test_slips_end_in_one_sentence(patches, tmp_path, options, kind, said):
    with pytest.raises(kind) as caught:
        run(str(patches), "-o", str(tmp_path / "r.csv"), *options)
    assert said in str(caught.value)
    assert not (tmp_path / "r.csv").exists()


def test_an_empty_file_says_what_to_do(tmp_path):
    (tmp_path / "empty.csv").write_text("")
    with pytest.raises(FileError) as caught:
        run(str(tmp_path / "empty.csv"), "-o", str(tmp_path / "r.csv"))
    assert str(caught.value).endswith(
        "empty.csv: is empty\nSave it again from where it comes, or name another file."
    )
