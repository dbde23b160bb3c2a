import numpy as np
import pytest

from negcurve.reading.paper import taped_white_findings
from tests.reading.prints import ArraySource, patch_value

SCAN = ArraySource(np.zeros((10, 10, 1), dtype=np.uint16), resolution_ppi=(300, 300))


@pytest.mark.parametrize(
    ("taped", "severity", "said"),
    [
        (0.07, "note", "reads D 0.07, the lightest patch is 0.01 above it"),
        (0.03, "warning", "reads D 0.03, the lightest patch is 0.05 above it"),
        (0.09, "note", "reads D 0.09, the lightest patch is no darker"),
        (1.38, None, ""),
    ],
)
def test_a_taped_white_is_compared_with_the_lightest_patch(taped, severity, said):
    density = np.linspace(0.08, 1.4, 9)
    found = taped_white_findings(patch_value(reflectance=10**-taped), density, SCAN)
    assert [each.severity for each in found] == ([severity] if severity else [])
    assert all(said in each.what for each in found)
