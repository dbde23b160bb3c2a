"""Aims and the known densities of wedges and tablets."""

import numpy as np
import pytest

from negcurve.density import density_from_lightness, lightness_from_density
from negcurve.errors import InvalidValueError, ReadingsError
from negcurve.files.aim_csv import read_aim
from negcurve.files.steps_csv import Steps, read_steps


def file_of(folder, content):
    path = folder / "a.csv"
    path.write_text(content, encoding="utf-8")
    return path


def test_an_aim_in_density(tmp_path):
    content = "density;image_tone\n0,1;1\n1,4;0\n0,6;0,5\n"
    aim = read_aim(file_of(tmp_path, content))
    assert (aim.name, aim.scale) == ("a.csv", "density")
    np.testing.assert_array_equal(aim.tone_nodes, [0, 0.5, 1])
    np.testing.assert_array_equal(aim.density_nodes, [1.4, 0.6, 0.1])
    np.testing.assert_allclose(aim.density([0.25, 0.75]), [1.0, 0.35])


def test_an_aim_in_lightness(tmp_path):
    content = "image_tone,lightness\n0,15\n1,95\n"
    aim = read_aim(file_of(tmp_path, content))
    assert aim.scale == "lightness"
    np.testing.assert_allclose(aim.density_nodes, density_from_lightness([15, 95]))
    np.testing.assert_allclose(lightness_from_density(aim.density(0.5)), 55)


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (
            "image_tone,density,lightness\n0,1,2\n",
            "a.csv: has the columns image_tone, density, lightness\n"
            "An aim has image_tone and either density or lightness.",
        ),
        (
            "tone,density\n0,1\n",
            "a.csv: has the columns tone, density\n"
            "An aim has image_tone and either density or lightness.",
        ),
        (
            "image_tone,density\n0,1.4\n0.9,0.1\n",
            "a.csv: does not run from image_tone 0 to 1\n"
            "Give a row for image_tone 0 (black) and one for 1 (white).",
        ),
        (
            "image_tone,density\n0,1.4\n0.5,0.2\n0.5,0.3\n0.7,0.5\n1,0.1\n",
            "a.csv: 2 problems\n"
            "  line 4: image_tone 0.5 is given twice\n"
            "  line 5: density 0.5 at tone 0.7 is darker than 0.3 at tone 0.5\n"
            "A print gets lighter from image_tone 0 to 1.",
        ),
        (
            "image_tone,lightness\n0,20\n1,20\n",
            "a.csv: is the same for every tone\nLet it fall from dark to light: "
            "density 1.4 at image tone 0, say, and 0.1 at 1.",
        ),
        (
            "image_tone,lightness\n0,0\n1.5,20\nx,120\n",
            "a.csv: 4 problems\n"
            "  line 2: lightness 0 cannot be printed\n"
            "  line 3: image_tone 1.5 lies outside 0..1\n"
            "  line 4: image_tone 'x' is not a number\n"
            "  line 4: lightness 120 lies outside 0..100\n"
            "Correct the file and read it again.",
        ),
    ],
)
def test_aims_that_are_refused(tmp_path, content, message):
    with pytest.raises(ReadingsError) as caught:
        read_aim(file_of(tmp_path, content))
    assert str(caught.value) == message


def test_steps(tmp_path):
    steps = read_steps(file_of(tmp_path, "step,density\nA,0.05\nB,0.2\nC,0.35\n"))
    assert steps.step == ("A", "B", "C")
    assert steps.source == "a.csv"
    np.testing.assert_array_equal(steps.density, [0.05, 0.2, 0.35])


def test_steps_without_names_are_counted(tmp_path):
    steps = read_steps(file_of(tmp_path, "density\n0,05\n0,2\n0,35\n"))
    assert steps.step == ("1", "2", "3")
    np.testing.assert_array_equal(steps.density, [0.05, 0.2, 0.35])


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (
            "step,value\n1,2\n",
            "a.csv: has no column density, only step, value\n"
            "Let the first line be step,density.",
        ),
        (
            "density\n1\n2\n",
            "a.csv: has 2 steps, three are needed at least\nAdd the others: "
            "step,density, a line each.",
        ),
        (
            "step,density\n1,0.1\n1,x\n2,\n3,61\n",
            "a.csv: 4 problems\n"
            "  line 3: density 'x' is not a number\n"
            "  line 3: step 1 is named twice\n"
            "  line 4: density '' is not a number\n"
            "  line 5: density 61 lies outside -0.1..6\n"
            "Correct the file and read it again.",
        ),
    ],
)
def test_steps_that_are_refused(tmp_path, content, message):
    with pytest.raises(ReadingsError) as caught:
        read_steps(file_of(tmp_path, content))
    assert str(caught.value) == message


def test_steps_check_themselves():
    with pytest.raises(InvalidValueError, match="1 steps have 2 densities"):
        Steps(step=("1",), density=np.array([0.1, 0.2]))
