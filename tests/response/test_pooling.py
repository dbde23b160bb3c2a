import numpy as np
import pytest
from numpy.testing import assert_allclose

from negcurve.errors import InvalidValueError, ReadingsError, SolveError
from negcurve.readings import Readings
from negcurve.response.pooling import pooled
from tests.response.prints import readings_of


def whats(pool):
    return [f"{each.severity}: {each.where}: {each.what}" for each in pool.findings]


def test_one_clean_print_passes_without_a_word():
    pool = pooled([readings_of()])
    assert len(pool) == 1
    assert len(pool.level) == 51
    assert pool.findings == ()


def test_parts_of_one_sheet_are_one_print():
    whole = readings_of()
    parts = [whole.chosen(np.arange(30)), whole.chosen(np.arange(30, 51))]
    pool = pooled(parts)
    assert len(pool) == 1
    assert_allclose(pool.density, whole.density)
    assert_allclose(pool.spread(pool.level, 51), whole.negative_level)


def test_sheets_keep_the_places_of_what_was_given():
    first, second = readings_of(count=20), readings_of(count=12, sheet="2", seed=3)
    pool = pooled([first.chosen(range(10)), second, first.chosen(range(10, 20))])
    back = pool.spread(pool.density, 32)
    assert_allclose(back[:10], first.density[:10])
    assert_allclose(back[10:22], second.density)
    assert_allclose(back[22:], first.density[10:])


def test_fewer_than_8_levels_are_refused_by_name():
    with pytest.raises(ReadingsError) as caught:
        pooled([readings_of(count=7, source="r.csv")])
    assert str(caught.value) == (
        "r.csv: 7 distinct levels (0, 0.166667, 0.333333, 0.5, 0.666667, 0.833333, 1); "
        "8 or more are needed\nPrint and read a target with more levels."
    )


def test_constant_readings_are_refused():
    flat = readings_of().replaced(density=np.full(51, 0.4))
    with pytest.raises(SolveError, match=r"density hardly changes: D 0\.400 to 0\.400"):
        pooled([flat])


def test_reversed_readings_are_refused():
    given = readings_of()
    with pytest.raises(ReadingsError, match="density falls from level 0 to level 1"):
        pooled([given.replaced(density=given.density[::-1])])


def test_readings_without_order_are_refused():
    given = readings_of()
    mixed = np.random.default_rng(1).permutation(given.density)
    with pytest.raises(SolveError, match="density does not follow level"):
        pooled([given.replaced(density=mixed)])


@pytest.mark.parametrize("factor", [100.0, 40.0])
def test_percent_or_lightness_is_refused_with_rows(factor):
    given = readings_of(source="r.csv")
    with pytest.raises(ReadingsError) as caught:
        pooled([given.replaced(density=factor * given.density)])
    message = str(caught.value)
    assert message.startswith("r.csv, patch ")
    assert "this looks like percent, L* or codes" in message


def test_a_single_impossible_number_is_left_out_by_name():
    given = readings_of(source="r.csv")
    density = given.density.copy()
    density[11] = 95.0
    pool = pooled([given.replaced(density=density)])
    assert len(pool.level) == 50
    assert whats(pool) == [
        "warning: r.csv, patch 12: D 95 is no density of a print, left out"
    ]


@pytest.mark.parametrize(
    ("name", "one", "other"),
    [
        ("density_kind", "luminance", "visual"),
        ("density_zero", "absolute", "paper"),
    ],
)
def test_mixed_kinds_are_refused(name, one, other):
    first = readings_of(**{name: one}, source="a.csv")
    second = readings_of(**{name: other}, source="b.csv", sheet="2")
    with pytest.raises(ReadingsError, match=f"a.csv: {one}, b.csv: {other}"):
        pooled([first, second])


def test_wet_prints_are_refused():
    with pytest.raises(ReadingsError, match=r"r\.csv: the print was read wet"):
        pooled([readings_of(print_state="wet", source="r.csv")])


def test_levels_in_one_corner_are_refused():
    given = readings_of(negative_level=np.linspace(0.8, 1.0, 20))
    with pytest.raises(
        ReadingsError, match=r"all levels lie between 0\.800 and 1\.000"
    ):
        pooled([given])


def test_contradicting_duplicates_are_refused_with_both_values():
    given = readings_of(source="r.csv")
    keys = (*given.patch[:-1], "7")
    with pytest.raises(ReadingsError) as caught:
        pooled([given.replaced(patch=keys)])
    assert "r.csv: patch 7 has levels 0.12 and 1" in str(caught.value)
    level = given.negative_level.copy()
    level[-1] = level[6]
    with pytest.raises(ReadingsError, match=r"patch 7 was read as D 0\.\d\d, 1\.\d\d"):
        pooled([given.replaced(patch=keys, negative_level=level)])


def test_identical_duplicates_are_one_reading_and_a_warning():
    given = readings_of()
    rows = [*range(51), 6]
    pool = pooled([given.chosen(rows)])
    assert len(pool.level) == 51
    assert_allclose(pool.density, given.density)
    assert whats(pool) == [
        "warning: sheet 1: 1 patch was read more than once (7); each counts as one "
        "reading"
    ]
    assert_allclose(pool.spread(np.ones(51), 52), 1)


def test_duplicates_are_averaged_as_reflectance():
    given = readings_of()
    twice = given.chosen([*range(51), 6])
    density = twice.density.copy()
    density[6], density[51] = 0.10, 0.14
    pool = pooled([twice.replaced(density=density)])
    mean = -np.log10((10**-0.10 + 10**-0.14) / 2)
    assert pool.density[6] == pytest.approx(mean, abs=1e-12)


def test_a_missing_patch_is_a_warning():
    rows = np.delete(np.arange(51), 16)
    pool = pooled([readings_of().chosen(rows)])
    assert whats(pool) == ["warning: sheet 1: 1 patch without a reading: 17"]


def test_flagged_readings_are_left_out_by_name():
    given = readings_of()
    flags = [frozenset()] * 51
    flags[3], flags[9] = frozenset({"covered"}), frozenset({"clipped", "uneven"})
    density = given.density.copy()
    density[3] = 0.05
    pool = pooled([given.replaced(flags=flags, density=density)])
    assert len(pool.level) == 49
    assert pool.white == pytest.approx(0.05)
    assert whats(pool) == [
        "note: patch 4: covered with tape, left out",
        "warning: patch 10: clipped in the scan, left out",
    ]


def test_nothing_is_refused_as_nothing():
    with pytest.raises(InvalidValueError):
        pooled([])
    with pytest.raises(InvalidValueError):
        pooled(readings_of())  # type: ignore[arg-type]  # a common slip


def test_a_sheet_of_tape_only_is_refused():
    given = readings_of(flags=[frozenset({"covered"})] * 51)
    with pytest.raises(ReadingsError, match="sheet 1: no usable reading"):
        pooled([given])


def test_readings_may_lack_keys():
    given = readings_of()
    bare = Readings(negative_level=given.negative_level, density=given.density)
    assert pooled([bare]).findings == ()
