"""Lists of instruments and people, through the one way in for lists."""

import re
from pathlib import Path

import numpy as np
import pytest

from negcurve.density import lightness_from_density, reflectance_from_density
from negcurve.errors import FileError, ReadingsError
from negcurve.files.cgats import parse_cgats
from negcurve.files.instrument_list import ListOptions, read_list
from negcurve.files.patch_order import in_order
from tests.reading.prints import small_layout

DATA = Path(__file__).parent.parent / "data"
LAYOUT = small_layout()
NM = np.arange(380, 731, 10)
TRUE = np.array([0.07 + 1.3 * patch.negative_level**1.5 for patch in LAYOUT.patches])

FIVE = """CGATS.17
ORIGINATOR "a densitometer"
CREATED "1 May"
KEYWORD "SAMPLE_LOC"
NUMBER_OF_FIELDS 4
BEGIN_DATA_FORMAT
SAMPLE_ID SAMPLE_LOC D_VIS LAB_L
END_DATA_FORMAT
NUMBER_OF_SETS 5
BEGIN_DATA
1\tA1\t0.060\t94.7
2\tA2\t0.250\t79.5
3\tA3\t0.600\t57.2
4\tA4\t1.050\t35.8
5\tA5\t1.450\t22.1
END_DATA
"""


def rows_of(*columns):
    return "\n".join(
        " ".join(str(each) for each in row) for row in zip(*columns, strict=True)
    )


def cgats(names, *columns, first="CGATS.17"):
    return (
        f"{first}\nNUMBER_OF_FIELDS {len(names)}\nBEGIN_DATA_FORMAT\n"
        f"{' '.join(names)}\nEND_DATA_FORMAT\nNUMBER_OF_SETS {len(columns[0])}\n"
        f"BEGIN_DATA\n{rows_of(*columns)}\nEND_DATA\n"
    )


def read_text_of(tmp_path, text, layout=LAYOUT, name="list.txt", **options):
    path = tmp_path / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return read_list(path, layout, ListOptions(**options))


def spectra(density=TRUE):
    return np.outer(reflectance_from_density(density), np.ones(len(NM)))


NUMBERS = [patch.number for patch in LAYOUT.patches]
LIGHTNESS = lightness_from_density(TRUE)
LIGHT = reflectance_from_density(TRUE)


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


CHANGES = [
    (
        "\n2\tA2\t0.250\t79.5",
        "\n2\t\t0.250\t79.5",
        "line 12: has 3 values for 4 fields",
    ),
    ("\t1.450\t22.1", "\t1.450", "cell is blank or the row is cut short"),
    ("A2\t", "A 2\t", "text with blanks must stand in quotes"),
    ("END_DATA\n", "", "ends before END_DATA, so it may be cut off"),
    ("0.600", "nan", "line 13: D_VIS is nan, not a number"),
    ("0.600", "inf", "D_VIS is inf, not a number"),
    ("NUMBER_OF_SETS 5", "NUMBER_OF_SETS 6", "line 9: NUMBER_OF_SETS is 6, but there"),
    ("NUMBER_OF_FIELDS 4", "NUMBER_OF_FIELDS 5", "line 5: NUMBER_OF_FIELDS is 5"),
    ("0.600", "O.600", "line 13: d_vis 'O.600' is not a number"),
    ("D_VIS LAB_L\n", "D_VIS D_VIS\n", "names the field D_VIS twice"),
    ("A3", '"A3', "line 13: a quotation mark is not closed"),
    ("BEGIN_DATA\n", "", "without BEGIN_DATA"),
]


def end_removed(text, old, new):
    head, _, tail = text.rpartition(old)
    return head + new + tail if old == "END_DATA\n" else text.replace(old, new, 1)


@pytest.mark.parametrize(("old", "new", "said"), CHANGES)
def test_what_a_lenient_reader_takes_wrongly_is_told(tmp_path, old, new, said):
    """Variants that a common open reader takes, some with a wrong value."""
    text = end_removed(FIVE, old, new)
    assert text != FIVE
    text = text.replace("SAMPLE_ID", "patch").replace("LAB_L", "negative_level")
    with pytest.raises((FileError, ReadingsError)) as caught:
        read_text_of(tmp_path, text, layout=None)
    assert said in str(caught.value)


@pytest.mark.parametrize(
    ("old", "new", "noted"),
    [
        ("\n", "\r\n", None),
        ("\n", "\r", None),
        ("CGATS.17", "\ufeffCGATS.17", None),
        ("2\tA2", "# a remark\n2\tA2", None),
        ("\tA3", '\t"A 3"', None),
        ("0.250", "2.5e-1", None),
        ("0.250", "0,250", "uses decimal commas"),
        ('KEYWORD "SAMPLE_LOC"\n', "", "does not declare: SAMPLE_LOC"),
        ("NUMBER_OF_SETS 5\n", "", "does not state NUMBER_OF_SETS"),
    ],
)
def test_variants_read_the_same(tmp_path, old, new, noted):
    text = (
        FIVE.replace(old, new)
        .replace("LAB_L", "X")
        .replace('KEYWORD "SAMPLE_LOC"', 'KEYWORD "SAMPLE_LOC"\nKEYWORD "X"')
    )
    found = parse_cgats(text.removeprefix("\ufeff"), source="list.txt")
    cells = [row.cells["d_vis"].replace(",", ".") for row in found.tables[0].rows]
    assert [float(cell) for cell in cells] == [0.06, 0.25, 0.6, 1.05, 1.45]
    told = " ".join(str(each) for each in found.findings)
    assert (noted in told) if noted else ("uses" not in told and "state" not in told)


def cxf(values, extra="", doctype=""):
    objects = "".join(
        f'<cc:Object ObjectType="Standard" Name="P{number}" Id="o{number}">'
        f"<cc:CreationDate>2020-01-01T00:00:00</cc:CreationDate>"
        f"<cc:ColorValues>{escaped}</cc:ColorValues></cc:Object>"
        for number, escaped in values
    )
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>{doctype}'
        '<cc:CxF xmlns:cc="http://colorexchangeformat.com/CxF3-core">'
        "<cc:Resources><cc:ObjectCollection>"
        f"{objects}</cc:ObjectCollection><cc:ColorSpecificationCollection>"
        '<cc:ColorSpecification Id="s1"><cc:MeasurementSpec>'
        "<cc:MeasurementType>Spectrum_Reflectance</cc:MeasurementType>"
        '<cc:WavelengthRange StartWL="380" Increment="10"/></cc:MeasurementSpec>'
        f"</cc:ColorSpecification></cc:ColorSpecificationCollection>{extra}"
        "</cc:Resources></cc:CxF>"
    )


def spectrum_values(order):
    for place in order:
        row = " ".join(f"{each:.6f}" for each in spectra()[place])
        yield (
            NUMBERS[place],
            '<cc:ReflectanceSpectrum ColorSpecification="s1" StartWL="380">'
            f"{row}</cc:ReflectanceSpectrum>",
        )


def test_a_cxf_file_with_spectra_shuffled_but_named(tmp_path):
    order = np.random.default_rng(3).permutation(len(NUMBERS))
    readings = read_text_of(tmp_path, cxf(spectrum_values(order)), name="m.cxf")
    assert readings.density_kind == "luminance"
    assert readings.patch == tuple(str(NUMBERS[place]) for place in order)
    np.testing.assert_allclose(readings.density, TRUE[order], atol=2e-4)


def test_a_cxf_file_with_densities(tmp_path):
    values = [
        (
            number,
            '<cc:ColorDensity ColorSpecification="s1">'
            f"<cc:Density>{density:.4f}</cc:Density><cc:Status>T</cc:Status>"
            "<cc:Filter>Visual</cc:Filter></cc:ColorDensity>",
        )
        for number, density in zip(NUMBERS, TRUE, strict=True)
    ]
    readings = read_text_of(tmp_path, cxf(values), name="m.cxf")
    assert readings.density_kind == "visual"
    np.testing.assert_allclose(readings.density, TRUE, atol=6e-5)
    assert any("status T" in str(each) for each in readings.findings)
    based = [
        (n, v.replace("<cc:Status>", "<cc:BaseOffset>0.06</cc:BaseOffset><cc:Status>"))
        for n, v in values
    ]
    with pytest.raises(ReadingsError, match="offset for the base"):
        read_text_of(tmp_path, cxf(based), name="m.cxf")
    readings = read_text_of(tmp_path, cxf(based), name="m.cxf", zero="paper")
    assert readings.density_zero == "paper"


@pytest.mark.parametrize(
    ("left_out", "channel", "source", "above"),
    [
        ("", None, "the spectra", 0),
        ("", "visual", "the spectra", 0),
        ("", "red", "d_red, status A", 0.1),
        ("ReflectanceSpectrum", None, "lab_l", 0),
        ("ReflectanceSpectrum|CIELab", None, "lch_l", 0),
        ("ReflectanceSpectrum|CIELab|CIELCh", None, "xyy_capy", 0),
        ("ReflectanceSpectrum|CIELab|CIELCh|CIExyY", None, "d_visual, status A", 0),
    ],
)
def test_a_file_that_another_library_wrote(tmp_path, left_out, channel, source, above):
    """What stands in it is known: see the file's head."""
    text = (DATA / "grey-patches.cxf").read_text(encoding="utf-8")
    if left_out:
        pattern = rf"<ns0:\w*({left_out})\b.*?</ns0:\w*({left_out})>"
        text = re.sub(pattern, "", text, flags=re.S)
    layout = small_layout(rows=2, columns=3, repeats=1)
    levels = np.array([patch.negative_level for patch in layout.patches])
    named = text
    for place, rank in enumerate(np.argsort(np.argsort(levels))):
        named = named.replace(f'Name="P{rank + 1}"', f'Name="patch-{place + 1}"')
    readings = read_text_of(
        tmp_path, named, layout=layout, name="m.cxf", channel=channel
    )
    known = 0.10 + 0.25 * np.argsort(np.argsort(readings.negative_level)) + above
    np.testing.assert_allclose(readings.density, known, atol=2e-4)
    assert any(f"was taken from {source}" in each.what for each in readings.findings)


@pytest.mark.parametrize(
    "form",
    [
        '<cc:Density Filter="Visual">{}</cc:Density>',
        "<cc:Density>{}</cc:Density><cc:DensityFilter>Black</cc:DensityFilter>",
        "<cc:Filter>Vis</cc:Filter><cc:Density>{}</cc:Density>",
    ],
)
def test_cxf_densities_say_their_filter_in_several_ways(tmp_path, form):
    values = [
        (number, f"<cc:ColorDensity>{form.format(round(each, 4))}</cc:ColorDensity>")
        for number, each in zip(NUMBERS, TRUE, strict=True)
    ]
    readings = read_text_of(tmp_path, cxf(values), name="m.cxf")
    assert readings.density_kind == "visual"
    np.testing.assert_allclose(readings.density, TRUE, atol=6e-5)


def test_cxf_objects_that_were_measured_stand_beside_those_wanted(tmp_path):
    wanted = cxf((number, lab_value(50)) for number in NUMBERS)
    measured = cxf(
        (number, lab_value(each))
        for number, each in zip(NUMBERS, LIGHTNESS, strict=True)
    ).replace('ObjectType="Standard"', 'ObjectType="Trial"')
    objects = measured.partition("<cc:ObjectCollection>")[2]
    objects = objects.partition("</cc:ObjectCollection>")[0]
    both = wanted.replace("<cc:ObjectCollection>", f"<cc:ObjectCollection>{objects}")
    readings = read_text_of(tmp_path, both, name="m.cxf")
    np.testing.assert_allclose(readings.density, TRUE, atol=2e-5)
    assert "types Trial, Standard; Trial was read" in readings.findings[0].what


def lab_value(lightness):
    return (
        f"<cc:ColorCIELab><cc:L>{lightness:.5f}</cc:L><cc:A>0</cc:A><cc:B>0</cc:B>"
        "</cc:ColorCIELab>"
    )


LAUGHS = (
    '<!DOCTYPE CxF [<!ENTITY a "aaaaaaaaaa">'
    + "".join(
        f'<!ENTITY {b} "{"&" + a + ";" * 1}{("&" + a + ";") * 9}">'
        for a, b in zip("abcdefgh", "bcdefghi", strict=True)
    )
    + "]>"
)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (cxf([], doctype=LAUGHS, extra="<x>&i;</x>"), "declares a document type"),
        (cxf([], doctype='<!DOCTYPE CxF SYSTEM "file:///etc/hosts">'), "document type"),
        (cxf([])[:-20], "is not well-formed XML"),
        (cxf([]), "holds no objects"),
        ("<?xml version='1.0'?><svg/>", "is XML of another kind (svg)"),
        (
            "<CxF>" + "<a>" * 100 + "</a>" * 100 + "</CxF>",
            "nests its elements too deep",
        ),
        (
            cxf(spectrum_values([0])).replace("Increment", "Inc"),
            "does not state the wav",
        ),
    ],
)
def test_hostile_or_damaged_xml_ends_in_one_sentence(tmp_path, text, said):
    with pytest.raises((FileError, ReadingsError)) as caught:
        read_text_of(tmp_path, text, name="m.cxf")
    assert said in str(caught.value)


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


def csv(name, values, **more):
    names, columns = ["patch", name, *more], [NUMBERS, values, *more.values()]
    rows = [",".join(str(each) for each in row) for row in zip(*columns, strict=True)]
    return "\n".join([",".join(names), *rows])


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


@pytest.mark.parametrize(
    "order", ["number", "rows", "columns", "alternating-rows", "alternating-columns"]
)
def test_reading_orders(tmp_path, order):
    place = {patch.number: TRUE[at] for at, patch in enumerate(LAYOUT.patches)}
    values = [place[patch.number] for patch in in_order(LAYOUT, order)]
    text = cgats(["SAMPLE_ID", "LAB_L"], NUMBERS, lightness_from_density(values))
    readings = read_text_of(tmp_path, text, order=order)
    back = [place[int(key)] for key in readings.patch]
    np.testing.assert_allclose(readings.density, back, atol=1e-4)
    if order not in ("number", "rows"):
        with pytest.raises(ReadingsError, match=f"if read in the order {order}"):
            read_text_of(tmp_path, text)


def test_the_orders_walk_as_they_say():
    """A 9 by 6 target: its own order is row by row."""
    numbers = [patch.number for patch in in_order(LAYOUT, "columns")]
    assert numbers[:7] == [1, 10, 19, 28, 37, 46, 2]
    numbers = [patch.number for patch in in_order(LAYOUT, "alternating-rows")]
    assert numbers[7:12] == [8, 9, 18, 17, 16]
    numbers = [patch.number for patch in in_order(LAYOUT, "alternating-columns")]
    assert numbers[4:9] == [37, 46, 47, 38, 29]


def test_the_zero_is_told_never_guessed(tmp_path):
    text = csv("density", TRUE - 0.1)
    readings = read_text_of(tmp_path, text)
    assert readings.density_zero == "absolute"
    assert "whiter than any paper" in str(readings.findings[-1])
    readings = read_text_of(tmp_path, text, zero="paper")
    assert (readings.density_zero, readings.findings) == ("paper", ())
    with pytest.raises(ReadingsError, match="says density_zero: absolute"):
        read_text_of(tmp_path, "# density_zero: absolute\n" + text, zero="paper")


TWO_TABLES = (
    cgats(["SAMPLE_ID", "RGB_R"], NUMBERS, NUMBERS)
    + cgats(["SAMPLE_ID", "LAB_L"], NUMBERS, LIGHTNESS, first="")
    + cgats(["SAMPLE_ID", "D_VIS"], NUMBERS, TRUE + 0.3, first="")
)


def test_of_several_tables_the_first_with_values_is_read(tmp_path):
    readings = read_text_of(tmp_path, TWO_TABLES)
    np.testing.assert_allclose(readings.density, TRUE, atol=2e-5)
    (told,) = [each for each in readings.findings if "tables" in each.what]
    assert told.severity == "warning"
    assert told.what.startswith("holds 3 tables, 2 of them with measured values")
    cut = TWO_TABLES.replace("NUMBER_OF_SETS 54", "NUMBER_OF_SETS 53", 2).replace(
        "NUMBER_OF_SETS 53", "NUMBER_OF_SETS 54", 1
    )
    with pytest.raises(ReadingsError, match="NUMBER_OF_SETS is 53, but there are 54"):
        read_text_of(tmp_path, cut)


def test_a_file_in_small_letters(tmp_path):
    text = cgats(["SAMPLE_ID", "LAB_L"], NUMBERS, LIGHTNESS).lower()
    for each in (text, text.removeprefix("cgats.17\n")):
        readings = read_text_of(tmp_path, each)
        np.testing.assert_allclose(readings.density, TRUE, atol=2e-5)


def test_a_file_says_what_our_own_files_say(tmp_path):
    text = cgats(["SAMPLE_ID", "D_VIS"], NUMBERS, TRUE).replace(
        "CGATS.17\n",
        'CGATS.17\nSHEET "7 May"\nDENSITY_ZERO "paper"\nHOURS_DRY 24\n'
        f'TARGET "{LAYOUT.identity_text}"\nFILTER "Status A"\n',
    )
    readings = read_text_of(tmp_path, text)
    assert (readings.sheet, readings.hours_dry) == ("7 May", 24)
    assert (readings.density_zero, readings.target) == ("paper", LAYOUT.identity_text)
    assert any("from d_vis, status A" in each.what for each in readings.findings)


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


ORDER = np.random.default_rng(8).permutation(len(NUMBERS))


@pytest.mark.parametrize(
    "name",
    ["P{}", "P{:02d}", "patch {}", "sheet1_{:02d}", "7May-{}", "T1.{}", "1-{}", "{}.0"],
)
@pytest.mark.parametrize("column", ["sample_name", "Patch", "Patch No.", "Patch ID"])
def test_shuffled_patches_are_known_by_name(tmp_path, name, column):
    lines = [f"sample_id,{column},L*"]
    for place, patch in enumerate(ORDER):
        cells = place + 1, name.format(NUMBERS[patch]), f"{LIGHTNESS[patch]:.4f}"
        lines.append(",".join(map(str, cells)))
    readings = read_text_of(tmp_path, "\n".join(lines))
    assert readings.patch == tuple(str(NUMBERS[patch]) for patch in ORDER)
    np.testing.assert_allclose(readings.density, TRUE[ORDER], atol=1e-4)


@pytest.mark.parametrize("column", ["No.", "Nr", "Index", "ID", "Sample", "Step"])
def test_other_columns_that_tell_a_patch(tmp_path, column):
    lines = [f"{column},L*"]
    lines += [f"{NUMBERS[patch]},{LIGHTNESS[patch]:.4f}" for patch in ORDER]
    readings = read_text_of(tmp_path, "\n".join(lines))
    np.testing.assert_allclose(readings.density, TRUE[ORDER], atol=1e-4)


def test_patches_named_twice_are_read_twice(tmp_path):
    lines = ["sample_id,sample_name,L*"]
    for row, patch in enumerate([*ORDER, *ORDER]):
        lines.append(f"{row + 1},P{NUMBERS[patch]},{LIGHTNESS[patch]:.4f}")
    readings = read_text_of(tmp_path, "\n".join(lines))
    assert readings.patch == 2 * tuple(str(NUMBERS[patch]) for patch in ORDER)
    np.testing.assert_allclose(readings.density, TRUE[[*ORDER, *ORDER]], atol=1e-4)


@pytest.mark.parametrize("name", ["A{}", "print 3", "{0}-{0}"])
def test_names_that_are_no_numbers_of_patches(tmp_path, name):
    """Places on a chart, the print's name, strip and patch: row by row instead."""
    lines = ["sample_name,L*"]
    for number, lightness in zip(NUMBERS, LIGHTNESS, strict=True):
        text = name.format(number)
        if name == "A{}":
            text = f"{'ABCDEF'[(number - 1) // 9]}{(number - 1) % 9 + 1}"
        lines.append(f"{text},{lightness:.4f}")
    readings = read_text_of(tmp_path, "\n".join(lines))
    np.testing.assert_allclose(readings.density, TRUE, atol=1e-4)


def test_densities_that_follow_no_order_are_refused(tmp_path):
    text = "field of view,L*\n" + "\n".join(
        f"{NUMBERS[patch]},{LIGHTNESS[patch]:.4f}" for patch in ORDER
    )
    with pytest.raises(ReadingsError) as caught:
        read_text_of(tmp_path, text)
    assert (
        "do not rise with the levels of the patches they are given for: that exp"
        in (str(caught.value))
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
