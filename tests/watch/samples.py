"""A small solution and strips of it, put together by hand."""

import numpy as np

from negcurve.density import density_from_lightness, lightness_from_density
from negcurve.readings import Readings
from negcurve.response.aim import Aim
from negcurve.response.ends import Ends
from negcurve.response.response import Response
from negcurve.response.solution import Solution
from negcurve.response.table import LookupTable


def density_of(level):
    """An invented response: a logistic in level, D 0.06 to 1.38."""
    return 0.05 + 1.35 / (1 + np.exp(-(np.asarray(level) - 0.55) * 9))


def made_solution(*, source="scan.tif", notes=None) -> Solution:
    nodes = np.linspace(0, 1, 101)
    density = density_of(nodes)
    tones = np.linspace(0, 1, 51)
    black = density[0] + 0.98 * (density[-1] - density[0])
    lightness = np.interp(tones, [0, 1], lightness_from_density([black, density[0]]))
    response = Response(
        level_nodes=nodes, density_nodes=density, error_nodes=np.full(101, 0.006)
    )
    levels = response.negative_level(density_from_lightness(lightness))
    levels[-1] = 0.0
    level = np.tile(np.linspace(0, 1, 26), 2)
    noisy = density_of(level) + np.random.default_rng(1).normal(0, 0.015, 52)
    return Solution(
        table=LookupTable(tone_nodes=tones, level_nodes=levels),
        response=response,
        aim=Aim(name="lightness", tone_nodes=[0, 1], density_nodes=[black, density[0]]),
        ends=Ends(
            d_min=float(density[0]),
            d_max=float(density[-1]),
            black_density=float(black),
            white_density=float(density[0]),
            black_share=0.98,
            black_level=float(levels[0]),
            white_level=0.0,
        ),
        readings=(Readings(negative_level=level, density=noisy, source=source),),
        noise=0.015,
        notes=dict(notes or {}),
    )


def made_strip(solution, *, seed=0, shift=0.0, **changes) -> Readings:
    """A print of eleven tones through the table; `shift` is in negative level."""
    rng = np.random.default_rng(seed)
    tone = np.linspace(0, 1, 11)
    level = solution.table.negative_level(tone)
    density = density_of(level + shift) + rng.normal(0, 0.01, 11)
    values = {
        "negative_level": level,
        "density": density,
        "image_tone": tone,
        "sheet": f"strip-{seed}",
        "table": solution.table.identity,
    }
    return Readings(**{**values, **changes})
