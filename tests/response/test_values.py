"""Table, response, aim, ends: what each may be and what it answers."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from negcurve.density import density_from_lightness, lightness_from_density
from negcurve.errors import InvalidValueError
from negcurve.response.aim import Aim, reachable_aim, scaled_aim, straight_aim
from negcurve.response.ends import Ends, find_ends
from negcurve.response.response import Response
from negcurve.response.table import LookupTable, make_table

# CIE 15:2004: Y = 18.4 % is L* 50.0 (49.98), from the formula solved by hand:
# ((50 + 16) / 116)^3 = 0.18419; D = -log10 0.18419 = 0.7347.
D_OF_L50 = 0.7347


def response(density, level=None, **more):
    level = np.linspace(0, 1, len(density)) if level is None else level
    return Response(
        level_nodes=level,
        density_nodes=density,
        error_nodes=np.zeros(len(level)),
        **more,
    )


def straight_response(low=0.1, high=1.5):
    return response(np.linspace(low, high, 101))


class TestLookupTable:
    def test_it_runs_straight_between_nodes(self):
        table = LookupTable(tone_nodes=[0, 0.5, 1], level_nodes=[1, 0.3, 0.1])
        assert_allclose(
            table.negative_level([[0, 0.25], [0.75, 1]]), [[1, 0.65], [0.2, 0.1]]
        )
        assert_allclose(table.negative_level([-1, 2]), [1, 0.1])

    @pytest.mark.parametrize(
        ("tone", "level", "message"),
        [
            ([0, 1], [0.5, 0.5], "level_nodes: must fall within 1..0"),
            ([0, 1], [0.2, 0.5], "level_nodes: must fall within 1..0"),
            ([0, 1], [1.1, 0.5], "level_nodes: must fall within 1..0"),
            ([0, 0.9], [1, 0], "tone_nodes: must rise from 0 to 1"),
            ([0, 0.5, 1], [1, 0], "lookup table: 3 tones and 2 levels"),
        ],
    )
    def test_what_it_may_not_be(self, tone, level, message):
        with pytest.raises(InvalidValueError) as caught:
            LookupTable(tone_nodes=tone, level_nodes=level)
        assert str(caught.value) == message

    def test_identity_is_of_the_nodes(self):
        one = LookupTable(tone_nodes=[0, 1], level_nodes=[1, 0])
        other = LookupTable(tone_nodes=[0, 1], level_nodes=[1, 1e-9])
        again = LookupTable(tone_nodes=(0.0, 1.0), level_nodes=(1.0, 0.0))
        assert one.identity == again.identity != other.identity
        assert len(one.identity) == 8
        int(one.identity, 16)


class TestResponse:
    def test_it_answers_on_its_domain_only(self):
        given = response([0.2, 0.6, 1.0], [0.1, 0.5, 0.9])
        assert given.domain == (0.1, 0.9)
        assert_allclose(given.density([0.1, 0.3, 0.9]), [0.2, 0.4, 1.0])
        assert np.isnan(given.density([0.0, 1.0])).all()
        assert np.isnan(given.standard_error(0.05))
        assert np.isnan(given.negative_level([0.1, 1.2])).all()

    def test_inverse_of_density(self):
        given = straight_response()
        level = np.linspace(0, 1, 33)
        assert_allclose(given.negative_level(given.density(level)), level, atol=1e-12)

    def test_on_a_flat_the_level_nearest_the_slope(self):
        given = response([0.1, 0.1, 0.1, 0.7, 1.4, 1.4, 1.4])
        assert given.negative_level(0.1) == pytest.approx(2 / 6)
        assert given.negative_level(1.4) == pytest.approx(4 / 6)

    def test_next_print(self):
        one = straight_response()
        assert_allclose(one.next_print_error(0.5), 0.03 * np.sqrt(2))
        several = response([0.1, 1.4], sheet_error=0.02, sheets=4)
        assert_allclose(several.next_print_error(0.5), 0.02)

    @pytest.mark.parametrize(
        ("level", "density", "name"),
        [
            ([0, 0, 1], [0.1, 0.2, 0.3], "level_nodes"),
            ([0, 0.5, 1], [0.1, 0.3, 0.2], "density_nodes"),
            ([0], [0.1], "response"),
        ],
    )
    def test_what_it_may_not_be(self, level, density, name):
        with pytest.raises(InvalidValueError, match=f"^{name}: "):
            response(density, level)


class TestAim:
    def test_lightness_runs_straight_through_the_middle(self):
        black, white = density_from_lightness([10.0, 90.0])
        aim = straight_aim("lightness", black_density=black, white_density=white)
        assert aim.density(0.5) == pytest.approx(D_OF_L50, abs=5e-5)
        assert_allclose(aim.lightness([0, 0.25, 1]), [10, 30, 90])

    def test_luminance_and_density_run_straight(self):
        luminance = straight_aim("luminance", black_density=2.0, white_density=0.0)
        assert luminance.density(0.5) == pytest.approx(-np.log10(0.505))
        density = straight_aim("density", black_density=1.5, white_density=0.1)
        assert density.density(0.5) == pytest.approx(0.8)

    def test_unknown_aim(self):
        with pytest.raises(InvalidValueError) as caught:
            straight_aim("contrast", black_density=1, white_density=0)
        assert str(caught.value) == (
            "aim: 'contrast' is not known\nUse lightness, density, luminance."
        )

    @pytest.mark.parametrize(
        ("tone", "density"),
        [([0, 1], [0.5, 0.5]), ([0, 1], [0.1, 1.0]), ([0.1, 1], [1, 0]), ([0, 1], [1])],
    )
    def test_what_it_may_not_be(self, tone, density):
        with pytest.raises(InvalidValueError):
            Aim(name="a", tone_nodes=tone, density_nodes=density)

    def test_it_survives_as_plain_values(self):
        aim = Aim(
            name="a",
            tone_nodes=[0, 0.2, 1],
            density_nodes=[1.2, 1, 0.1],
            scale="density",
        )
        again = Aim.from_document(aim.document())
        assert again.document() == aim.document()

    def test_scaled_keeps_relations_in_lightness(self):
        aim = straight_aim("density", black_density=1.2, white_density=0.2)
        new = scaled_aim(aim, black_density=1.6, white_density=0.05)
        tone = np.linspace(0, 1, 9)
        share = [
            (lightness - lightness[0]) / (lightness[-1] - lightness[0])
            for lightness in (aim.lightness(tone), new.lightness(tone))
        ]
        assert_allclose(*share, atol=1e-5)
        assert_allclose(new.density([0, 1]), [1.6, 0.05])

    def test_within_reach_nothing_changes(self):
        aim = straight_aim("density", black_density=1.2, white_density=0.2)
        assert reachable_aim(aim, black_density=1.3, white_density=0.1) == (aim, ())


class TestEnds:
    def test_black_share(self):
        ends, found = find_ends(self.s_shaped(), black_share=0.9)
        assert ends.black_density == pytest.approx(0.1 + 0.9 * 1.3, abs=0.01)
        assert ends.black_lightness == pytest.approx(
            float(lightness_from_density(ends.black_density))
        )
        assert ends.black_reached
        assert [each.where for each in found] == []

    def s_shaped(self):
        level = np.linspace(-1, 1, 201)
        return response(0.1 + 0.65 * (1 + np.sin(level * np.pi / 2)))

    def test_black_not_reached(self):
        ends, found = find_ends(straight_response(), black_share=1.0)
        assert not ends.black_reached
        # 1.4 D over all levels is 0.07 D over the last 5 %.
        assert str(found[0]) == (
            "warning: black: black not reached: density still rises by 0.07 D over the "
            "last 5% of the levels. Expose longer."
        )

    def test_over_exposed(self):
        flat = response(np.minimum(np.linspace(0.1, 2.1, 201), 1.4))
        ends, found = find_ends(flat, black_share=1.0)
        (text,) = [str(each) for each in found if each.where == "black"]
        # Straight to 1.4 at level 0.65; 0.02 D below that is level 0.64.
        assert "the top 36% of the levels print within 0.02 D of D-max" in text
        assert ends.black_level == pytest.approx(0.65, abs=0.006)

    def test_white_out_of_reach(self):
        _, found = find_ends(straight_response(low=0.4), black_share=1.0)
        (text,) = [str(each) for each in found if each.where == "white"]
        lightest = float(lightness_from_density(0.4))
        assert f"lightest tone is L* {lightest:.1f}, D 0.40" in text

    def test_white_under_tape_tells_what_is_out_of_reach(self):
        level = np.linspace(0, 1, 201)
        soft = response(0.2 + 1.2 * level**2)
        _, found = find_ends(soft, black_share=0.9, white=0.08)
        (text,) = [str(each) for each in found if each.where == "white"]
        assert "unexposed paper is D 0.08" in text

    def test_levels_lost_to_ink(self):
        flat = response(np.maximum(np.linspace(-0.9, 1.4, 201), 0.1))
        ends, found = find_ends(flat, black_share=0.9)
        (text,) = [str(each) for each in found if each.where == "white"]
        assert text.startswith("note: white: more ink than needed")
        # Flat until level 1 / 2.3 = 0.435, the node at 0.435 being the last within
        # 0.01 D; 256 * 0.565 = 144.6 levels are left.
        assert "145 of 256 levels are left" in text
        assert ends.white_level == pytest.approx(1 / 2.3, abs=0.006)

    def test_what_they_may_not_be(self):
        with pytest.raises(InvalidValueError, match="does not hold"):
            Ends(
                d_min=0.1,
                d_max=1.4,
                black_density=1.5,
                white_density=0.1,
                black_share=1,
                black_level=1,
                white_level=0,
            )


def test_a_table_of_a_straight_response_is_the_aim_itself():
    given = straight_response()
    ends, _ = find_ends(given, black_share=1.0)
    aim = straight_aim("density", black_density=1.5, white_density=0.1)
    table = make_table(given, aim, ends)
    tone = np.linspace(0, 1, 65)
    # Density straight in level and in tone: the level is 1 - tone, but for the
    # thousandth of a density at either end that counts as the end.
    assert_allclose(table.negative_level(tone), 1 - tone, atol=0.001)


def test_a_table_falls_even_where_the_aim_is_flat():
    given = straight_response()
    ends, _ = find_ends(given, black_share=1.0)
    flat = Aim(
        name="flat",
        tone_nodes=[0, 0.4, 0.6, 1],
        density_nodes=[1.4, 0.7, 0.7, 0.2],
        scale="density",
    )
    table = make_table(given, flat, ends)
    assert (np.diff(table.level_nodes) < 0).all()
    inside = table.negative_level([0.42, 0.58])
    assert inside[0] - inside[1] < 1e-6
