"""A small solution and checks put together by hand for the tests of the figures."""

import numpy as np
import pytest

from negcurve.density import density_from_lightness, lightness_from_density
from negcurve.readings import Readings
from negcurve.response.aim import Aim
from negcurve.response.ends import Ends
from negcurve.response.response import Response
from negcurve.response.solution import Solution
from negcurve.response.table import LookupTable
from negcurve.response.verdict import Check


def density_of(level: np.ndarray) -> np.ndarray:
    """An invented response: a logistic in level, D 0.07 to 1.38."""
    return 0.05 + 1.35 / (1 + np.exp(-(level - 0.55) * 9))


def made_solution(*, seed: int = 1) -> Solution:
    rng = np.random.default_rng(seed)
    level = np.tile(np.linspace(0, 1, 51), 2)
    density = density_of(level) + rng.normal(0, 0.02, level.size)
    density[30] += 0.2
    flags = [frozenset()] * level.size
    flags[30] = frozenset({"stray"})
    nodes = np.linspace(0, 1, 201)
    error = 0.006 + 0.004 * np.abs(nodes - 0.5)
    response = Response(
        level_nodes=nodes, density_nodes=density_of(nodes), error_nodes=error
    )
    d_min, d_max = float(density_of(nodes[0])), float(density_of(nodes[-1]))
    black = d_min + 0.98 * (d_max - d_min)
    tones = np.linspace(0, 1, 101)
    lightness = np.interp(tones, [0, 1], lightness_from_density([black, d_min]))
    levels = response.negative_level(density_from_lightness(lightness))
    levels[-1] = 0.0
    return Solution(
        table=LookupTable(tone_nodes=tones, level_nodes=levels),
        response=response,
        aim=Aim(
            name="lightness",
            tone_nodes=np.array([0.0, 1.0]),
            density_nodes=np.array([black, d_min]),
        ),
        ends=Ends(
            d_min=d_min,
            d_max=d_max,
            black_density=black,
            white_density=d_min,
            black_share=0.98,
            black_level=float(levels[0]),
            white_level=0.0,
        ),
        readings=(Readings(negative_level=level, density=density, flags=tuple(flags)),),
        noise=0.02,
    )


def made_check(*, offset: float = 0.01) -> Check:
    made = made_solution()
    tone = np.linspace(0, 1, 51)
    aim = made.aim.density(tone)
    wave = offset + 0.02 * np.sin(9 * tone)
    return Check(
        image_tone=tone,
        printed_density=aim + wave,
        aim_density=aim,
        standard_error=np.full(51, 0.008),
        sheet_error=0.03,
        sheet_error_verified=False,
        offset=offset,
        offset_error=0.03,
        chi_square=1.1,
        real=False,
        verdict="accept",
        advice="The print differs from its aim by no more than a new sheet does.",
        sheet="check-1",
    )


@pytest.fixture(scope="session")
def solution() -> Solution:
    return made_solution()


@pytest.fixture(scope="session")
def check() -> Check:
    return made_check()


@pytest.fixture(scope="session")
def check_far_off() -> Check:
    return made_check(offset=0.3)
