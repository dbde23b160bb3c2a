"""The lookup table: which negative level prints which image tone.

Knows the table alone; the picture's encoding and the composed code map are left to
`negcurve.negative`.
"""

import hashlib
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from negcurve.errors import InvalidValueError
from negcurve.response.aim import Aim
from negcurve.response.ends import Ends
from negcurve.response.response import Response
from negcurve.values import FloatArray, frozen

NODES = 513
"""Nodes of a solved table."""

TILT = 1e-6
"""Share of a straight line mixed into a table, so that it falls even on flats; some
hundredth of a 16-bit code."""


@dataclass(frozen=True, eq=False, kw_only=True)
class LookupTable:
    """Image tone -> negative level; the inversion is inside, so the level falls.

    Attributes
    ----------
    tone_nodes : array, shape (n,)
        Image tones, strictly increasing from 0 to 1. [1]
    level_nodes : array, shape (n,)
        Negative levels, strictly falling within 0..1. [1]
    """

    tone_nodes: FloatArray
    level_nodes: FloatArray

    def __post_init__(self) -> None:
        for name in ("tone_nodes", "level_nodes"):
            object.__setattr__(self, name, frozen(getattr(self, name), name))
        tone, level = self.tone_nodes, self.level_nodes
        if len(tone) != len(level) or len(tone) < 2:
            raise InvalidValueError(
                f"{len(tone)} tones and {len(level)} levels", where="lookup table"
            )
        if tone[0] != 0 or tone[-1] != 1 or not (np.diff(tone) > 0).all():
            raise InvalidValueError("must rise from 0 to 1", where="tone_nodes")
        if not (np.diff(level) < 0).all() or level[0] > 1 or level[-1] < 0:
            raise InvalidValueError("must fall within 1..0", where="level_nodes")

    def negative_level(self, image_tone: npt.ArrayLike) -> FloatArray:
        """Return the negative level for each image tone.

        Parameters
        ----------
        image_tone : array, any shape
            0 black to 1 white; values beyond are taken as the nearer end. [1]

        Returns
        -------
        array, same shape
            Linear between nodes. [1]
        """
        tone = np.asarray(image_tone, dtype=np.float64)
        return np.asarray(np.interp(tone, self.tone_nodes, self.level_nodes))

    @property
    def identity(self) -> str:
        """Eight hex digits of the nodes."""
        nodes = np.stack([self.tone_nodes, self.level_nodes]).astype("<f8")
        return hashlib.sha256(nodes.tobytes()).hexdigest()[:8]


def make_table(response: Response, aim: Aim, ends: Ends) -> LookupTable:
    """Make the table: for each image tone the level that prints the aim's density.

    Parameters
    ----------
    response : Response
    aim : Aim
        Within what the response reaches.
    ends : Ends
        Tones at the ends get the level of the end that is nearest the slope.

    Returns
    -------
    LookupTable
    """
    tone = np.linspace(0, 1, NODES)
    low, high = response.density_nodes[[0, -1]]
    level = response.negative_level(np.clip(aim.density(tone), low, high))
    level = np.clip(level, ends.white_level, ends.black_level)
    level = np.minimum.accumulate(level)
    straight = np.linspace(level[0], level[-1], NODES)
    return LookupTable(
        tone_nodes=tone, level_nodes=(1 - TILT) * level + TILT * straight
    )
