"""What the film's base costs: coating printed beside the film against that under it.

The coating may reach beyond the film, where nothing held the light back. A density
difference there is the base's, in the print; light and time follow from it only where
the slope of the paper is known, as from a step tablet.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from negcurve.reading.margins import Margin, row_medians
from negcurve.values import Finding, FloatArray, ImageSource

BESIDE_MM = (1.0, 3.0)
"""Distance from the film's edge at which both sides are compared. [mm]"""

COATED_MM = 4.5
"""So far beyond the film's edge must the coating reach: it thins towards its own. [mm]
"""

LEAST_RAYS = 25
TOGETHER = 5
"""Neighbouring rays that share streaks of the coating, and count as one. Ours."""

LEAST_STEP, SPREADS, GRADIENTS = 0.015, 4.0, 2.0
"""A step is believed above this density, so many standard errors, and so many times
what the ground changes over the same way under the film. Ours. [D]"""

STEEP = 0.3
"""Slope below which the paper's shoulder hides how much light is meant. Ours. [D/log10]
"""

TABLET_NEAR, LEAST_STEPS = 0.4, 3
"""Density of a tablet up to which its steps tell the slope at the ground, and how many
it takes. [D]"""


@dataclass(frozen=True, kw_only=True)
class FilmEdge:
    """Densities on both sides of the film's edge.

    Attributes
    ----------
    beside, under : float
        Print density without film, and under clear film. [D]
    """

    beside: float
    under: float

    @property
    def step(self) -> float:
        """What the base takes from the print, in density."""
        return self.beside - self.under


def film_edge(found: Sequence[Margin], *, limit: float) -> FilmEdge | None:
    """Compare the coating beside the film with that under it.

    Parameters
    ----------
    found : sequence of Margin
        Sides of the print.
    limit : float
        Light between ground and white.

    Returns
    -------
    FilmEdge or None
        None where no coating lies beside the film, or no step can be told from the
        unevenness there: then the paper has its D-max on both sides, or the film was
        larger than its sheet.
    """
    bands = np.concatenate([_bands(margin, limit) for margin in found])
    if len(bands) < LEAST_RAYS:
        return None
    deep, under, beside = bands.T
    step = float(np.median(beside - under))
    gradient = abs(float(np.median(under - deep)))
    error = float(np.std(beside - under)) * 1.2533 / np.sqrt(len(bands) / TOGETHER)
    if step < max(LEAST_STEP, SPREADS * error, GRADIENTS * gradient):
        return None
    return FilmEdge(beside=float(np.median(beside)), under=float(np.median(under)))


def _bands(margin: Margin, limit: float) -> FloatArray:
    """Return densities deep under, under and beside the film, shape (rays, 3)."""
    out, (near, far) = margin.outwards_mm, BESIDE_MM
    width = far - near
    coated = (out > -far - 2 * width) & (out < COATED_MM)
    if out[0] > -far - 2 * width:
        return np.empty((0, 3))
    whole = np.asarray(margin.light[:, coated] < limit).all(axis=1)
    parts = [
        row_medians(margin.light[whole][:, (out > low) & (out < low + width)])
        for low in (-far - 2 * width, -far, near)
    ]
    return -np.log10(np.maximum(np.stack(parts, axis=1), 1e-6))


def film_edge_findings(edge: FilmEdge | None, source: ImageSource) -> list[Finding]:
    """Report what the film's base takes from the print.

    Parameters
    ----------
    edge : FilmEdge or None
    source : ImageSource
        The scan.

    Returns
    -------
    list of Finding
    """
    if edge is None:
        return []
    return [
        Finding(
            severity="note",
            where=source.name,
            what=f"coating beside the film reads D {edge.beside:.2f}, under clear film "
            f"{edge.under:.2f}: the film's base holds light back",
        )
    ]


def base_findings(
    edge: FilmEdge | None,
    tablet_density: FloatArray,
    density: FloatArray,
    source: ImageSource,
) -> list[Finding]:
    """Say how much exposure the film's base costs, where a tablet tells.

    Parameters
    ----------
    edge : FilmEdge or None
    tablet_density, density : array, shape (n,)
        Of the steps that lay on the same sheet under the same film, and of their
        prints. [D]
    source : ImageSource
        The scan.

    Returns
    -------
    list of Finding
    """
    base = None if edge is None else base_density(edge, tablet_density, density)
    if base is None:
        return []
    share = 1 - 10**-base
    return [
        Finding(
            severity="note",
            where=source.name,
            what=f"the film's base costs about {base:.2f} in log exposure by the step "
            f"tablet: {share:.0%} of the exposure time is lost to it",
        )
    ]


def base_density(
    edge: FilmEdge, tablet_density: FloatArray, density: FloatArray
) -> float | None:
    """Return the film base's density as the process sees it, from a step tablet.

    Parameters
    ----------
    edge : FilmEdge
    tablet_density : array, shape (n,)
        Of the steps that lay on the same sheet under the same film. [D]
    density : array, shape (n,)
        Their prints. [D]

    Returns
    -------
    float or None
        None where too few steps are near the ground, or the paper is nearly at its
        D-max there. An exposure through the base takes 10^density times as long.

    Notes
    -----
    A parabola through the ground, where the tablet has density 0, and the steps near
    it says how far beyond 0 the density beside the film lies. It runs short where the
    shoulder bends faster: by 10 to 15 % on the paper of the tests. Ours.
    """
    near = tablet_density <= TABLET_NEAR
    if near.sum() < LEAST_STEPS:
        return None
    place = np.append(tablet_density[near], 0.0)
    bend, slope, ground = np.polyfit(place, np.append(density[near], edge.under), 2)
    if -slope < STEEP:
        return None
    roots = np.roots([bend, slope, ground - edge.beside])
    beyond = [-float(each.real) for each in roots if each.real < 0 and not each.imag]
    return min(beyond, default=None)
