import numpy as np
import pytest

from negcurve.errors import ReadingsError
from negcurve.reading.averaging import average
from negcurve.readings import Readings

LEVEL = np.array([0.0, 0.5, 1.0])


def reading(density, *, source="a.tif", error=0.004, **changes):
    return Readings(
        negative_level=LEVEL,
        density=density,
        patch=("1", "2", "3"),
        standard_error=np.full(3, error),
        source=source,
        **changes,
    )


def test_one_reading_stays_as_it_is():
    only = reading([0.1, 0.6, 1.3])
    assert average([only]) is only


def test_light_is_averaged_and_scatter_counted():
    """D 0.2 and 0.4: mean reflectance (0.6310 + 0.3981) / 2 = 0.5145, D 0.2886."""
    mean = average([reading([0.2, 0.6, 1.3]), reading([0.4, 0.6, 1.3], source="b")])
    np.testing.assert_allclose(mean.density, [0.2886, 0.6, 1.3], atol=5e-5)
    # Patch 1: standard deviation 0.1414 of two; else their own 0.004 over root two.
    np.testing.assert_allclose(
        mean.standard_error, [0.1, 0.004 / 2**0.5, 0.004 / 2**0.5], rtol=1e-6
    )
    assert mean.source == "a.tif, b"
    (found,) = mean.findings
    assert found.severity == "warning"
    assert "2 readings of the print were averaged" in found.what
    assert "by 0.082 D" in found.what  # 0.1414 / sqrt(3)


def test_a_flagged_reading_gives_way_to_a_clean_one():
    bad = reading([0.9, 0.6, 1.3], flags=({"covered"}, {"stray"}, ()))
    good = reading([0.1, 0.8, 1.3], source="b", flags=((), {"uneven"}, ()))
    mean = average([bad, good])
    assert mean.density[0] == pytest.approx(0.1)
    assert mean.flags == (frozenset(), {"stray", "uneven"}, frozenset())


def test_patches_are_matched_by_name():
    one = reading([0.1, 0.6, 1.3])
    two = reading([0.1, 0.6, 1.3], source="b").chosen([2, 0])
    np.testing.assert_allclose(average([one, two]).density, [0.1, 0.6, 1.3])


def test_lists_that_share_no_patch_are_not_said_to_agree():
    whole = reading([0.1, 0.6, 1.3])
    joined = average([whole.chosen([0]), whole.chosen([1, 2])])
    np.testing.assert_array_equal(joined.density, [0.1, 0.6, 1.3])
    (found,) = joined.findings
    assert "they share no patch" in found.what
    assert " D " not in found.what


def test_readings_of_different_prints_are_refused():
    one = reading([0.1, 0.6, 1.3], target="0000ABCD")
    with pytest.raises(ReadingsError) as caught:
        average([one, reading([0.1, 0.6, 1.3], source="b.tif", target="00001234")])
    assert str(caught.value) == (
        "b.tif: its target is 00001234, that of a.tif is 0000ABCD\nOnly readings of "
        "one print, made alike, are averaged: read them one by one."
    )
    with pytest.raises(ReadingsError, match="density zero is paper"):
        average([reading([0, 1, 2]), reading([0, 1, 2], density_zero="paper")])
    with pytest.raises(ReadingsError, match="does not name its patches"):
        average([reading([0, 1, 2]), reading([0, 1, 2]).replaced(patch=())])
