"""Readings files: exact round trips; lists as people and spreadsheets write them."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import negcurve
from negcurve.density import density_from_lightness, lightness_slope
from negcurve.errors import FileError, ReadingsError
from negcurve.files.readings_csv import read_readings, write_readings
from negcurve.readings import NUMBERS, Readings
from negcurve.target.layout import Box, Layout, Patch
from negcurve.values import Finding


def box(left, top=0.0):
    return Box(left_mm=left, top_mm=top, width_mm=10, height_mm=10)


def layout(levels=(1.0, 0.25, 0.5), *, tones=(None, None, None), table=""):
    """A target of three patches in a row."""
    return Layout(
        sheet="A6",
        width_mm=148,
        height_mm=105,
        margin_mm=0,
        resolution_ppi=360,
        mirrored=True,
        levels=3,
        repeats=1,
        seed=1,
        marks_mm=((5, 5), (143, 5), (143, 100), (5, 100)),
        identity_boxes=(box(40), box(40, 90)),
        patches=tuple(
            Patch(
                number=number,
                negative_level=level,
                repeat=1,
                box=box(20 * number, 30),
                image_tone=tone,
            )
            for number, (level, tone) in enumerate(
                zip(levels, tones, strict=True), start=1
            )
        ),
        table=table,
    )


def file_of(folder, content, *, name="r.csv", encoding="utf-8"):
    path = folder / name
    path.write_bytes(content.encode(encoding))
    return path


def refusal(folder, content, *, given=None, kind=ReadingsError):
    with pytest.raises(kind) as caught:
        read_readings(file_of(folder, content), given)
    return str(caught.value)


def same(first, second):
    """Compare every attribute, exactly."""
    for name in NUMBERS:
        np.testing.assert_array_equal(getattr(first, name), getattr(second, name))
    for name in (
        "patch",
        "flags",
        "sheet",
        "target",
        "table",
        "density_kind",
        "density_zero",
        "print_state",
        "hours_dry",
        "source",
        "printer_path",
        "findings",
    ):
        assert getattr(first, name) == getattr(second, name), name


FULL = Readings(
    negative_level=[0, 1 / 3, 1],
    density=[0.1, 0.123456789012345, 1.4],
    patch=("1", "2", "3"),
    image_tone=[1, np.nan, 0],
    standard_error=[0.01, np.nan, 0.02],
    x_mm=[1.5, 2.5, 3.5],
    y_mm=[np.nan] * 3,
    flags=({"stray", "uneven"}, set(), {"clipped"}),
    sheet="Sheet 7, warm",
    target="1234ABCD",
    table="0badcafe",
    density_kind="visual",
    density_zero="paper",
    print_state="wet",
    hours_dry=2.5,
    source="scan: 7.tif",
    printer_path={"mode": "grey", "bits": "16", "ppi": "360", "profile": "none"},
    findings=(
        Finding(severity="note", what='the "lid" is dark, 3 %'),
        Finding(severity="warning", where="patch 3", what="clipped", fix="Rescan."),
    ),
)


def test_what_is_written(tmp_path):
    write_readings(FULL, tmp_path / "r.csv")
    assert (tmp_path / "r.csv").read_text(encoding="utf-8") == (
        "# schema: negcurve/readings/1\n"
        "# sheet: Sheet 7, warm\n"
        "# target: 1234ABCD\n"
        "# table: 0badcafe\n"
        "# density_kind: visual\n"
        "# density_zero: paper\n"
        "# print_state: wet\n"
        "# hours_dry: 2.5\n"
        "# source: scan: 7.tif\n"
        "# printer_path.mode: grey\n"
        "# printer_path.bits: 16\n"
        "# printer_path.ppi: 360\n"
        "# printer_path.profile: none\n"
        '# finding: {"severity": "note", "what": "the \\"lid\\" is dark, 3 %", '
        '"where": "", "fix": ""}\n'
        '# finding: {"severity": "warning", "what": "clipped", "where": "patch 3", '
        '"fix": "Rescan."}\n'
        "patch,negative_level,density,image_tone,standard_error,x_mm,flags\n"
        "1,0.0,0.1,1.0,0.01,1.5,stray;uneven\n"
        "2,0.3333333333333333,0.123456789012345,,,2.5,\n"
        "3,1.0,1.4,0.0,0.02,3.5,clipped\n"
    )


def test_round_trip_of_everything(tmp_path):
    write_readings(FULL, tmp_path / "r.csv")
    same(read_readings(tmp_path / "r.csv"), FULL)
    same(negcurve.read_readings(tmp_path / "r.csv"), FULL)


words = st.text(
    st.characters(categories=("L", "N", "P", "S"), include_characters=" "), max_size=12
).map(lambda text: " ".join(text.split()))
levels = st.floats(0, 1)
known = st.floats(-0.5, 4.5)
maybe = st.one_of(st.just(float("nan")), st.floats(-1e6, 1e6))


@settings(max_examples=100, deadline=None)
@given(data=st.data(), count=st.integers(1, 6))
def test_round_trip(tmp_path_factory, data, count):
    def numbers(kind):
        return data.draw(st.lists(kind, min_size=count, max_size=count))

    made = Readings(
        negative_level=numbers(levels),
        density=numbers(known),
        patch=tuple(numbers(words)),
        image_tone=numbers(maybe),
        standard_error=numbers(maybe),
        x_mm=numbers(maybe),
        flags=tuple(numbers(st.frozensets(st.sampled_from(["stray", "covered"])))),
        sheet=data.draw(words.filter(bool)),
        target=data.draw(words),
        source=data.draw(words.filter(bool)),
        hours_dry=data.draw(st.one_of(st.none(), st.floats(0, 1e4))),
        printer_path={"mode": data.draw(words)} if data.draw(st.booleans()) else {},
    )
    path = tmp_path_factory.mktemp("r") / "r.csv"
    write_readings(made, path)
    same(read_readings(path), made)


@pytest.mark.parametrize("text", ["#", '"', ";", ",", "a;", '"a",', "# b: c", "'"])
def test_texts_that_look_like_something_else(tmp_path, text):
    made = Readings(
        negative_level=[0, 1],
        density=[0.1, 1],
        patch=(text, "2"),
        sheet=text,
        target=text,
        source=text,
        printer_path={"mode": text},
    )
    write_readings(made, tmp_path / "r.csv")
    same(read_readings(tmp_path / "r.csv"), made)


def test_an_existing_file_is_kept(tmp_path):
    write_readings(FULL, tmp_path / "r.csv")
    with pytest.raises(FileError, match="exists already"):
        write_readings(FULL.replaced(sheet="8"), tmp_path / "r.csv")
    assert read_readings(tmp_path / "r.csv").sheet == FULL.sheet
    write_readings(FULL.replaced(sheet="8"), tmp_path / "r.csv", overwrite=True)
    assert read_readings(tmp_path / "r.csv").sheet == "8"


PLAIN = "patch,negative_level,density\n1,0,0.05\n2,0.5,0.6\n3,1,1.4\n"

VARIANTS = {
    "plain": PLAIN,
    "line ends of Windows": PLAIN.replace("\n", "\r\n"),
    "line ends of old": PLAIN.replace("\n", "\r"),
    "no last line end": PLAIN.rstrip(),
    "semicolons": PLAIN.replace(",", ";"),
    "tabs": PLAIN.replace(",", "\t"),
    "decimal commas": PLAIN.replace(",", ";").replace(".", ","),
    "decimal commas and tabs": PLAIN.replace(",", "\t").replace(".", ","),
    "decimal commas in quotes": PLAIN.replace("0.05", '"0,05"').replace("0.6", '"0,6"'),
    "spaces": PLAIN.replace(",", " , "),
    "capitals": PLAIN.replace("patch,negative_level", "Patch,Negative Level"),
    "quotes": '"patch","negative_level","density"\n"1","0","0.05"\n'
    '"2","0.5","0.6"\n"3","1","1.4"\n',
    "comments and empty lines": "# read by hand\n\n"
    + PLAIN.replace("\n2,", "\n\n# a break\n,,\n2,"),
    "other columns": "note,patch,negative_level,density,operator\n"
    'good,1,0,0.05,x\n"fair, odd",2,0.5,0.6,y\n,3,1,1.4,\n',
    "other order": "density,negative_level,patch\n0.05,0,1\n0.6,0.5,2\n1.4,1,3\n",
    "trailing delimiters": PLAIN.replace("\n", ",,,\n"),
    "exponents and signs": "patch,negative_level,density\n1,0,+5e-2\n2,.5,6E-1\n"
    "3,1.,1.4\n",
}


@pytest.mark.parametrize("name", VARIANTS)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_lists_as_others_write_them(tmp_path, name, encoding):
    path = file_of(tmp_path, VARIANTS[name], encoding=encoding)
    found = read_readings(path)
    assert found.patch == ("1", "2", "3")
    np.testing.assert_array_equal(found.negative_level, [0, 0.5, 1])
    np.testing.assert_array_equal(found.density, [0.05, 0.6, 1.4])
    assert (found.sheet, found.source) == ("r", "r.csv")


@pytest.mark.parametrize("encoding", ["utf-16-le", "utf-16-be"])
def test_sixteen_bits_without_a_mark(tmp_path, encoding):
    found = read_readings(file_of(tmp_path, PLAIN, encoding=encoding))
    np.testing.assert_array_equal(found.density, [0.05, 0.6, 1.4])


def test_names_beyond_ascii(tmp_path):
    content = "# sheet: Blütenweiß\n" + PLAIN
    for encoding in ("utf-8", "utf-16", "cp1252"):
        found = read_readings(file_of(tmp_path, content, encoding=encoding))
        assert found.sheet == "Blütenweiß"


def test_our_file_saved_again_by_a_spreadsheet(tmp_path):
    write_readings(FULL, tmp_path / "r.csv")
    lines = (tmp_path / "r.csv").read_text(encoding="utf-8").splitlines()
    saved = []
    for line in lines:
        if line.startswith("#"):
            # One cell, quoted where it holds delimiter or quote, empty cells behind.
            quoted = '"' + line.replace('"', '""') + '"'
            saved.append((quoted if '"' in line or "," in line else line) + ";;;;;;")
        else:
            cells = line.split(",")
            cells[-1] = f'"{cells[-1]}"' if ";" in cells[-1] else cells[-1]
            saved.append(";".join(cells).replace(".", ","))
    path = file_of(tmp_path, "\r\n".join(saved), name="s.csv", encoding="cp1252")
    same(read_readings(path), FULL)


def test_lightness_becomes_density(tmp_path):
    content = "negative_level,L*,standard_error\n0,95.5,0.2\n0.5,61,\n1,15,0.3\n"
    found = read_readings(file_of(tmp_path, content))
    expected = density_from_lightness([95.5, 61, 15])
    np.testing.assert_allclose(found.density, expected)
    assert found.density_kind == "luminance"
    np.testing.assert_allclose(
        found.standard_error[[0, 2]],
        np.array([0.2, 0.3]) / -lightness_slope(expected[[0, 2]]),
    )


def test_patch_numbers_take_their_levels_from_the_target(tmp_path):
    target = layout(tones=(0.0, 0.7, 0.4), table="0badcafe")
    content = "patch;density\n3;0,8\n1;1,5\n1;1,52\n"
    found = read_readings(file_of(tmp_path, content), target)
    assert found.patch == ("3", "1", "1")
    np.testing.assert_array_equal(found.negative_level, [0.5, 1, 1])
    np.testing.assert_array_equal(found.image_tone, [0.4, 0, 0])
    np.testing.assert_array_equal(found.density, [0.8, 1.5, 1.52])
    np.testing.assert_array_equal(found.x_mm, [65, 25, 25])
    np.testing.assert_array_equal(found.y_mm, [35, 35, 35])
    assert found.target == target.identity_text
    assert found.table == "0badcafe"
    assert found.printer_path == target.printer_path


def test_densities_alone_stand_in_the_order_of_the_target(tmp_path):
    found = read_readings(file_of(tmp_path, "density\n1,5\n0,3\n0,8\n"), layout())
    assert found.patch == ("1", "2", "3")
    np.testing.assert_array_equal(found.negative_level, [1, 0.25, 0.5])
    np.testing.assert_array_equal(found.density, [1.5, 0.3, 0.8])


def test_rows_without_density_are_left_out_and_said(tmp_path):
    content = "patch,density\n1,1.5\n2,\n3,0.8\n"
    found = read_readings(file_of(tmp_path, content), layout())
    assert found.patch == ("1", "3")
    assert [str(each) for each in found.findings] == [
        "note: r.csv: 1 row without a density left out (line 3)"
    ]


def test_readings_of_another_target_are_refused(tmp_path):
    target = layout()
    content = "# target: 00000001\npatch,density\n1,1.5\n"
    assert refusal(tmp_path, content, given=target) == (
        f"r.csv: was read from target 00000001, not from {target.identity_text}\n"
        "Name the target that was printed, or the readings that belong to it."
    )


REFUSED = {
    "no densities named": (
        "patch,value\n1,2\n",
        "r.csv: has no column density or lightness, only patch, value\n"
        "Name it so in the first line. Other columns of an instrument are understood "
        "by `negcurve read FILE -o R.csv`.",
    ),
    "no levels and no target": (
        "patch,density\n1,1.5\n",
        "r.csv: has no column negative_level, only patch, density\n"
        "Add it, or name the target that was printed: "
        "`negcurve read FILE -o R.csv --target OUT.tif`.",
    ),
    "not a number": (
        PLAIN.replace("0.6", "dark"),
        "r.csv, line 3: density 'dark' is not a number\n"
        "Correct the file and read it again.",
    ),
    "several problems": (
        "negative_level,density,flags\n0,x,\n1.5,0.3,\n0.5,9,\n,1,\n0.7,1,torn\n1,1,\n",
        "r.csv: 5 problems\n"
        "  line 2: density 'x' is not a number\n"
        "  line 3: negative_level 1.5 lies outside 0..1 (code / largest code)\n"
        "  line 4: density 9 lies outside -0.5..4.5\n"
        "  line 5: negative_level is missing\n"
        "  line 6: flag 'torn' is not known\n"
        "Correct the file and read it again.",
    ),
    "percent": (
        "negative_level,density\n0,92\n0.5,40\n1,4.1\n",
        "r.csv: the densities reach 92: these look like L* or percent\n"
        "Name the column lightness if it is L*; turn a reflectance R into -log10 R.",
    ),
    "density named lightness": (
        "negative_level,lightness\n0,0.1\n0.5,0.6\n1,1.5\n",
        "r.csv: the lightnesses reach only 1.5: these look like densities\n"
        "Name the column density if it is; L* runs from 0 to 100.",
    ),
    "lightness of 0": (
        "negative_level,lightness\n0,90\n0.5,60\n1,0\n",
        "r.csv, line 4: lightness 0 lies outside 0..105\n"
        "Correct the file and read it again.",
    ),
    "lightness in another density": (
        "# density_kind: visual\nnegative_level,lightness\n0,90\n",
        "r.csv: gives lightness but says density_kind: visual; L* is luminance "
        "density\nCorrect one of the two.",
    ),
    "decimal commas between commas": (
        "patch,negative_level,density\n1,0,5,1,2\n",
        "r.csv, line 2: has 5 values for 3 named columns\n"
        "With decimal commas, separate the columns by semicolons or tabs.",
    ),
    "words in the head": (
        "# density_kind: cyan\n# print_state: damp\n# hours_dry: long\n"
        "# finding: {}\n" + PLAIN,
        "r.csv: 4 problems\n"
        "  line 1: density_kind is 'cyan', not luminance, visual, red, green or blue\n"
        "  line 2: print_state is 'damp', not dry or wet\n"
        "  line 3: hours_dry is 'long', not a number of hours\n"
        "  line 4: the finding is damaged\n"
        "Correct the file and read it again.",
    ),
    "nothing but names": (
        "negative_level,density\n",
        "r.csv: has no densities\nBelow the names of the columns stands a row for each "
        "patch.",
    ),
    "infinite": (
        PLAIN.replace("0.6", "inf"),
        "r.csv, line 3: density 'inf' is not a number\n"
        "Correct the file and read it again.",
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_refused(tmp_path, name):
    content, message = REFUSED[name]
    assert refusal(tmp_path, content) == message


def test_many_problems_are_counted(tmp_path):
    content = "negative_level,density\n" + "0.5,x\n" * 40
    message = refusal(tmp_path, content)
    assert message.startswith("r.csv: 40 problems\n  line 2: density 'x'")
    assert "\n  and 28 more\n" in message


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (
            "patch,density\n1,1.5\n4,0.3\n x,1\n",
            "r.csv: 2 problems\n"
            "  line 3: patch '4' is none of the target's 1..3\n"
            "  line 4: patch 'x' is none of the target's 1..3\n"
            "Correct the file and read it again.",
        ),
        (
            "density\n1.5\n0.3\n",
            "r.csv: has 2 rows, the target has 3 patches\n"
            "Give every patch a row in the target's order (empty where not read), or "
            "add a column patch with the numbers.",
        ),
        (
            "patch,negative_level,density\n1,1,1.5\n2,0.3,0.3\n",
            "r.csv, line 3: negative_level 0.3, but patch 2 of the target has 0.25\n"
            "Correct the file and read it again.",
        ),
    ],
)
def test_what_does_not_fit_the_target(tmp_path, content, message):
    assert refusal(tmp_path, content, given=layout()) == message


@pytest.mark.parametrize(
    ("content", "message"),
    [
        ("", "is empty"),
        (" \n\n", "is empty"),
        ("# only: a comment\n", "r.csv: has no line that names columns"),
        (
            "0.5,1.2\n0.6,1.3\n",
            "r.csv, line 1: is a number where the names of the columns should stand\n"
            "Let the first line name the columns, such as patch,density.",
        ),
        (
            "density,density\n1,2\n",
            "r.csv, line 1: names the column density twice",
        ),
        (
            "# schema: negcurve/solution/1\n" + PLAIN,
            "r.csv: says it is 'negcurve/solution/1', not negcurve/readings/1\n"
            "Name a readings file.",
        ),
        (
            "# schema: negcurve/readings/2\n" + PLAIN,
            "r.csv: is written as negcurve/readings/2, which negcurve "
            f"{negcurve.__version__} does not know\n"
            "Use the newer negcurve that wrote it.",
        ),
    ],
)
def test_files_of_another_kind(tmp_path, content, message):
    assert message in refusal(tmp_path, content, kind=FileError)


def test_files_that_are_no_text(tmp_path):
    path = tmp_path / "p.csv"
    path.write_bytes(bytes(range(256)) * 4)
    with pytest.raises(FileError, match="is not text"):
        read_readings(path)
    path.write_bytes(b"1" * 20_000_001)
    with pytest.raises(FileError, match="is larger than 20 MB"):
        read_readings(path)
    with pytest.raises(FileError, match="does not exist"):
        read_readings(tmp_path / "none.csv")
    with pytest.raises(FileError, match="is a folder"):
        read_readings(tmp_path)
