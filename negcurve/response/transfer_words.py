"""What a prediction from strips and film data says of itself, in sentences."""

from collections.abc import Sequence

import numpy as np

from negcurve.curves.composed import ComposedFit
from negcurve.density import lightness_from_density, lightness_slope
from negcurve.readings import Readings
from negcurve.response.film import STOP, FilmData
from negcurve.response.paper import PaperCurve
from negcurve.response.response import Response
from negcurve.values import Finding

NINETY = 1.645
"""Standard errors to either side that hold 90 % of a normal distribution."""

TONES = 101
"""Even tones over which a band is looked at."""

WIDE = 3.0
"""Half of the band from which a prediction is called a first guess. [L*]"""

HALF = 0.7
"""Share of the standard error above which one part makes half of the variance."""


def strip_findings(
    strips: Sequence[Readings],
    fit: ComposedFit,
    *,
    fall: float | None,
    both_ways: bool,
) -> list[Finding]:
    """Say what the strips tell of the light along them.

    Parameters
    ----------
    strips : sequence of Readings
        Those that are not turned.
    fit : ComposedFit
        With the effect `fall`, unless it was stated.
    fall : float or None
        As it was stated.
    both_ways : bool
        Whether strips lay head to tail.

    Returns
    -------
    list of Finding
    """
    found = []
    if any((~each.on_tablet).any() for each in strips):
        found.append(
            Finding(
                severity="note",
                where="strips",
                what="holds patches of a target as well, which were not used",
                fix="Solve it without --tablet: its patches say more than the strip.",
            )
        )
    if fall is not None:
        return found
    if not both_ways:
        found.append(
            Finding(
                severity="warning",
                where="strips",
                what="strips that lie one way cannot tell a fall of the light from a "
                "tone; the band allows for some 5 % from end to end",
                fix="Lay two strips head to tail (--turned), or state the fall "
                "(--fall).",
            )
        )
        return found
    share = 1 - 10 ** float(fit.coefficients["fall"][0])
    error = float(fit.coefficient_errors["fall"][0]) * np.log(10) * (1 - share)
    found.append(
        Finding(
            severity="note",
            where="strips",
            what=f"light falls by {share:.1%} +-{error:.1%} from clear to dense "
            "end of the strip that is not turned; taken off",
        )
    )
    return found


def film_findings(
    film: FilmData, response: Response, paper: PaperCurve, stops: float
) -> tuple[Finding, ...]:
    """Say how sure a prediction is, what makes it unsure, and where it ends.

    Parameters
    ----------
    film : FilmData
    response : Response
        Predicted.
    paper : PaperCurve
        From the strips.
    stops : float
        More exposure than the strips had. [stops]

    Returns
    -------
    tuple of Finding
    """
    band = _band(response)
    more = f", for {stops:+z.2f} stop more exposure than theirs" if stops else ""
    found = [
        Finding(
            severity="warning",
            where="prediction",
            what=f"the table is predicted from tablet strips and film data{more}; "
            f"nothing was printed through it yet; 90 % band on printed L* +-{band:.1f}",
            fix="Print a target through it, check, and solve with that print.",
        )
    ]
    if band > WIDE:
        found.append(_wide(film, response, paper, stops))
    if response.domain[0] > film.level_nodes[0]:
        found.append(
            Finding(
                severity="warning",
                where="white",
                what=f"film data are too unsure below level {response.domain[0]:.3f}, "
                f"so the lightest tone is D {response.density_nodes[0]:.2f}",
                fix="Measure the film with a longer exposure or a paper of longer "
                "scale.",
            )
        )
    return tuple(found)


def _band(response: Response) -> float:
    """Half of the 90 % band of printed lightness, its median over even tones."""
    error = response.error_nodes * np.abs(lightness_slope(response.density_nodes))
    lightness = lightness_from_density(response.density_nodes)[::-1]
    tones = np.linspace(lightness[0], lightness[-1], TONES)
    return float(np.median(NINETY * np.interp(tones, lightness, error[::-1])))


def _wide(
    film: FilmData, response: Response, paper: PaperCurve, stops: float
) -> Finding:
    """Say that a prediction is a first guess, and which data make it so."""
    x = stops * STOP - film.density(response.level_nodes)
    of_film = paper.slope(x) * film.standard_error(response.level_nodes)
    film_share = float(np.median(of_film / np.maximum(response.error_nodes, 1e-9)))
    if film_share > HALF:
        what = "mostly by what is unsure of the film: the light where its tablet lay"
        fix = (
            "Print the film's target with the tablet a second time and give both "
            "prints to `negcurve film`"
        )
    else:
        what = "mostly by the strips"
        fix = "Print two strips head to tail (--turned), over clear film"
    return Finding(
        severity="warning",
        where="band",
        what=f"the prediction is a first guess: unsure beyond {WIDE:g} L*, {what}",
        fix=fix,
    )
