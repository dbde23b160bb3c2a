"""Processes, sequences, cautions, and mixtures that are refused."""

import pytest

from negcurve.darkroom.cautions import CAUTIONS, DEFER, cautions_for
from negcurve.darkroom.mixtures import CONFLICTS, check_mixture
from negcurve.darkroom.processes import PROCESSES, check_extrapolation, process
from negcurve.darkroom.quantities import celsius, millilitres, seconds, stops, time_text
from negcurve.darkroom.recipes import AGENTS, RECIPES
from negcurve.darkroom.sequences import SEQUENCES, sequence
from negcurve.darkroom.substances import SUBSTANCES
from negcurve.errors import InvalidValueError, ReadingsError

# Process, exposure scale, negative range, D-max: sources and grades stand with each
# process; where there is no source they are common practice.
RANGES = (
    ("platinum", (1.5, 1.8), (1.4, 1.8), (1.35, 1.5)),
    ("platinum-palladium", (1.6, 2.0), (1.5, 1.9), (1.35, 1.5)),
    ("palladium", (1.8, 2.3), (1.7, 2.2), (1.35, 1.5)),
    ("palladium-print-out", (1.8, 2.4), (1.8, 2.4), (1.3, 1.5)),
    ("cyanotype", (1.0, 1.5), (1.1, 1.5), (1.15, 1.4)),
    ("new-cyanotype", (1.5, 2.2), (1.5, 2.0), (1.6, 1.75)),
    ("kallitype", (1.4, 2.0), (1.5, 1.9), (1.45, 1.65)),
    ("van-dyke", (1.7, 2.3), (1.6, 2.2), (1.25, 1.45)),
    ("argyrotype", (1.5, 1.9), (1.5, 1.9), (1.25, 1.45)),
    ("salt", (1.9, 2.4), (1.9, 2.3), (1.2, 1.4)),
    ("albumen", (2.0, 2.4), (2.0, 2.5), (1.6, 1.9)),
    ("gum", (0.6, 1.3), (0.8, 1.3), (0.8, 1.3)),
    ("carbon", (0.9, 2.7), (0.9, 2.7), (1.6, 2.1)),
)


@pytest.mark.parametrize(("key", "scale", "negative", "d_max"), RANGES)
def test_ranges_of_the_processes(key, scale, negative, d_max) -> None:
    found = process(key)
    assert found.exposure_scale == scale
    assert found.negative_range == negative
    assert found.d_max == d_max
    assert found.unverified == ("C" in found.grade)


def test_every_process_is_listed() -> None:
    assert [row[0] for row in RANGES] == list(PROCESSES)


@pytest.mark.parametrize(
    ("key", "figure"),
    # Albumenworks 1996: 2.20-2.30 for plain salt and albumen; about 1.8 for platinum.
    # Decisive Momentum 2011: 1.35-1.4 for cyanotype. Ware 2019: D-max 1.7 for the new
    # one. S. King: carbon best at 1.8.
    [
        ("salt", 2.25),
        ("albumen", 2.25),
        ("platinum", 1.8),
        ("cyanotype", 1.4),
        ("carbon", 1.8),
    ],
)
def test_sourced_figures_lie_within_the_ranges(key: str, figure: float) -> None:
    low, high = process(key).exposure_scale
    assert low <= figure <= high


def test_an_unknown_process_lists_the_known() -> None:
    with pytest.raises(
        InvalidValueError, match="'collodion' is not a process"
    ) as caught:
        process("collodion")
    assert "palladium" in str(caught.value)


def test_print_out_processes_are_not_carried_beyond_a_stop() -> None:
    check_extrapolation(process("salt"), 0.9)
    check_extrapolation(process("palladium"), 3.0)
    check_extrapolation(None, 3.0)
    with pytest.raises(ReadingsError) as caught:
        check_extrapolation(process("salt"), -1.5)
    assert str(caught.value) == (
        "exposure: salted paper prints out and shields itself: a change of -1.5 stops "
        "cannot be worked out from this test\n"
        "Test again within one stop of the time that is wanted."
    )


# Process, step, minutes, lowest and highest temperature. Sources stand with each step;
# without one it is common practice.
STEPS = (
    ("palladium", "coat and rest", "1-5 rest", 18, 24),
    ("palladium", "dry", "10-20", 18, 40),
    ("palladium", "develop", "1-2.5", 20, 60),
    ("palladium", "rinse", "4-5", 38, 40),
    ("palladium", "clear, three baths", "5 each", 20, 20),
    ("palladium", "wash", "20-40", 15, 25),
    ("cyanotype", "first bath", "1-5", 15, 20),
    ("cyanotype", "wash", "10-20", 15, 20),
    ("cyanotype", "oxidize, if wanted", "0.5-1", 20, 20),
    ("kallitype", "develop", "2-5", 20, 25),
    ("kallitype", "clear, two baths", "3-5 each", 20, 20),
    ("kallitype", "tone, if wanted", "2-10", 20, 20),
    ("kallitype", "fix, two baths", "1-2 each", 20, 20),
    ("kallitype", "washing aid", "2-4", 20, 20),
    ("kallitype", "wash", "30", 20, 20),
    ("van-dyke", "wash", "2-5", 20, 20),
    ("van-dyke", "fix", "1-3", 20, 20),
    ("van-dyke", "washing aid, then wash", "2-4, then 30", 20, 20),
    ("argyrotype", "wash", "5", 20, 20),
    ("argyrotype", "fix", "3", 20, 20),
    ("salt", "wash", "10-20", 20, 20),
    ("salt", "salt bath", "0.5-1", 20, 20),
    ("salt", "wash, tone, wash", "10; -; 10", 20, 20),
    ("salt", "fix, two baths", "4 + 4", 20, 20),
    ("salt", "rinse, washing aid", "4; 4", 20, 20),
    ("albumen", "wash", "5-10", 20, 20),
    ("albumen", "fix, two baths", "3-5 each", 20, 20),
    ("gum", "float to develop", "20-60", 18, 25),
    ("gum", "clear", "2-5", 20, 20),
    ("carbon", "mate", "15", 15, 20),
    ("carbon", "strip and develop", "5, then to finish", 49, 49),
    ("carbon", "cold rinse", "2", 10, 15),
)


@pytest.mark.parametrize(("key", "name", "minutes", "low", "high"), STEPS)
def test_steps_of_the_sequences(key, name, minutes, low, high) -> None:
    step = next(each for each in sequence(key) if each.name == name)
    assert (step.minutes, step.low_c, step.high_c) == (minutes, low, high)


@pytest.mark.parametrize(
    ("key", "minutes"), [("argyrotype", "20-30"), ("salt", "30-60")]
)
def test_last_washes(key: str, minutes: str) -> None:
    assert sequence(key)[-1].minutes == minutes


def test_carbon_water_is_120_fahrenheit() -> None:
    # Source: S. King, carbon symposium: 120 F.
    step = next(s for s in sequence("carbon") if s.low_c == 49)
    assert step.low_c == pytest.approx(celsius("120F"), abs=0.5)


def test_every_step_says_where_it_is_from() -> None:
    for steps in SEQUENCES.values():
        for step in steps:
            assert step.source
            assert step.verified == (not step.source.startswith("common practice")) or (
                "common practice" in step.source
            )


def test_temperature_outside_a_bath() -> None:
    develop = next(s for s in sequence("palladium") if s.name == "develop")
    assert develop.at(45).temperature == "45 C"
    with pytest.raises(InvalidValueError) as caught:
        develop.at(70)
    assert str(caught.value) == (
        "develop: 70 C lies outside 20 to 60 C\n"
        "Work within the range, or give your own table with --steps."
    )
    expose = next(s for s in sequence("palladium") if s.name == "expose")
    with pytest.raises(InvalidValueError, match="has no temperature"):
        expose.at(20)


def test_every_process_has_a_sequence_with_an_exposure() -> None:
    assert set(SEQUENCES) == set(PROCESSES)
    for key in PROCESSES:
        assert "expose" in [step.name for step in sequence(key)]


def test_a_process_without_sequence() -> None:
    with pytest.raises(InvalidValueError, match="no sequence is known for tin"):
        sequence("tin")


@pytest.mark.parametrize(
    ("words", "subjects"),
    [
        (["potassium dichromate"], ["potassium dichromate"]),
        (["ammonium dichromate"], ["ammonium dichromate"]),
        (["sodium hexachloroplatinate anhydrous"], ["chloroplatinates"]),
        (["sodium tetrachloropalladate"], ["palladium salts"]),
        (["oxalic acid dihydrate"], ["oxalic acid"]),
        (["ferric oxalate anhydrous"], ["oxalates"]),
        (["silver nitrate"], ["silver nitrate"]),
        (["potassium ferricyanide"], ["potassium ferricyanide"]),
        (["potassium chlorate"], ["potassium chlorate"]),
        (["sodium chloride", "water"], []),
        (["silver nitrate", "silver nitrate 12 %"], ["silver nitrate"]),
    ],
)
def test_cautions_follow_what_is_named(words, subjects) -> None:
    assert [each.subject for each in cautions_for(words)] == subjects


def test_light_brings_its_cautions_first() -> None:
    found = [each.subject for each in cautions_for(["silver nitrate"], light=True)]
    assert found == [
        "UV light",
        "violet light, 380-420 nm",
        "fluorescent and mercury lamps",
        "silver nitrate",
    ]


def test_every_hazardous_bottle_has_a_caution() -> None:
    harmless = {"tartaric acid", "ferric ammonium citrate green"}
    agents = [[bottle] for bottle in AGENTS.values()]
    for recipe in [*RECIPES.values(), *agents]:
        for bottle in recipe:
            for each in bottle.contents:
                found = cautions_for([each.substance])
                assert found or each.substance in harmless, each.substance


def test_nothing_is_called_safe() -> None:
    texts = [str(caution) for caution in CAUTIONS.values()]
    texts += [f"{each.reason} {each.fix}" for each in CONFLICTS]
    for text in [*texts, DEFER]:
        plain = text.lower().replace("safety data sheet", "").replace("safelight", "")
        assert "safe" not in plain
        assert "harmless" not in plain


@pytest.mark.parametrize(
    ("names", "reason"),
    [
        # NOAA CAMEO Chemicals 4298
        (
            ["potassium chlorate", "ammonium ferric oxalate trihydrate"],
            "ignite by itself",
        ),
        (["ferric ammonium citrate green", "potassium chlorate"], "ignite by itself"),
        (["ammonium tetrachloroplatinate", "potassium chlorate"], "ignite by itself"),
        # ICSC 1132
        (["potassium ferricyanide", "hydrochloric acid 1 %"], "hydrogen cyanide"),
        (["potassium ferricyanide", "sulfamic acid"], "hydrogen cyanide"),
        # supplier sheets: EUH031
        (["sodium sulfite", "citric acid"], "sulfur dioxide"),
        (["sodium thiosulfate anhydrous", "oxalic acid dihydrate"], "sulfur dioxide"),
        # general chemistry, from memory
        (["silver nitrate", "ammonia"], "explosive deposits"),
        (["potassium chlorate", "hydrochloric acid"], "chlorine dioxide"),
    ],
)
def test_dangerous_mixtures_are_refused_with_the_reason(names, reason) -> None:
    with pytest.raises(InvalidValueError) as caught:
        check_mixture(names)
    assert reason in str(caught.value)
    assert "\n" in str(caught.value)  # and what to do instead


@pytest.mark.parametrize("key", RECIPES)
def test_recipes_of_the_craft_are_not_refused(key: str) -> None:
    check_mixture(e.substance for bottle in RECIPES[key] for e in bottle.contents)


def test_traditional_chlorate_in_ferric_oxalate_is_not_refused() -> None:
    check_mixture(["potassium chlorate", "ferric oxalate anhydrous"])
    check_mixture(SUBSTANCES["ammonium dichromate"].name for _ in range(2))


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("380", 380),
        ("380s", 380),
        ("6m20s", 380),
        ("6:20", 380),
        ("6 min 20 s", 380),
        ("8m", 480),
        ("0.5h", 1800),
        ("1h 5m", 3900),
        ("12.5 s", 12.5),
    ],
)
def test_times_as_typed(text: str, value: float) -> None:
    assert seconds(text) == pytest.approx(value)


@pytest.mark.parametrize("text", ["", "0", "-5", "abc", "5x", "nan", "1:2:3"])
def test_what_is_no_time(text: str) -> None:
    with pytest.raises(InvalidValueError, match="is not a time above 0"):
        seconds(text)


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (5.25, "5.2 s"),
        (42.4, "42 s"),
        (60, "1 min"),
        (380, "6 min 20 s"),
        (59.7, "1 min"),
    ],
)
def test_times_as_written(value: float, text: str) -> None:
    assert time_text(value) == text


def test_volumes_temperatures_and_stops() -> None:
    assert millilitres("500ml") == 500
    assert millilitres("1.5 l") == 1500
    assert celsius("68F") == pytest.approx(20)
    assert celsius("20") == 20
    assert stops("+1/2") == 0.5
    assert stops("-1/3") == pytest.approx(-1 / 3)
    assert stops("1 1/3") == pytest.approx(4 / 3)


@pytest.mark.parametrize(
    ("read", "text"),
    [
        (millilitres, "-5ml"),
        (millilitres, "20 drops"),
        (millilitres, "0"),
        (celsius, "warm"),
        (stops, "half"),
        (stops, ""),
        (stops, "1/0"),
    ],
)
def test_what_is_no_quantity(read, text: str) -> None:
    with pytest.raises(InvalidValueError):
        read(text)
