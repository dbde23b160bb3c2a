from contextlib import closing

import numpy as np
from numpy.testing import assert_allclose

from negcurve.density import density_from_reflectance
from negcurve.files.pictures import open_picture
from negcurve.files.tiff import GreyTiffWriter
from negcurve.simulation.setups import demo_set_up
from negcurve.target.layout import Box
from negcurve.tasks.simulated import print_file, scan_to_file


def write_negative(path, codes, *, ppi=100):
    with GreyTiffWriter(
        path,
        width=codes.shape[1],
        height=codes.shape[0],
        resolution_ppi=ppi,
        description="negcurve negative",
    ) as writer:
        writer.write(codes)


def test_file_is_printed_at_its_resolution_with_border_and_tape(tmp_path):
    set_up = demo_set_up()
    codes = np.full((200, 300), 65535, np.uint16)
    codes[:, :100] = 0  # mirrored: the right of the print
    write_negative(tmp_path / "n.tif", codes)
    tape = Box(left_mm=20, top_mm=20, width_mm=15, height_mm=15)
    sheet = print_file(
        set_up, tmp_path / "n.tif", covered=[tape], border_mm=5.08, seed=1
    )
    assert sheet.resolution_ppi == 100
    paper = round(set_up.darkroom.paper_border_mm * 100 / 25.4)
    assert sheet.reflectance.shape == (240 + 2 * paper, 340 + 2 * paper)
    density = density_from_reflectance(sheet.reflectance)

    def around(x_mm, y_mm):
        x, y = (paper + round(each * 100 / 25.4) for each in (x_mm, y_mm))
        return float(density[y - 6 : y + 6, x - 6 : x + 6].mean())

    darkroom = set_up.darkroom
    # Lamp and coating of one sheet may differ from the mean by some hundredths.
    assert_allclose(around(45, 30), darkroom.density(1.0), atol=0.08)
    assert_allclose(around(70, 30), darkroom.density(0.0), atol=0.02)
    assert_allclose(around(27, 27), darkroom.paper.curve.d_min, atol=0.02)


def test_scan_is_written_with_profile_and_resolution(tmp_path):
    set_up = demo_set_up()
    write_negative(tmp_path / "n.tif", np.full((100, 80), 30000, np.uint16))
    sheet = print_file(set_up, tmp_path / "n.tif", seed=1)
    scan_to_file(set_up, sheet, tmp_path / "scan.tif", seed=2)
    with closing(open_picture(tmp_path / "scan.tif")) as source:
        assert source.channels == 3
        assert source.dtype == np.uint16
        assert source.resolution_ppi == (240, 240)
        assert source.profile == set_up.scanner.encoding.profile
        assert source.description == "Scan on Attic flatbed, simulated"
        codes = source.rows(0, source.height)
    again = set_up.scan_print(sheet, seed=2)
    assert np.array_equal(codes, again.codes)
