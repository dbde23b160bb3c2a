import numpy as np
import pytest

from negcurve.errors import ReadingsError
from negcurve.watch.drydown import fit_drydown, settling


def dry_of(wet):
    return wet + 0.02 + 0.05 * wet


def pairs(rng, prints, patches, noise=0.008, between=0.01):
    wet, dry, sheet = [], [], []
    for each in range(prints):
        offset = rng.normal(0, between)
        true = np.linspace(0.1, 1.3, patches)
        wet.extend(true + rng.normal(0, noise, patches))
        dry.extend(dry_of(true) + offset + rng.normal(0, noise, patches))
        sheet.extend([each] * patches)
    return np.array(wet), np.array(dry), np.array(sheet)


def test_the_truth_lies_in_the_interval_for_a_new_print_nine_times_in_ten():
    rng = np.random.default_rng(1)
    inside = []
    for _ in range(120):
        model = fit_drydown(*pairs(rng, 4, 8))
        wet = np.array([0.3, 0.7, 1.1])
        new = dry_of(wet) + rng.normal(0, 0.01) + rng.normal(0, 0.008, 3)
        inside.append(np.abs(new - model.dry_density(wet)) <= model.half_width(wet))
    assert 0.86 <= np.mean(inside) <= 1.0


def test_more_pairs_come_nearer():
    rng = np.random.default_rng(2)
    wet = np.array([0.3, 0.7, 1.1])
    few, many = (
        np.mean(
            [
                np.abs(fit_drydown(*pairs(rng, n, 6)).dry_density(wet) - dry_of(wet))
                for _ in range(40)
            ]
        )
        for n in (2, 10)
    )
    assert many < few


def test_a_print_of_its_own_leaves_the_spread_assumed():
    model = fit_drydown(*pairs(np.random.default_rng(3), 1, 8))
    assert model.spread_assumed
    assert model.print_spread == 0.02
    assert not fit_drydown(*pairs(np.random.default_rng(3), 2, 8)).spread_assumed


def test_beyond_the_pairs_there_is_no_answer():
    model = fit_drydown(*pairs(np.random.default_rng(4), 2, 6))
    dry = model.dry_density([0.05, 0.7, 1.6])
    assert np.isfinite(dry[1])
    assert np.isnan(dry[2])


def test_two_pairs_are_refused():
    with pytest.raises(ReadingsError) as caught:
        fit_drydown([0.2, 0.9], [0.25, 0.98], [0, 0])
    assert "2 pairs of wet and dry readings are too few" in str(caught.value)


def drying(hours, constant, fall=0.06):
    final = np.linspace(0.2, 1.2, 6)
    return final - fall * np.exp(-np.asarray(hours)[:, None] / constant)


def test_settling_time_is_when_a_hundredth_is_left():
    hours = [0.5, 1, 2, 4, 8, 24]
    found = settling(hours, drying(hours, 3.0))
    assert found.hours == pytest.approx(3.0 * np.log(0.06 / 0.01), rel=0.05)


def test_settling_is_not_claimed_while_the_print_still_changes():
    hours = [0.5, 1, 1.5, 2]
    found = settling(hours, drying(hours, 6.0))
    assert found.hours is None
    assert "read once more, later" in found.why


def test_three_times_do_not_tell():
    assert settling([1, 2, 3], drying([1, 2, 3], 3.0)).hours is None
