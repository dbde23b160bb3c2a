"""Instrument files through `read` and on to a table, one blue print in many forms.

What the instrument would say is computed by colour-science from the print's spectra.
"""

import shutil
import warnings

import numpy as np
import pytest

from negcurve.errors import FileError, ReadingsError
from negcurve.files.layout_json import ready_made_layouts, write_layout
from negcurve.files.readings_csv import read_readings
from negcurve.response.solving import solve as solve_readings
from negcurve.tasks.check import CheckOptions, check
from negcurve.tasks.film import FilmOptions, film
from negcurve.tasks.read import read
from negcurve.tasks.read_options import ReadOptions
from negcurve.tasks.solve import SolveOptions, solve
from tests.reading.prints import small_layout
from tests.response.prints import readings_of

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import colour

LAYOUT = small_layout()
LEVEL = np.array([patch.negative_level for patch in LAYOUT.patches])
NUMBERS = [patch.number for patch in LAYOUT.patches]
NM = np.arange(380, 731, 10)
IN_ORDER = np.arange(len(NUMBERS))
SHUFFLED = np.random.default_rng(6).permutation(len(NUMBERS))


def blue_spectra():
    """Reflectances of a print that is blue in its deep tones, rounded as exported."""
    amount = 0.04 + LEVEL**1.5
    colorant = 0.3 + 1.2 * np.exp(-(((NM - 690) / 140) ** 2))
    return np.round(0.85 * 10 ** -np.outer(amount, colorant), 5)


SPECTRA = blue_spectra()


def xyz(light):
    """Tristimulus values, 2 degrees, white Y = 100, by ASTM E308 in colour-science."""
    observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"]
    illuminant = colour.SDS_ILLUMINANTS[light]
    spectra = [dict(zip(NM.tolist(), row.tolist(), strict=True)) for row in SPECTRA]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it tells that it aligns its own tables
        return np.array(
            [
                colour.sd_to_XYZ(
                    colour.SpectralDistribution(each), observer, illuminant
                )
                for each in spectra
            ]
        )


XYZ = xyz("D50")
LAB = colour.XYZ_to_Lab(
    XYZ / 100,
    colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D50"],
)
LUMINANCE = -np.log10(XYZ[:, 1] / 100)
VISUAL = -np.log10(xyz("A")[:, 1] / 100)
"""ISO 5-3 visual: illuminant A and the 2 degree observer."""


def numbers(values, digits):
    return [f"{each:.{digits}f}" for each in values]


def cgats(names, columns, *, order=IN_ORDER):
    rows = ["\t".join(str(column[place]) for column in columns) for place in order]
    return "\n".join(
        [
            f"CGATS.17\nNUMBER_OF_FIELDS {len(names)}\nBEGIN_DATA_FORMAT",
            " ".join(names),
            f"END_DATA_FORMAT\nNUMBER_OF_SETS {len(rows)}\nBEGIN_DATA",
            *rows,
            "END_DATA\n",
        ]
    )


def csv(names, columns, *, delimiter=",", comma=False):
    lines = [delimiter.join(names)]
    for row in zip(*columns, strict=True):
        cells = [str(cell).replace(".", ",") if comma else str(cell) for cell in row]
        lines.append(delimiter.join(cells))
    return "\r\n".join(lines) + "\r\n"


def cxf():
    objects = "".join(
        f'<cc:Object ObjectType="Standard" Name="P{NUMBERS[place]}" Id="c{place}">'
        '<cc:ColorValues><cc:ReflectanceSpectrum ColorSpecification="s" StartWL="380">'
        f"{' '.join(numbers(SPECTRA[place], 5))}</cc:ReflectanceSpectrum>"
        "</cc:ColorValues></cc:Object>"
        for place in SHUFFLED
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?>'
        '<cc:CxF xmlns:cc="http://colorexchangeformat.com/CxF3-core"><cc:Resources>'
        f"<cc:ObjectCollection>{objects}</cc:ObjectCollection>"
        '<cc:ColorSpecificationCollection><cc:ColorSpecification Id="s">'
        "<cc:TristimulusSpec><cc:Illuminant>D50</cc:Illuminant>"
        "<cc:Observer>2_Degree</cc:Observer></cc:TristimulusSpec>"
        '<cc:MeasurementSpec><cc:WavelengthRange StartWL="380" Increment="10"/>'
        "</cc:MeasurementSpec></cc:ColorSpecification>"
        "</cc:ColorSpecificationCollection></cc:Resources></cc:CxF>"
    )


BANDS = [f"SPECTRAL_NM{nm}" for nm in NM]
FACTORS = [numbers(column, 5) for column in SPECTRA.T]
PERCENT = [numbers(column, 3) for column in 100 * SPECTRA.T]
LAB_COLUMNS = [numbers(column, 2) for column in LAB.T]
XYZ_COLUMNS = [numbers(column, 4) for column in XYZ.T]
NAMES = [f"P{number}" for number in NUMBERS]

FORMS = {
    "spectra.txt": cgats(["SAMPLE_ID", *BANDS], [NUMBERS, *FACTORS]),
    "shuffled.txt": cgats(
        ["SAMPLE_NAME", "LAB_L", "LAB_A", "LAB_B"],
        [NAMES, *LAB_COLUMNS],
        order=SHUFFLED,
    ),
    "xyz.txt": cgats(["XYZ_X", "XYZ_Y", "XYZ_Z"], XYZ_COLUMNS),
    "xyz-1.txt": cgats(["XYZ_Y"], [numbers(XYZ[:, 1] / 100, 6)]),
    "m.cxf": cxf(),
    "german.csv": csv(
        ["Größe", "patch", "LAB_L"],
        [["süß"] * len(NUMBERS), NUMBERS, LAB_COLUMNS[0]],
        delimiter=";",
        comma=True,
    ).encode("cp1252"),
    "wide.tsv": csv(["patch", "L*"], [NUMBERS, LAB_COLUMNS[0]], delimiter="\t").encode(
        "utf-16"
    ),
    "percent.csv": csv(["patch", "R (%)"], [NUMBERS, XYZ_COLUMNS[1]]),
    "factor.csv": csv(["patch", "reflectance"], [NUMBERS, numbers(XYZ[:, 1] / 100, 5)]),
    "spectra.csv": csv(
        ["patch", *(f"{nm} nm" for nm in NM)],
        [NUMBERS, *PERCENT],
        delimiter=";",
        comma=True,
    ),
}


@pytest.fixture
def folder(tmp_path):
    write_layout(LAYOUT, tmp_path / "target.layout.json")
    return tmp_path


def written(folder, name, content):
    path = folder / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    return path


@pytest.mark.parametrize("name", FORMS)
def test_every_form_gives_the_same_readings_and_table(folder, name):
    path = written(folder, name, FORMS[name])
    read(ReadOptions(inputs=[path], output=folder / "r.csv"))
    readings = read_readings(folder / "r.csv")
    assert (readings.density_kind, readings.density_zero) == ("luminance", "absolute")
    assert readings.target == LAYOUT.identity_text
    assert (readings.sheet, readings.source) == (path.stem, path.name)
    density = dict(zip(readings.patch, readings.density, strict=True))
    found = [density[str(number)] for number in NUMBERS]
    # L* of two decimals at L* 30 is 0.0002 D; 10 nm sums differ by less.
    np.testing.assert_allclose(found, LUMINANCE, atol=3e-4)
    assert readings.placed
    solution = solve(SolveOptions(readings=[folder / "r.csv"])).solution
    level = np.sort(LEVEL)
    np.testing.assert_allclose(
        solution.response.density(level), np.sort(LUMINANCE), atol=0.01
    )


@pytest.mark.parametrize("name", ["spectra.txt", "m.cxf"])
def test_visual_density_of_spectra_is_that_of_the_standard(folder, name):
    path = written(folder, name, FORMS[name])
    readings = read(ReadOptions(inputs=[path], channel="visual")).readings
    assert readings.density_kind == "visual"
    density = dict(zip(readings.patch, readings.density, strict=True))
    found = [density[str(number)] for number in NUMBERS]
    np.testing.assert_allclose(found, VISUAL, atol=4e-4)
    assert np.abs(VISUAL - LUMINANCE).max() > 0.03


def test_visual_and_luminance_readings_are_not_pooled(folder):
    visual = cgats(["SAMPLE_ID", "D_VIS"], [NUMBERS, numbers(VISUAL, 3)])
    first = written(folder, "visual.txt", visual)
    second = written(folder, "xyz.txt", FORMS["xyz.txt"])
    for path in (first, second):
        read(ReadOptions(inputs=[path], output=path.with_suffix(".csv")))
    with pytest.raises(ReadingsError) as caught:
        solve(SolveOptions(readings=[folder / "visual.csv", folder / "xyz.csv"]))
    assert "different density_kind cannot be pooled (visual.txt: visual, xyz.txt" in (
        str(caught.value)
    )
    with pytest.raises(
        ReadingsError, match="its density kind is luminance, that of vis"
    ):
        read(ReadOptions(inputs=[first, second]))


def test_the_one_target_beside_a_list_is_taken_and_said(folder):
    path = written(folder, "xyz.txt", FORMS["xyz.txt"])
    (first, *_) = read(ReadOptions(inputs=[path])).findings
    assert first.severity == "note"
    assert first.what == (
        f"taken as readings of target {LAYOUT.identity_text}, the one beside it"
    )


def test_a_list_may_say_its_target(folder):
    other = small_layout(seed=2)
    write_layout(other, folder / "other.layout.json")
    head = f'DESCRIPTOR "patches of {LAYOUT.identity_text.lower()}"\n'
    text = FORMS["xyz.txt"].replace("CGATS.17\n", "CGATS.17\n" + head)
    path = written(folder, "xyz.txt", text)
    assert read(ReadOptions(inputs=[path])).readings.target == LAYOUT.identity_text
    path = written(folder, "xyz.txt", FORMS["xyz.txt"])
    with pytest.raises(ReadingsError) as caught:
        read(ReadOptions(inputs=[path]))
    beside = sorted((LAYOUT.identity_text, other.identity_text))
    message = str(caught.value)
    assert "has no column negative_level (only xyz_x, xyz_y, xyz_z), and 2 targets" in (
        message
    )
    assert all(each in message for each in beside)
    assert message.endswith(
        "Name the target that was printed: --target OUT.tif; or add the column."
    )


def test_a_list_of_a_ready_made_target(tmp_path):
    layout = ready_made_layouts()[0]
    density = [0.1 + patch.negative_level for patch in layout.patches]
    text = csv(["D_VIS"], [numbers(density, 3)])
    stated = f"# target: {layout.identity_text}\n{text}"
    readings = read(ReadOptions(inputs=[written(tmp_path, "a.csv", stated)])).readings
    assert readings.target == layout.identity_text
    np.testing.assert_allclose(
        readings.density, 0.1 + readings.negative_level, atol=6e-4
    )


def test_a_list_of_a_target_that_is_not_known(tmp_path):
    stated = written(tmp_path, "a.csv", "# target: 0123ABCD\n" + FORMS["factor.csv"])
    with pytest.raises(ReadingsError, match="is of target 0123ABCD, which is neither"):
        read(ReadOptions(inputs=[stated]))
    path = written(tmp_path, "b.csv", FORMS["factor.csv"])
    with pytest.raises(ReadingsError, match="and no target lies beside it"):
        read(ReadOptions(inputs=[path]))
    with pytest.raises(ReadingsError) as caught:
        read(ReadOptions(inputs=[path], order="rows"))
    assert "no target lies beside it" in str(caught.value)


def test_a_list_with_levels_needs_no_target(tmp_path):
    columns = [numbers(LEVEL, 6), LAB_COLUMNS[0]]
    path = written(tmp_path, "a.csv", csv(["negative_level", "Lab L"], columns))
    readings = read(ReadOptions(inputs=[path])).readings
    np.testing.assert_allclose(readings.density, LUMINANCE, atol=3e-4)
    with pytest.raises(ReadingsError, match="order rows says nothing without the targ"):
        read(ReadOptions(inputs=[path], order="rows"))


@pytest.mark.parametrize(
    "run",
    [
        lambda path: solve(SolveOptions(readings=[path])),
        lambda path: check(
            CheckOptions(readings=[path], table=solve_readings([readings_of()]))
        ),
        lambda path: film(FilmOptions(readings=[path])),
        read_readings,
    ],
    ids=["solve", "check", "film", "api"],
)
@pytest.mark.parametrize(("name", "kind"), [("xyz.txt", "CGATS"), ("m.cxf", "CxF")])
def test_other_commands_say_how_to_read_an_instruments_file(folder, run, name, kind):
    path = written(folder, name, FORMS[name])
    with pytest.raises(FileError) as caught:
        run(path)
    assert str(caught.value).endswith(
        f"{name}: is an instrument's file ({kind}), which is read first\nRun `negcurve "
        f"read {name} -o R.csv --target OUT.tif` and name R.csv."
    )


def test_several_readings_of_one_print_are_averaged(folder):
    path = written(folder, "xyz.txt", FORMS["xyz.txt"])
    again = folder / "again.txt"
    shutil.copy(path, again)
    readings = read(ReadOptions(inputs=[path, again])).readings
    np.testing.assert_allclose(readings.density, LUMINANCE, atol=3e-4)
    assert readings.source == "xyz.txt, again.txt"


def test_steps_of_a_tablet_from_any_list(folder):
    steps = list(range(1, 12))
    density = [1.4 - 0.11 * step for step in steps]
    text = csv(["Step", "D vis"], [steps, numbers(density, 3)])
    path = written(folder, "strip.csv", "# density_zero: paper\n" + text)
    readings = read(ReadOptions(inputs=[path], tablet="31x0.10")).readings
    assert readings.on_tablet.all()
    assert (readings.density_kind, readings.density_zero) == ("visual", "paper")
    np.testing.assert_allclose(readings.density, density, atol=1e-3)
    np.testing.assert_allclose(np.diff(readings.tablet_density), 0.1)
    assert readings.patch[2] == "tablet 3"
    wrong = written(folder, "wrong.csv", text.replace("\r\n4,", "\r\nfour,"))
    with pytest.raises(ReadingsError, match="line 5: step 'four' is no number"):
        read(ReadOptions(inputs=[wrong], tablet="31x0.10"))
