"""What is told about the tones of a picture."""

import numpy as np
import pytest

from negcurve.density import density_from_lightness
from negcurve.negative.tally import Tally, tones_used
from negcurve.response.aim import Aim
from negcurve.response.ends import Ends
from negcurve.response.response import Response
from negcurve.response.solution import Solution
from negcurve.response.table import LookupTable


def solution(*, steep: bool = False) -> Solution:
    """L* runs straight from 20 to 95 over image tone; the response does the rest."""
    tone = np.linspace(0, 1, 257)
    density = density_from_lightness(20 + 75 * tone)
    level = 1 - 0.8 * tone if not steep else 0.6 - 0.1 * tone
    return Solution(
        table=LookupTable(tone_nodes=tone, level_nodes=level),
        response=Response(
            level_nodes=level[::-1],
            density_nodes=density[::-1],
            error_nodes=np.full(257, 0.01),
        ),
        aim=Aim(name="lightness", tone_nodes=tone, density_nodes=density),
        ends=Ends(
            d_min=density[-1],
            d_max=density[0],
            black_density=density[0],
            white_density=density[-1],
            black_share=1.0,
            black_level=level[0],
            white_level=level[-1],
        ),
    )


def tally(counts: dict[int, int], *, grey: bool = True) -> Tally:
    codes = 256
    filled = np.zeros(codes, np.int64)
    filled[list(counts)] = list(counts.values())
    tone = np.linspace(0, 1, codes)
    greys = tone[filled > 0] if grey else np.empty(0)
    return Tally(tone=tone, counts=filled, greys=greys)


def test_shares_and_range() -> None:
    used = tones_used(tally({0: 10, 51: 70, 255: 20}))
    assert (used.tone_low, used.tone_high) == (0.0, 1.0)
    assert (used.share_black, used.share_white) == (0.1, 0.2)
    assert used.counted_pixels == 100
    assert np.isnan(used.share_first)


def test_range_is_where_pixels_are() -> None:
    used = tones_used(tally({51: 3, 102: 1}))
    assert (used.tone_low, used.tone_high) == (0.2, 0.4)
    assert (used.share_black, used.share_white) == (0.0, 0.0)


def test_share_within_one_lightness_of_the_ends() -> None:
    # 75 L* over 255 codes: one L* is 3.4 codes.
    used = tones_used(tally({0: 1, 3: 1, 4: 1, 128: 5, 251: 1, 252: 1}), solution())
    assert used.share_first == pytest.approx(0.2)
    assert used.share_last == pytest.approx(0.1)
    assert {each.severity for each in used.findings} == {"note"}
    assert "20 % of its pixels print within 1 L* of black" in used.findings[0].what


def test_densities_are_counted_between_the_ends() -> None:
    used = tones_used(tally({0: 4, 255: 6}), solution())
    assert used.density_counts.sum() == 10
    assert used.density_counts[0] == 6
    assert used.density_counts[-1] == 4
    np.testing.assert_allclose(
        used.density_edges[[0, -1]], density_from_lightness([95.0, 20.0])
    )


def test_a_stretched_source_is_a_risk_of_banding() -> None:
    spread = {code: 10 for code in range(0, 256, 8)}  # 2.35 L* apart in the print
    (warning,) = [
        each
        for each in tones_used(tally(spread), solution()).findings
        if each.severity == "warning"
    ]
    assert warning.where == "picture"
    assert "32 different greys; 100 % of its pixels" in warning.what
    assert "more than 1 L* apart (up to 2.4)" in warning.what
    assert "16-bit original" in warning.fix


def test_greys_of_an_eight_bit_colour_picture_may_band_as_well() -> None:
    # 40 greys that the file can hold; the pixels lie between them, mixed from colours.
    tone = np.linspace(0, 1, 4097)
    kept = Tally(
        tone=tone,
        counts=np.full(4097, 10, np.int64),
        greys=np.concatenate([np.linspace(0, 0.5, 36), [0.6, 0.7, 0.8, 1.0]]),
    )
    (warning,) = [
        each for each in tones_used(kept, solution()).findings if "bands" in each.what
    ]
    assert "100 % of its pixels" in warning.what
    assert "(up to 15.0)" in warning.what


def test_no_banding_from_full_codes_nor_from_mixed_light() -> None:
    full = {code: 10 for code in range(256)}
    spread = {code: 10 for code in range(0, 256, 8)}
    for each in (tally(full), tally(spread, grey=False)):
        findings = tones_used(each, solution()).findings
        assert [one for one in findings if one.severity == "warning"] == []


def test_a_steep_table_is_a_risk_of_banding_in_eight_bit_drivers() -> None:
    # 75 L* over a tenth of the level: 2.9 L* for 1/255.
    full = tally({code: 10 for code in range(256)})
    (warning,) = [
        each
        for each in tones_used(full, solution(steep=True)).findings
        if each.severity == "warning"
    ]
    assert warning.where == "table"
    assert "prints 2.9 L* apart" in warning.what
