"""Coating volumes, drops, contrast agent and cost."""

import pytest
from numpy.testing import assert_allclose

from negcurve.darkroom.atoms import ATOMIC_MASS_G_PER_MOL
from negcurve.darkroom.coating import (
    CM2_PER_IN2,
    TOOLS,
    agent_per_metal,
    coated_area_cm2,
    coating_volume_ml,
    pours,
    with_agent,
)
from negcurve.darkroom.costing import cost
from negcurve.darkroom.processes import PROCESSES
from negcurve.darkroom.recipes import (
    CHLOROPLATINATE,
    FERRIC_OXALATE,
    PALLADIUM,
    PLATINUM,
    RECIPES,
    bottles,
)
from negcurve.errors import InvalidValueError

IN = 25.4

# Picture in inches, tool, area with half-inch borders, volume, drops at 20, 16 and 25
# to the ml: worked outside the project by the same sum; deposits are common practice.
EXAMPLES = (
    ((4, 5), "rod", 30, 0.64, 13, 10, 16),
    ((4, 5), "brush", 30, 0.96, 19, 15, 24),
    ((4, 5), "absorbent", 30, 1.4, 28, 22, 35),
    ((5, 7), "rod", 48, 0.96, 19, 15, 24),
    ((5, 7), "brush", 48, 1.36, 27, 22, 34),
    ((5, 7), "absorbent", 48, 2.06, 41, 33, 52),
    ((8, 10), "rod", 99, 1.87, 37, 30, 47),
    ((8, 10), "brush", 99, 2.48, 50, 40, 62),
    ((8, 10), "absorbent", 99, 3.94, 79, 63, 98),
    ((11, 14), "rod", 180, 3.31, 66, 53, 83),
    ((11, 14), "brush", 180, 4.27, 85, 68, 107),
    ((11, 14), "absorbent", 180, 6.92, 138, 111, 173),
    ((16, 20), "rod", 357, 6.47, 129, 104, 162),
    ((16, 20), "brush", 357, 8.17, 163, 131, 204),
    ((16, 20), "absorbent", 357, 13.42, 268, 215, 335),
)


def volume_for(width_in: float, height_in: float, tool: str, border_in: float = 0.5):
    area = coated_area_cm2(width_in * IN, height_in * IN, border_mm=border_in * IN)
    kept = TOOLS[tool]
    return area, coating_volume_ml(
        area, deposit_ml_per_in2=kept.deposit_ml_per_in2, holdup_ml=kept.holdup_ml
    )


@pytest.mark.parametrize(
    ("size", "tool", "area", "volume", "at20", "at16", "at25"), EXAMPLES
)
def test_worked_volumes(size, tool, area, volume, at20, at16, at25) -> None:
    found_area, found = volume_for(*size, tool)
    assert_allclose(found_area / CM2_PER_IN2, area, atol=1e-9)
    assert_allclose(found, volume, atol=0.005001)
    for drops_per_ml, expected in ((20, at20), (16, at16), (25, at25)):
        (one,) = pours([FERRIC_OXALATE], volume_ml=found, drops_per_ml=drops_per_ml)
        assert one.drops == expected


def test_twenty_drops_of_each_for_a_bare_8x10() -> None:
    # Common practice, no source: 20 drops of iron, 20 of metal, with a brush, for the
    # picture's area without border; about 2.0 ml in all.
    _, volume = volume_for(8, 10, "brush", border_in=0.0)
    assert_allclose(volume, 2.0, atol=0.1)
    mix = pours(bottles("palladium"), volume_ml=volume)
    for pour in mix:
        assert abs(pour.drops - 20) <= 1
    # One drop of 5 % hexachloroplatinate: about 1 mol % of 1 ml of 15 % palladium.
    ratio = agent_per_metal(with_agent(mix, CHLOROPLATINATE, drops=1))
    assert ratio is not None
    assert_allclose(ratio, 0.0103, atol=5e-4)


@pytest.mark.parametrize(("form", "umol"), [("anhydrous", 5.5), ("hexahydrate", 4.4)])
def test_a_drop_of_agent_by_the_form_on_its_label(form: str, umol: float) -> None:
    # Computed: 0.05 ml of 5 %.
    bottle = CHLOROPLATINATE.with_form(f"sodium hexachloroplatinate {form}")
    mix = with_agent((), bottle, drops=1)
    assert_allclose(1000 * mix[0].mmol, umol, atol=0.06)


@pytest.mark.parametrize(
    ("bottle", "element", "mg_per_ml"),
    [(PALLADIUM, "Pd", 54), (PLATINUM, "Pt", 94), (RECIPES["kallitype"][1], "Ag", 64)],
)
def test_metal_in_a_millilitre(bottle, element: str, mg_per_ml: float) -> None:
    # Computed; 10 % silver nitrate holds 63.5 mg.
    found = bottle.mmol_per_ml * ATOMIC_MASS_G_PER_MOL[element]
    assert_allclose(found, mg_per_ml, atol=0.55)


def test_published_deposits_lie_around_ours() -> None:
    # Whole amount over 8x10 in, ml/in2: bevelslidingsave 0.019, Ware 0.020, Duchochois
    # 0.037, Rudiak 0.050; ours with half-inch borders over the picture's 80 in2.
    found = [volume_for(8, 10, tool)[1] / 80 for tool in ("rod", "brush", "absorbent")]
    assert found == sorted(found)
    assert found[0] >= 0.019
    assert found[2] <= 0.050


def test_platinum_and_palladium_in_any_ratio() -> None:
    mix = pours(bottles("platinum-palladium", platinum_share=0.25), volume_ml=4.0)
    assert [pour.bottle.name for pour in mix] == [
        "ferric oxalate",
        "platinum",
        "palladium",
    ]
    assert [pour.drops for pour in mix] == [40, 10, 30]
    assert [b.name for b in bottles("palladium", platinum_share=1.0)] == [
        "ferric oxalate",
        "platinum",
    ]


def test_rounding_to_drops_is_shown() -> None:
    mix = pours(bottles("platinum-palladium", platinum_share=0.1), volume_ml=1.0)
    platinum = mix[1]
    assert (platinum.drops, platinum.exact_ml) == (1, pytest.approx(0.05))
    assert_allclose(mix[2].rounding_percent, 0.0, atol=1e-9)
    (one,) = pours([FERRIC_OXALATE], volume_ml=0.33)
    assert_allclose(one.rounding_percent, 100 * (0.35 / 0.33 - 1))


def test_agent_on_top_or_in_place_of_metal() -> None:
    mix = pours(bottles("palladium"), volume_ml=2.0)
    extra = with_agent(mix, CHLOROPLATINATE, drops=2)
    assert [pour.drops for pour in extra] == [20, 20, 2]
    instead = with_agent(mix, CHLOROPLATINATE, drops=2, place="replace")
    assert [pour.drops for pour in instead] == [20, 18, 2]
    assert agent_per_metal(mix) is None
    with pytest.raises(InvalidValueError, match="not more than 20 drops of metal"):
        with_agent(mix, CHLOROPLATINATE, drops=20, place="replace")
    with pytest.raises(InvalidValueError):
        with_agent(mix, CHLOROPLATINATE, drops=0)


def test_cost_of_a_sheet_and_a_session() -> None:
    mix = pours(bottles("palladium"), volume_ml=2.0)
    found = cost(
        mix,
        price_per_ml={"ferric oxalate": 0.5, "palladium": 4.0},
        paper=3.0,
        baths=0.5,
        failed_share=0.2,
        sheets=6,
    )
    assert_allclose(found.chemicals, 1.0 * 0.5 + 1.0 * 4.0)
    assert_allclose(found.per_sheet, 8.0)
    assert_allclose(found.per_good_sheet, 10.0)
    assert_allclose(found.session, 48.0)


def test_a_missing_price_is_asked_for() -> None:
    mix = pours(bottles("palladium"), volume_ml=2.0)
    with pytest.raises(InvalidValueError) as caught:
        cost(mix, price_per_ml={"palladium": 4.0})
    assert str(caught.value) == (
        "cost: no price for ferric oxalate\nGive one for each bottle, per ml."
    )


@pytest.mark.parametrize(
    "wrong",
    [
        lambda: coated_area_cm2(200, 250, border_mm=-1),
        lambda: coated_area_cm2(0, 250, border_mm=0),
        lambda: coating_volume_ml(-1, deposit_ml_per_in2=0.02, holdup_ml=0.1),
        lambda: coating_volume_ml(500, deposit_ml_per_in2=0, holdup_ml=0.1),
        lambda: coating_volume_ml(500, deposit_ml_per_in2=0.02, holdup_ml=-0.1),
        lambda: coating_volume_ml(
            500, deposit_ml_per_in2=0.02, holdup_ml=0.1, waste_percent=101
        ),
        lambda: pours(bottles("palladium"), volume_ml=-2),
        lambda: pours(bottles("palladium"), volume_ml=2, drops_per_ml=0),
        lambda: bottles("platinum-palladium", platinum_share=1.2),
        lambda: bottles("kallitype", platinum_share=0.5),
        lambda: cost((), price_per_ml={"a": -1.0}),
        lambda: cost((), price_per_ml={"a": 1.0}, failed_share=1.0),
    ],
)
def test_impossible_amounts_are_refused(wrong) -> None:
    with pytest.raises(InvalidValueError):
        wrong()


def test_every_process_has_its_bottles() -> None:
    assert set(RECIPES) == set(PROCESSES)
    for recipe in RECIPES.values():
        assert all(bottle.parts > 0 and bottle.source for bottle in recipe)
