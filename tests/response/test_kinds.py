"""What densities of another kind than luminance may be solved for."""

import pytest
from numpy.testing import assert_allclose

from negcurve.errors import ReadingsError
from negcurve.response.aim import Aim
from negcurve.response.checking import check
from negcurve.response.solution import measured_aim
from negcurve.response.solving import solve
from tests.response.prints import readings_of


def readings(kind):
    return readings_of(count=21, density_kind=kind, source="r.csv")


@pytest.mark.parametrize("kind", ["red", "green", "blue"])
@pytest.mark.parametrize("aim", ["lightness", "luminance"])
def test_a_channel_says_no_lightness(kind, aim):
    with pytest.raises(ReadingsError) as caught:
        solve([readings(kind)], aim=aim)
    assert str(caught.value) == (
        f"r.csv: its densities are those of the {kind} channel, which say no lightness"
        "\nRead luminance density (without --channel), or aim in densities: --aim "
        "density."
    )


def test_a_channel_may_aim_in_its_own_densities():
    solution = solve([readings("red")], aim="density")
    plain = solve([readings("luminance")], aim="density")
    assert_allclose(solution.table.level_nodes, plain.table.level_nodes)
    checked = check([readings("red")], solution)
    for one in (solution, checked):
        (told,) = [each for each in one.findings if "channel" in each.what]
        assert told.what.startswith("densities are those of the red channel; L* told")
    assert not [each for each in plain.findings if "channel" in each.what]
    wanted = Aim(
        name="a.csv", tone_nodes=[0, 1], density_nodes=[1, 0.2], scale="density"
    )
    assert solve([readings("blue")], aim=wanted).aim.scale == "density"
    light = Aim(name="a.csv", tone_nodes=[0, 1], density_nodes=[1, 0.2])
    with pytest.raises(ReadingsError, match="blue channel"):
        solve([readings("blue")], aim=light)


def test_one_channel_matches_the_same_channel():
    first = solve([readings("red")], aim="density")
    aim = measured_aim(first, name="match")
    again = solve([readings("red")], aim=aim)
    assert_allclose(again.aim.density(0.5), first.aim.density(0.5), atol=0.01)


def test_visual_densities_are_warned_of_for_lightness_alone():
    findings = solve([readings("visual")]).findings
    (told,) = [each for each in findings if "visual densities" in each.what]
    assert (told.severity, told.where) == ("warning", "r.csv")
    for one in (
        solve([readings("visual")], aim="density"),
        solve([readings("luminance")]),
    ):
        assert not [each for each in one.findings if "visual" in each.what]


def test_kinds_are_not_mixed():
    other = readings_of(count=21, seed=2, density_kind="visual", sheet="2")
    with pytest.raises(ReadingsError) as caught:
        solve([readings("luminance"), other])
    assert "readings of different density_kind cannot be pooled (r.csv: lum" in str(
        caught.value
    )


def test_lightness_above_paper_is_told_as_such():
    one = readings("luminance").replaced(density_zero="paper")
    (told,) = [each for each in solve([one]).findings if "100 is the" in each.what]
    assert (told.severity, told.where) == ("note", "r.csv")
    for other in (solve([one], aim="density"), solve([readings("luminance")])):
        assert not [each for each in other.findings if "100 is the" in each.what]
