"""CxF3 files, also hostile ones."""

import re
from pathlib import Path

import numpy as np
import pytest

from negcurve.errors import FileError, ReadingsError
from tests.files.lists import (
    LIGHTNESS,
    NUMBERS,
    TRUE,
    read_text_of,
    spectra,
)
from tests.reading.prints import small_layout

DATA = Path(__file__).parent.parent / "data"


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


def test_cxf_filters_a_and_b_are_no_colours(tmp_path):
    form = "<cc:ColorDensity><cc:Density>0.5</cc:Density><cc:Filter>B</cc:Filter>"
    values = [(number, form + "</cc:ColorDensity>") for number in NUMBERS]
    with pytest.raises(ReadingsError, match="holds no objects with colour values"):
        read_text_of(tmp_path, cxf(values), name="m.cxf")


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
