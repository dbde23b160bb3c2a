"""The step wedge of a scan, for `read`: its list, and the scan set right by it."""

from pathlib import Path

import numpy as np

from negcurve.encoding import Encoding
from negcurve.errors import ReadingsError
from negcurve.files.pictures import is_untagged
from negcurve.files.steps_csv import Steps, read_steps
from negcurve.reading.placing import Placed
from negcurve.reading.wedge import FEWEST_STEPS, WedgeReading, read_wedge
from negcurve.reading.wedge_place import BOX
from negcurve.tasks.scan_encoding import scan_encoding
from negcurve.values import Finding, ImageSource


def wedge_list(path: Path | str) -> Steps:
    """Read the densities of a reflection wedge.

    Parameters
    ----------
    path : path
        CSV `step,density`, in the order in which the steps lie, from either end.

    Returns
    -------
    Steps
        The lightest first.

    Raises
    ------
    FileError
        If the file cannot be read.
    ReadingsError
        If there are too few steps, or they do not darken from one end to the other.
    """
    steps = read_steps(path)
    change = np.diff(steps.density)
    if len(steps.density) < FEWEST_STEPS:
        raise ReadingsError(
            f"has {len(steps.density)} steps, {FEWEST_STEPS} are needed at least",
            where=steps.source,
            fix="List every step of the wedge: step,density.",
        )
    if not ((change > 0).all() or (change < 0).all()):
        rising = change.sum() > 0
        place = int(np.flatnonzero(change <= 0 if rising else change >= 0)[0])
        one, other = steps.step[place], steps.step[place + 1]
        raise ReadingsError(
            f"step {other} (D {steps.density[place + 1]:g}) is not "
            f"{'darker' if rising else 'lighter'} than step {one} "
            f"(D {steps.density[place]:g}) before it",
            where=steps.source,
            fix="List the steps in the order in which they lie, each with its density.",
        )
    if change[0] > 0:
        return steps
    return Steps(
        step=steps.step[::-1], density=steps.density[::-1], source=steps.source
    )


def scan_light(
    source: ImageSource,
    placed: Placed,
    *,
    steps: Steps | None,
    box_px: BOX | None = None,
    profile: Path | str | None = None,
    gamma: float | None = None,
) -> tuple[Encoding, WedgeReading | None, tuple[Finding, ...]]:
    """Say how a scan stands for light, by a wedge in it if there is to be one.

    Parameters
    ----------
    source : ImageSource
        The scan.
    placed : Placed
        The print in it.
    steps : Steps or None
        Of the wedge.
    box_px : (left, top, width, height), optional
        Where the wedge lies. [px]
    profile, gamma
        As for `scan_encoding`; not needed with a wedge.

    Returns
    -------
    encoding : Encoding
    wedge : WedgeReading or None
    findings : tuple of Finding
        What was assumed.
    """
    told = not is_untagged(source) or profile is not None or gamma is not None
    if steps is None or told:
        encoding, about = scan_encoding(source, profile=profile, gamma=gamma)
        if steps is None:
            return encoding, None, about
    else:
        encoding, about = None, ()
    wedge = read_wedge(
        source,
        placed,
        steps.density,
        encoding=encoding,
        box_px=box_px,
        name=steps.source,
    )
    return wedge.encoding, wedge, about
