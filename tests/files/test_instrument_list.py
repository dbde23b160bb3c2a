"""Lists of instruments and people, through the one way in for lists."""

import numpy as np
import pytest

from negcurve.errors import FileError, ReadingsError
from tests.files.lists import (
    LAYOUT,
    LIGHT,
    LIGHTNESS,
    NM,
    NUMBERS,
    TRUE,
    cgats,
    csv,
    read_text_of,
    spectra,
)


@pytest.mark.parametrize(
    ("names", "columns", "kind"),
    [
        (["D_VIS"], [TRUE], "visual"),
        (["D_RED"], [TRUE], "red"),
        (["LAB_L", "LAB_A", "LAB_B"], [LIGHTNESS, 0 * TRUE, 0 * TRUE], "luminance"),
        (["XYZ_X", "XYZ_Y", "XYZ_Z"], [96 * LIGHT, 100 * LIGHT, LIGHT], "luminance"),
        (["XYZ_Y"], [LIGHT], "luminance"),
        (["D_VIS", "LAB_L"], [TRUE + 0.05, LIGHTNESS], "luminance"),
        ([f"SPECTRAL_NM{nm}" for nm in NM], spectra().T, "luminance"),
        ([f"nm{nm}" for nm in NM], spectra().T, "luminance"),
        ([f"SPECTRAL_PCT_{nm}" for nm in NM], 100 * spectra().T, "luminance"),
        (["SPECTRAL_NM", "SPECTRAL_PCT"] * 36, None, "luminance"),
    ],
    ids=range(10),
)
@pytest.mark.parametrize("first", ["CGATS.17", "ISO28178"])
def test_quantities_of_instrument_files(tmp_path, names, columns, kind, first):
    if columns is None:
        columns = [
            each
            for nm, values in zip(NM, 100 * spectra().T, strict=True)
            for each in (np.full(len(TRUE), float(nm)), values)
        ]
    text = cgats(["SAMPLE_ID", *names], NUMBERS, *columns, first=first)
    readings = read_text_of(tmp_path, text)
    assert readings.density_kind == kind
    np.testing.assert_allclose(readings.density, TRUE, atol=2e-5)
    level = [patch.negative_level for patch in LAYOUT.patches]
    np.testing.assert_array_equal(readings.negative_level, level)


@pytest.mark.parametrize("channel", ["visual", "luminance", "red"])
def test_the_channel_asked_for(tmp_path, channel):
    names = ["SAMPLE_ID", "D_RED", *(f"NM_{nm}" for nm in NM)]
    text = cgats(names, NUMBERS, TRUE + 0.3, *spectra().T)
    readings = read_text_of(tmp_path, text, channel=channel)
    assert readings.density_kind == channel
    wanted = TRUE + 0.3 * (channel == "red")
    np.testing.assert_allclose(readings.density, wanted, atol=2e-5)
    with pytest.raises(ReadingsError, match="has no blue density; it has"):
        read_text_of(tmp_path, text, channel="blue")


@pytest.mark.parametrize(
    ("encoding", "delimiter", "comma"),
    [
        ("utf-8", ";", True),
        ("utf-8-sig", "\t", True),
        ("utf-16", ",", False),
        ("utf-16-le", ";", True),
        ("cp1252", "\t", False),
    ],
)
def test_lists_as_people_keep_them(tmp_path, encoding, delimiter, comma):
    lines = ["# gemessen für München", delimiter.join(["Patch", "Remark", "LAB_L"])]
    for number, lightness in zip(NUMBERS, LIGHTNESS, strict=True):
        shown = f"{lightness:.4f}"
        cells = [f'"P {number}"', '"a, b"', shown.replace(".", ",") if comma else shown]
        lines.append(delimiter.join(cells))
    text = "\r\n".join(lines).replace("Patch", "Sample name")
    readings = read_text_of(tmp_path, text.encode(encoding))
    np.testing.assert_allclose(readings.density, TRUE, atol=1e-4)


def test_a_spectrum_named_by_bare_wavelengths(tmp_path):
    lines = ["patch," + ",".join(str(nm) for nm in NM)]
    for number, light in zip(NUMBERS, spectra(), strict=True):
        lines.append(f"{number}," + ",".join(f"{each:.6f}" for each in light))
    readings = read_text_of(tmp_path, "\n".join(lines))
    np.testing.assert_allclose(readings.density, TRUE, atol=2e-4)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (csv("lab_l", TRUE), "lab_l reaches 1.37, which is no L* of a print"),
        (csv("xyz_y", 4 * LIGHT), "xyz_y reaches 3.4: too much for a factor"),
        (csv("r_%", LIGHT), "r_% says percent but reaches only 0.85"),
        (csv("density", LIGHTNESS), "these look like L* or percent"),
        (csv("lab_l", LIGHTNESS, xyz_y=70 * LIGHT), "lab_l and xyz_y contradict"),
        (csv("density", TRUE + 0.07, lab_l=LIGHTNESS), "density and lab_l contradict"),
        (csv("d_red", TRUE, d_blue=TRUE), "densities of several channels: red, blue"),
        (
            csv("note", TRUE),
            "has no column that is known for a density, only patch, note",
        ),
    ],
)
def test_doubtful_units_are_refused(tmp_path, text, said):
    with pytest.raises(ReadingsError) as caught:
        read_text_of(tmp_path, text)
    assert said in str(caught.value)


def test_the_zero_is_told_never_guessed(tmp_path):
    text = csv("density", TRUE - 0.1)
    readings = read_text_of(tmp_path, text)
    assert readings.density_zero == "absolute"
    assert "whiter than any paper" in str(readings.findings[-1])
    readings = read_text_of(tmp_path, text, zero="paper")
    assert (readings.density_zero, readings.findings) == ("paper", ())
    with pytest.raises(ReadingsError, match="says density_zero: absolute"):
        read_text_of(tmp_path, "# density_zero: absolute\n" + text, zero="paper")


@pytest.mark.parametrize(
    ("header", "said"),
    [
        ("", None),
        ('WEIGHTING_FUNCTION "ILLUMINANT, D50"\n', None),
        ('WEIGHTING_FUNCTION "ILLUMINANT, D65"\n', "are for D65; luminance"),
        (
            'WEIGHTING_FUNCTION "ILLUMINANT, D50"\n'
            'WEIGHTING_FUNCTION "OBSERVER, 10 degree"\n',
            "are for 10 degrees; luminance",
        ),
        ("ILLUMINANT A\nOBSERVER 10\n", "are for A and 10 degrees; luminance"),
    ],
)
def test_another_illuminant_is_warned_of(tmp_path, header, said):
    names = ["SAMPLE_ID", "LAB_L"]
    text = cgats(names, NUMBERS, LIGHTNESS, first="CGATS.17\n" + header)
    findings = read_text_of(tmp_path, text).findings
    told = [each.what for each in findings if each.severity == "warning"]
    assert (not told) if said is None else (said in told[0])
    bands = [f"nm{nm}" for nm in NM]
    text = cgats([names[0], *bands], NUMBERS, *spectra().T, first="CGATS.17\n" + header)
    assert not any(
        "light" in each.what for each in read_text_of(tmp_path, text).findings
    )


def test_lines_above_the_names_are_left_out_and_told(tmp_path):
    above = "Measurement of 1 May\nDevice,one\n# density_zero: paper\nSerial,12345\n\n"
    readings = read_text_of(tmp_path, above + csv("D_VIS", TRUE))
    np.testing.assert_allclose(readings.density, TRUE, atol=1e-6)
    assert readings.density_zero == "paper"
    (told,) = [each.what for each in readings.findings if "left out" in each.what]
    assert told == (
        "line 1, 2, 4: left out, since the names of the columns stand in line 6"
    )
    wrong = above + csv("D_VIS", ["x", *TRUE[1:]])
    with pytest.raises(ReadingsError, match="line 7: d_vis 'x' is not a number"):
        read_text_of(tmp_path, wrong)


def test_a_line_of_units_is_left_out_and_told(tmp_path):
    text = csv("D_VIS", TRUE).replace("D_VIS\n", "D_VIS\n,[D]\n")
    readings = read_text_of(tmp_path, text)
    assert readings.density_kind == "visual"
    np.testing.assert_allclose(readings.density, TRUE, atol=1e-6)
    assert any(each.what.startswith("line 2: left out") for each in readings.findings)


def test_four_filters_by_their_letters(tmp_path):
    text = csv("V", TRUE, C=TRUE + 0.1, M=TRUE, Y=TRUE - 0.05)
    readings = read_text_of(tmp_path, text)
    assert readings.density_kind == "visual"
    readings = read_text_of(tmp_path, text, channel="red")
    np.testing.assert_allclose(readings.density, TRUE + 0.1, atol=1e-6)


def test_percent_may_stand_in_the_cells(tmp_path):
    cells = [f"{100 * each:.4f} %" for each in LIGHT]
    readings = read_text_of(tmp_path, csv("Reflectance", cells))
    np.testing.assert_allclose(readings.density, TRUE, atol=1e-4)


def test_percent_in_the_cells_must_be_percent(tmp_path):
    cells = [f"{each:.4f}%" for each in LIGHT]
    with pytest.raises(
        ReadingsError, match="reflectance says percent but reaches only"
    ):
        read_text_of(tmp_path, csv("reflectance", cells))


def test_a_mere_density_is_of_the_kind_asked_for(tmp_path):
    readings = read_text_of(tmp_path, csv("OD", TRUE), channel="visual")
    assert readings.density_kind == "visual"
    assert "is taken as visual density, as asked" in readings.findings[0].what
    said = "# density_kind: red\n" + csv("density", TRUE)
    assert read_text_of(tmp_path, said).density_kind == "red"
    with pytest.raises(ReadingsError, match="says density_kind: red, which is not vis"):
        read_text_of(tmp_path, said, channel="visual")
    with pytest.raises(ReadingsError, match="has no visual density; it has luminance"):
        read_text_of(tmp_path, csv("L*", LIGHTNESS), channel="visual")


def test_a_list_says_which_of_its_densities_is_meant(tmp_path):
    text = "# density_kind: red\n" + csv("d_vis", TRUE, d_red=TRUE + 0.1)
    readings = read_text_of(tmp_path, text)
    assert readings.density_kind == "red"
    np.testing.assert_allclose(readings.density, TRUE + 0.1, atol=1e-6)
    with pytest.raises(ReadingsError, match="says density_kind: red, which is not vis"):
        read_text_of(tmp_path, text, channel="visual")


def test_quantities_that_contradict_each_other_are_refused(tmp_path):
    apart = csv("d_vis", TRUE - 0.2, lab_l=LIGHTNESS)
    with pytest.raises(ReadingsError) as caught:
        read_text_of(tmp_path, apart)
    assert str(caught.value) == (
        "list.txt: lab_l and d_vis contradict each other: their densities differ by "
        "0.20 D\nIf the densities count from the paper, give --zero paper; else leave "
        "out the columns that are wrong."
    )
    readings = read_text_of(tmp_path, apart, zero="paper", channel="visual")
    np.testing.assert_allclose(readings.density, TRUE - 0.2, atol=1e-6)
    visual = csv("density", TRUE + 0.07, lab_l=LIGHTNESS)
    readings = read_text_of(tmp_path, visual, channel="visual")
    np.testing.assert_allclose(readings.density, TRUE + 0.07, atol=1e-6)
    one = TRUE + 0.4 * (np.arange(len(TRUE)) == 4)
    with pytest.raises(ReadingsError, match="line 6: density and lab_l contradict eac"):
        read_text_of(tmp_path, csv("density", one, lab_l=LIGHTNESS))


def test_factors_that_are_none_are_refused(tmp_path):
    names = ["SAMPLE_ID", *(f"SPECTRAL_DEC{nm}" for nm in NM)]
    text = cgats(names, NUMBERS, *(100 * spectra()).T)
    with pytest.raises(ReadingsError, match="dec380 says factors but reaches 85"):
        read_text_of(tmp_path, text)


def test_spectra_without_a_whole_row_are_refused(tmp_path):
    bands = [f"nm{nm}" for nm in NM]
    rows = [f"{number}," + "0.5," * 35 for number in NUMBERS]
    text = "\n".join(["patch," + ",".join(bands), *rows])
    with pytest.raises(ReadingsError, match="has no densities"):
        read_text_of(tmp_path, text)


def test_many_columns_are_not_all_listed(tmp_path):
    names = ["x" * 60, *(f"a{number}" for number in range(50))]
    with pytest.raises(ReadingsError) as caught:
        read_text_of(tmp_path, ",".join(names) + "\n1,2\n")
    told = f"only {'x' * 40}..., a0, a1"
    assert told in str(caught.value)
    assert "a10 and 39 more" in str(caught.value)


def test_columns_may_be_parted_by_blanks(tmp_path):
    rows = [
        f" {number:3}   {each:.4f} " for number, each in zip(NUMBERS, TRUE, strict=True)
    ]
    text = "a device\n\npatch  D_VIS\n" + "\n".join(rows)
    readings = read_text_of(tmp_path, text)
    np.testing.assert_allclose(readings.density, TRUE, atol=1e-4)
    assert readings.density_kind == "visual"


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (
            b"PK\x03\x04" + bytes(30),
            "is a spreadsheet or an archive, not text\nSave th",
        ),
        (b"\xd0\xcf\x11\xe0\xa1\xb1", "is a spreadsheet or an archive, not text\nSave"),
        (
            b"BM" + bytes(range(60)) * 3,
            "is not text\nLists are text. A scan is a TIFF, P",
        ),
    ],
)
def test_what_is_no_text(tmp_path, content, said):
    with pytest.raises(FileError) as caught:
        read_text_of(tmp_path, content)
    assert said in str(caught.value)
